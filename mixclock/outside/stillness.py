"""Tells by its files alone that a book was not written, so that a quiet minute asks the book nothing.

A file keeps the time of its last write in steps of some milliseconds. Two writes within one step may look alike. So
what the files say counts only when it has stood for a while, and the book was asked after that.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TypeAlias

from mixclock.outside.book import Book

Mark: TypeAlias = tuple[object, ...]

STANDS_AFTER_S = 0.1
"""Longer than any step in which a file keeps the time of its last write (ten milliseconds at most on Linux)."""

ASKED_EVERY_S = 1.0
"""The book is asked so often all the same, for a disk that keeps no such times."""

ASKED_BESIDE_WATCH_S = 10.0
"""Whoever is told by the watch, which asks every second or two, asks so often."""


def mark_of(book: Book) -> Mark | None:
    """What the book's files tell of the last write without being opened; None where they tell nothing sure.

    Any thread may ask. Windows notes the time of a write only when somebody closes the file.
    """
    if os.name == "nt":
        return None
    try:
        found = [os.stat(path) for path in (book.path, f"{book.path}-wal")]  # noqa: PTH116 - some times a second
    except OSError:
        return None
    kept = book.unrecorded.changes if book.unrecorded is not None else 0
    return (kept, *((each.st_ino, each.st_size, each.st_mtime_ns) for each in found))


class Stillness:
    """Whether a book needs to be asked again what was written to it."""

    def __init__(
        self,
        mark: Callable[[], Mark | None],
        seconds: Callable[[], float],
        asked_every_s: float = ASKED_EVERY_S,
    ) -> None:
        """`mark` gives what the files say, None where that means nothing. `seconds` is a clock that nobody sets."""
        self._mark_now, self._seconds, self._asked_every_s = mark, seconds, asked_every_s
        self._mark: Mark | None = None
        self._since_s = self._asked_s = float("-inf")

    def holds(self) -> bool:
        """Whether nothing was written since the book was last asked. After a no, ask it.

        >>> now, files = [0.0], [("log", 4)]
        >>> still = Stillness(lambda: files[0], lambda: now[0])
        >>> def at(seconds):
        ...     now[0] = seconds
        ...     return still.holds()
        >>> [at(seconds) for seconds in (0.0, 0.05, 0.25, 0.5, 1.3)]
        [False, False, False, True, False]
        >>> files[0] = ("log", 5)
        >>> at(1.4)
        False
        """
        mark, now_s = self._mark_now(), self._seconds()
        if mark is None or mark != self._mark:
            self._mark, self._since_s = mark, now_s
        elif self._asked_s - self._since_s >= STANDS_AFTER_S and now_s - self._asked_s < self._asked_every_s:
            return True
        self._asked_s = now_s
        return False
