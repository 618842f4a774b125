"""Who keeps the clock right is the system's to say."""

from __future__ import annotations

import ctypes
import sys

import pytest

from mixclock.outside import clock
from mixclock.outside.clock import is_network_time


class Kernel:
    """A kernel that answers as adjtimex(2) documents: 0 to 4 where the clock is kept, 5 where it is not, -1 refused."""

    def __init__(self, answer: int) -> None:
        self.answer = answer

    def adjtimex(self, room: object) -> int:
        return self.answer


@pytest.mark.skipif(sys.platform != "linux", reason="not installed: Linux")
def test_this_machine_says_yes_or_no() -> None:
    assert is_network_time() in (True, False)


@pytest.mark.parametrize(("answer", "kept"), [(0, True), (1, True), (4, True), (5, False), (-1, None)])
def test_only_a_clock_that_the_kernel_calls_synchronised_is_trusted(
    monkeypatch: pytest.MonkeyPatch, answer: int, kept: bool | None
) -> None:
    monkeypatch.setattr(clock.sys, "platform", "linux")
    monkeypatch.setattr(ctypes, "CDLL", lambda _: Kernel(answer))
    assert is_network_time() is kept


def test_elsewhere_nothing_is_claimed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock.sys, "platform", "win32")
    assert is_network_time() is None
