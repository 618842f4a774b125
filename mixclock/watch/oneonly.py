"""One daemon at a time for a book: two would call everything out twice."""

from __future__ import annotations

import contextlib
import os
import signal
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

from mixclock.job.saying import CannotTellError
from mixclock.outside.clock import Clock
from mixclock.outside.filelock import LockTakenError, held
from mixclock.outside.home import beside_the_disk

LOCK_NAME, PID_NAME = "watch.lock", "watch.pid"
ENDS_WITHIN_S = 20.0
_LOCKS_FILE = Path("/proc/locks")


class AnotherWatchesError(CannotTellError):
    """Another daemon watches this book; the message is one line."""


class Post(NamedTuple):
    """A watch at its post: whether it is surely the only one, and a line about a lock that it could not get."""

    trouble: str | None = None
    is_alone: bool = True


@contextlib.contextmanager
def only_one(home: Path, clock: Clock) -> Iterator[Post]:
    """Be the one daemon of this home while the block runs. The result tells where that is not sure.

    The system frees the lock however this process ends. A full or read-only disk stops no watch: a second lock lies
    in memory. Where neither lock can be had, the result says that another watch may run.
    """
    with contextlib.ExitStack() as stack:
        in_memory = _tried(lambda: _take(stack, beside_the_disk(home, "lock"), home, clock, is_kept=False))
        trouble = _tried(lambda: _take(stack, home / LOCK_NAME, home, clock))
        is_alone = trouble is None or in_memory is None
        stack.callback(_forget, home / PID_NAME)
        trouble = trouble or _tried(lambda: _write_pid(home / PID_NAME))
        doubt = "" if is_alone else ". Another watch may run too: calls may come twice"
        yield Post(f"{trouble}; watching all the same{doubt}" if trouble else None, is_alone)


def _tried(work: Callable[[], object]) -> str | None:
    """What the system refused, in a line."""
    try:
        work()
    except OSError as error:
        return f"{error.filename or 'the disk'}: {error.strerror or error}"
    return None


def _write_pid(path: Path) -> None:
    path.write_text(f"{os.getpid()}\n", encoding="ascii")


def _take(stack: contextlib.ExitStack, lock: Path, home: Path, clock: Clock, is_kept: bool = True) -> None:
    if is_kept:
        home.mkdir(mode=0o700, parents=True, exist_ok=True)
    try:
        stack.enter_context(held(lock, clock))
    except LockTakenError as error:
        raise AnotherWatchesError(
            f"{home}: a watch runs here already (process {_pid(home) or 'unknown'}); use that one, "
            "or end it with `mixclock watch --stop`"
        ) from error
    if not is_kept:
        stack.callback(_forget, lock)


def is_watched(home: Path) -> bool:
    """Whether a daemon that wrote its number here still runs. This takes no lock: that would keep a daemon out."""
    number = _pid(home)
    if number is None:
        return False
    if os.name == "nt":
        return True  # on Windows this question would end the process; `watch` itself reports what a crash left
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
        raise CannotTellError(f"{home}: a watch runs here, but its process is not known; press Ctrl-C in its terminal")
    os.kill(pid, signal.SIGTERM)
    until_s = clock.monotonic_s() + ENDS_WITHIN_S
    while _is_held(home, clock):
        if clock.monotonic_s() >= until_s:
            raise CannotTellError(f"the watch (process {pid}) does not end; end that process")
        clock.sleep(0.1)
    return pid


def _is_held(home: Path, clock: Clock) -> bool:
    return any(_is_taken(lock, clock) for lock in _locks(home))


def _locks(home: Path) -> tuple[Path, Path]:
    return home / LOCK_NAME, beside_the_disk(home, "lock")


def _is_taken(lock: Path, clock: Clock) -> bool:
    if not lock.is_file():
        return False
    try:
        with held(lock, clock):
            return False
    except LockTakenError:
        return True
    except OSError:
        return False  # nobody who cannot open it can hold the lock


def _forget(pid_file: Path) -> None:
    with contextlib.suppress(OSError):
        pid_file.unlink(missing_ok=True)


def _pid(home: Path) -> int | None:
    """The process that watches here: by the system's list of locks, else by what it wrote down."""
    for lock in _locks(home):
        with contextlib.suppress(OSError, ValueError, IndexError):
            return _holder(lock)
    try:
        return int((home / PID_NAME).read_text(encoding="ascii"))
    except (OSError, ValueError):
        return None


def _holder(lock: Path) -> int:
    inode = f":{lock.stat().st_ino}"
    lines = [line.split() for line in _LOCKS_FILE.read_text(encoding="ascii").splitlines()]
    holders = [int(words[4]) for words in lines if words[1] == "FLOCK" and words[5].endswith(inode)]
    return holders[0]
