"""What cannot be meant is one line and changes nothing."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.running import Ran

Run = Callable[..., Ran]


@pytest.mark.parametrize("ago", ["1e30 d", "999999999 d", "4000000 d"])
def test_longer_ago_than_anything_is_refused_in_one_line(studio: Run, ago: str) -> None:
    done = studio("noted", "heater lit", "--ago", ago)
    assert done.code == 2
    assert len(done.err.splitlines()) == 1
    assert "Traceback" not in done.err


def test_a_file_that_never_ends_is_no_picture(studio: Run, home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(home)
    os.mkfifo(home / "pipe")
    for path in ("/dev/zero", "pipe", "."):
        done = studio("photo", path)
        assert done.code == 2
        assert len(done.err.splitlines()) == 1
