"""The pedal in the terminal of `mixclock watch`: a real process on a real terminal, keys as a pedal types them."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from tests.watch.sheds import CLOCK, Shed, in_time

pytestmark = [
    pytest.mark.usefixtures("profiles_of_home"),
    pytest.mark.skipif(sys.platform == "win32", reason="not installed: a terminal of this kind"),
]


class Terminal:
    """A terminal with a daemon in it, and all that it printed."""

    def __init__(self, shed: Shed, *options: str) -> None:
        import fcntl
        import termios

        self.here, there = os.openpty()
        words = [sys.executable, "-m", "mixclock.cli", "watch", "--plain", "--no-sound", "--no-board", *options]
        self.process = subprocess.Popen(
            words, stdin=there, stdout=there, stderr=there, env=shed.env, cwd=shed.home, start_new_session=True,
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
        )  # fmt: skip
        os.close(there)
        self.printed = ""
        threading.Thread(target=self._read, daemon=True).start()

    def type(self, keys: str) -> None:
        """Keys go in."""
        os.write(self.here, keys.encode())

    def hold(self, key: str) -> None:
        """A foot stays on it: the key comes, and after half a second over and over."""
        self.type(key)
        CLOCK.sleep(0.5)
        for _ in range(12):
            self.type(key)
            CLOCK.sleep(0.04)

    def takes_keys(self) -> bool:
        """Whether a key arrives without a return behind it."""
        import termios

        return not termios.tcgetattr(self.here)[3] & termios.ICANON

    def shows(self, words: str, limit_s: float = 20.0) -> None:
        """Wait until something is printed."""
        assert in_time(lambda: words in self.printed, limit_s), f"'{words}' was not printed: {self.printed}"

    def _read(self) -> None:
        with contextlib.suppress(OSError):
            while told := os.read(self.here, 4096):
                self.printed += told.decode("utf-8", "replace")


@pytest.fixture
def terminal(make_shed: Callable[..., Any]) -> Iterator[tuple[Shed, Terminal]]:
    """A bucket stands mixed, and a daemon watches whose pedal types a b."""
    shed = make_shed("600 s", mixing="1 s")
    shed.mix(ago_s=5.0)
    shown = Terminal(shed, "--pedal", "b")
    try:
        shown.shows("Press n here")
        assert in_time(shown.takes_keys, 20.0), "the terminal hands over each key by itself"
        yield shed, shown
    finally:
        shown.process.send_signal(signal.SIGTERM)
        shown.process.wait(20)
        os.close(shown.here)


def test_a_press_states_the_next_step_and_a_hold_says_what_is_next(terminal: tuple[Shed, Terminal]) -> None:
    shed, shown = terminal
    shown.type("bb")  # it bounces
    shown.shows("Batch 1 poured, ")
    assert len(shed.facts("poured")) == 1
    shown.hold("b")
    shown.shows("Nothing is due." if "Next " not in shown.printed else "Next ")
    CLOCK.sleep(0.4)
    shown.hold("b")
    shown.shows("Hold once more to take back: Batch 1 poured, ")
    assert shed.facts("withdrawn") == []
    CLOCK.sleep(0.4)
    shown.hold("b")
    shown.shows("Taken back: Batch 1 poured, ")
    assert len(shed.facts("withdrawn")) == 1
    shown.type("n")
    shown.shows("Next kit: ")
    assert in_time(lambda: len(shed.facts("kit asked")) == 1, 5.0), "who asks is asked again by itself"


def test_the_pedal_never_mixes_and_the_terminal_is_whole_again_afterwards(terminal: tuple[Shed, Terminal]) -> None:
    import termios

    shed, shown = terminal
    shown.type("b")
    shown.shows("Batch 1 poured, ")
    CLOCK.sleep(1.6)
    shown.type("b")
    shown.shows("Not by the button: B's in")
    assert len(shed.facts("combined")) == 1
    assert not termios.tcgetattr(shown.here)[3] & termios.ICANON
    shown.process.send_signal(signal.SIGINT)
    assert shown.process.wait(20) == 0
    assert termios.tcgetattr(shown.here)[3] & termios.ICANON
