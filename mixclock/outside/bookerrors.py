"""The errors of the book, each as one line that says what is wrong, where, and how to mend it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from mixclock.job.mistakes import quoted
from mixclock.job.saying import CannotTellError


class BookError(Exception):
    """The book cannot be used as asked; nothing was changed."""


class ShutError(BookError):
    """The disk lets nobody open the book, or write to it. It may still be readable."""


class DiskFullError(ShutError):
    """There is no room for another entry."""


class NoRoomError(BookError):
    """There is no room for a copy of the book. The book itself is sound."""


class HeldError(BookError):
    """Another program holds the book, and may let it go any moment."""


@contextmanager
def said_plainly(path: Path) -> Iterator[None]:
    """Turn what SQLite and the system say into one line for a person."""
    try:
        yield
    except sqlite3.Error as error:
        raise _plain(str(error), path) from error
    except UnicodeDecodeError as error:  # SQLite quotes broken letters of the file
        raise _plain("malformed", path) from error
    except OSError as error:
        reason = error.strerror or str(error)
        raise BookError(f"{path}: {reason}; set MIXCLOCK_HOME to a folder that you may write to") from error


def _plain(said: str, path: Path) -> BookError:
    """The trouble that SQLite's words stand for.

    `disk I/O error` and `unable to open` are what a full disk says when the book is opened anew: the small index
    beside the log cannot be made.
    """
    if "disk is full" in said:
        return DiskFullError(f"{path}: the disk is full and nothing was written; free some space and say it again")
    if "readonly" in said or "read-only" in said:
        return ShutError(f"{path}: the book may not be written to; nothing was written, mend the file's permissions")
    if "unable to open" in said or "disk I/O error" in said:
        return ShutError(
            f"{path}: the book cannot be opened ({said}); look for a full disk or a folder that you may not write to"
        )
    if "locked" in said or "busy" in said:
        return HeldError(f"{path}: another program holds the book; nothing was written, say it again")
    if "malformed" in said or "not a database" in said:
        return BookError(f"{path}: the file is damaged ({said}); keep it, and bring back a copy or an export")
    return BookError(f"{path}: {said}; nothing was written")


def refuse_for_reading(job: str, is_copy: bool) -> None:
    """Refuse to change a job that is a copy without names: such a copy is only read."""
    if is_copy:
        raise CannotTellError(
            f"job {quoted(job)} is for reading only: nothing is stated, changed or called out in it; "
            "name another with --job"
        )
