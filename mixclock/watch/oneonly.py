"""One daemon at a time for a book: two would call everything out twice."""

from __future__ import annotations

import contextlib
import os
import signal
from collections.abc import Iterator
from pathlib import Path

from mixclock.job.saying import CannotTellError
from mixclock.outside.clock import Clock
from mixclock.outside.filelock import LockTakenError, held

LOCK_NAME, PID_NAME = "watch.lock", "watch.pid"
ENDS_WITHIN_S = 20.0
_LOCKS_FILE = Path("/proc/locks")


class AnotherWatchesError(CannotTellError):
    """Another daemon watches this book; the message is one line."""


@contextlib.contextmanager
def only_one(home: Path, clock: Clock) -> Iterator[str | None]:
    """Be the one daemon of this home while the block runs; gives a line where that could not be made sure.

    The system lets the lock go however this process ends. A disk that is full or may not be written stops no watch.
    """
    pid_file = home / PID_NAME
    with contextlib.ExitStack() as stack:
        trouble = None
        try:
            home.mkdir(mode=0o700, parents=True, exist_ok=True)
            stack.enter_context(held(home / LOCK_NAME, clock))
            stack.callback(_forget, pid_file)
            pid_file.write_text(f"{os.getpid()}\n", encoding="ascii")
        except LockTakenError as error:
            raise AnotherWatchesError(
                f"{home}: a watch runs here already (process {_pid(home) or 'unknown'}); use that one, "
                "or end it with `mixclock watch --stop`"
            ) from error
        except OSError as error:
            trouble = f"{error.filename or home}: {error.strerror or error}; watching all the same"
        yield trouble


def is_watched(home: Path) -> bool:
    """Whether a daemon that wrote its number here still runs. It only looks: asking for the lock would keep one out."""
    number = _pid(home)
    if number is None:
        return False
    if os.name == "nt":
        return True  # asking whether a process lives would end it there; what is left of a crash is told by `watch`
    try:
        os.kill(number, 0)
    except (OSError, OverflowError) as error:
        return isinstance(error, PermissionError)
    return True


def stop_watch(home: Path, clock: Clock) -> int:
    """End the watch of this home in order; gives its process id. Refused where none runs or it does not end."""
    if not _is_held(home, clock):
        raise CannotTellError(f"{home}: no watch runs here; `mixclock watch` starts one")
    pid = _pid(home)
    if pid is None:
        raise CannotTellError(f"{home}: a watch runs here, but which process it is is not known; end it by Ctrl-C")
    os.kill(pid, signal.SIGTERM)
    until_s = clock.monotonic_s() + ENDS_WITHIN_S
    while _is_held(home, clock):
        if clock.monotonic_s() >= until_s:
            raise CannotTellError(f"the watch (process {pid}) does not end; end that process")
        clock.sleep(0.1)
    return pid


def _is_held(home: Path, clock: Clock) -> bool:
    if not (home / LOCK_NAME).exists():
        return False
    try:
        with held(home / LOCK_NAME, clock):
            return False
    except LockTakenError:
        return True


def _forget(pid_file: Path) -> None:
    with contextlib.suppress(OSError):
        pid_file.unlink(missing_ok=True)


def _pid(home: Path) -> int | None:
    """The process that watches here: by the system's list of locks, else by what it wrote down."""
    try:
        return _holder(home / LOCK_NAME)
    except (OSError, ValueError, IndexError):
        pass
    try:
        return int((home / PID_NAME).read_text(encoding="ascii"))
    except (OSError, ValueError):
        return None


def _holder(lock: Path) -> int:
    inode = f":{lock.stat().st_ino}"
    lines = [line.split() for line in _LOCKS_FILE.read_text(encoding="ascii").splitlines()]
    holders = [int(words[4]) for words in lines if words[1] == "FLOCK" and words[5].endswith(inode)]
    return holders[0]
