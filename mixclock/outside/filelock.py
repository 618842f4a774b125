"""Lets one process in at a time, by a lock on a file. The system frees the lock however the process ends."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path

from mixclock.outside.clock import Clock

_LOOK_AGAIN_S = 0.02


class LockTakenError(Exception):
    """Another process holds the lock."""


@contextlib.contextmanager
def held(path: Path, clock: Clock, wait_s: float = 0.0) -> Iterator[int]:
    """Hold the lock on a file while the block runs. Gives the open file. Raises `LockTakenError` after `wait_s`."""
    number = os.open(path, os.O_CREAT | os.O_RDWR, 0o600)
    try:
        _wait_for(number, path, clock, wait_s)
        yield number
    finally:
        os.close(number)


def _wait_for(number: int, path: Path, clock: Clock, wait_s: float) -> None:
    until_s = clock.monotonic_s() + wait_s
    while not try_lock(number):
        if clock.monotonic_s() >= until_s:
            raise LockTakenError(f"{path} is held by another process")
        clock.sleep(_LOOK_AGAIN_S)


if sys.platform == "win32":
    import msvcrt

    def try_lock(number: int) -> bool:
        """Take the lock on an open file; False where another process holds it."""
        try:
            msvcrt.locking(number, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def try_lock(number: int) -> bool:
        """Take the lock on an open file; False where another process holds it."""
        try:
            fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
