"""Is told by the system that a book was written, where it tells (inotify(7) on Linux), without asking now and then.

It only saves time: whoever relies on it looks now and then all the same, because some disks tell nobody.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import select
import struct
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

_MODIFIED, _MOVED_HERE, _CREATED = 0x2, 0x80, 0x100
_CLOSED_ON_EXEC, _NEVER_WAITS = 0o2000000, 0o4000
_EVENT = struct.Struct("iIII")
_BYTES_AT_ONCE = 1 << 14
_TOGETHER_S = 0.1


class BookStir:
    """A thread that sleeps until a file of the book is written."""

    def __init__(self, book: Path, stirred: Callable[[], None]) -> None:
        """`stirred` is called on the thread, once for what was written together."""
        self._folder, self._names = book.parent, {book.name.encode(), f"{book.name}-wal".encode()}
        self._stirred = stirred
        self._events = -1
        self._ends: tuple[int, int] = (-1, -1)
        self._thread = threading.Thread(target=self._listen, name="book", daemon=True)

    def start(self) -> bool:
        """Listen from now on. False where this system does not tell."""
        self._events = _events_of(self._folder)
        if self._events < 0:
            return False
        self._ends = os.pipe()
        self._thread.start()
        return True

    def stop(self) -> None:
        """Listen no more. A second call does nothing."""
        if self._events < 0:
            return
        os.close(self._ends[1])
        self._thread.join()
        for number in (self._ends[0], self._events):
            os.close(number)
        self._events = -1

    def _listen(self) -> None:
        while True:
            ready, _, _ = select.select([self._events, self._ends[0]], [], [])
            with contextlib.suppress(BlockingIOError):
                if self._names.intersection(_names_in(os.read(self._events, _BYTES_AT_ONCE))):
                    self._stirred()
            # one statement is a dozen writes: what follows at once is told together
            if self._ends[0] in ready or select.select([self._ends[0]], [], [], _TOGETHER_S)[0]:
                return


def _events_of(folder: Path) -> int:
    """A file on which the system tells what is written in a folder; -1 where it does not."""
    if sys.platform != "linux":
        return -1
    try:
        library = ctypes.CDLL(None, use_errno=True)
        events = int(library.inotify_init1(_CLOSED_ON_EXEC | _NEVER_WAITS))
        wanted = _MODIFIED | _MOVED_HERE | _CREATED
        if events >= 0 and library.inotify_add_watch(events, os.fsencode(folder), wanted) < 0:
            os.close(events)
            return -1
    except (OSError, AttributeError):  # another C library
        return -1
    return events


def _names_in(told: bytes) -> Iterator[bytes]:
    """The names of the files that a batch of events is about.

    >>> event = _EVENT.pack(1, _MODIFIED, 0, 16) + b"book-wal".ljust(16, bytes(1))
    >>> list(_names_in(event + event))
    [b'book-wal', b'book-wal']
    """
    at = 0
    while at + _EVENT.size <= len(told):
        *_, length = _EVENT.unpack_from(told, at)
        at += _EVENT.size
        yield told[at : at + length].rstrip(b"\0")
        at += length
