"""One daemon at a time for a book: two would call everything out twice."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

from mixclock.job.saying import CannotTellError
from mixclock.outside.clock import Clock
from mixclock.outside.filelock import LockTakenError, held

LOCK_NAME, PID_NAME = "watch.lock", "watch.pid"


class AnotherWatchesError(CannotTellError):
    """Another daemon watches this book; the message is one line."""


@contextlib.contextmanager
def only_one(home: Path, clock: Clock) -> Iterator[None]:
    """Be the one daemon of this home while the block runs. The system lets the lock go however this process ends."""
    home.mkdir(mode=0o700, parents=True, exist_ok=True)
    pid_file = home / PID_NAME
    try:
        with held(home / LOCK_NAME, clock):
            pid_file.write_text(f"{os.getpid()}\n", encoding="ascii")
            yield
            pid_file.unlink(missing_ok=True)
    except LockTakenError as error:
        raise AnotherWatchesError(
            f"{home}: a watch runs here already (process {_pid(pid_file)}); use that one, or end it first"
        ) from error


def is_watched(home: Path) -> bool:
    """Whether a daemon that wrote its number here still runs. It only looks: asking for the lock would keep one out."""
    number = _pid(home / PID_NAME)
    if not number.isdecimal():
        return False
    if os.name == "nt":
        return True  # asking whether a process lives would end it there; what is left of a crash is told by `watch`
    try:
        os.kill(int(number), 0)
    except (OSError, OverflowError) as error:
        return isinstance(error, PermissionError)
    return True


def _pid(pid_file: Path) -> str:
    try:
        return pid_file.read_text(encoding="ascii").strip() or "unknown"
    except OSError:
        return "unknown"
