"""Makes and opens the book's file, brings it up to date, and finds a way when the disk is full.

Plain sqlite3 does the opening, reading and appending; sqlite-utils makes and mends the tables (`bookshape`, imported
only then) and answers the queries of the record. Measured on Debian 12, 2 cores, medians of a whole process: Python
with sqlite3 15 ms, with sqlite_utils 60 to 90 ms, because it imports numpy and pandas wherever they are installed. A
statement is made with a bucket in the other hand.
"""

from __future__ import annotations

import math
import os
import shutil
import sqlite3
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from mixclock.outside.bookerrors import BookError, HeldError, ShutError, said_plainly
from mixclock.outside.clock import Clock

if TYPE_CHECKING:
    from mixclock.outside.bookmending import BookRepair

SHAPE_VERSION = 6

_WAIT_S = 10.0
_PAGES_AHEAD = 1000
"""So many pages the log may be ahead of the file before they are carried over (SQLite's own default)."""

_TRY_DISK_EVERY_S = 5.0
_RESERVE_BYTES = 1024 * 1024
_ROOM_FOR_RESERVE = 8 * _RESERVE_BYTES
_NO_ROOM_BYTES = 64 * 1024


def _gone(book: Path) -> str | None:
    """Why no file bears the book's name; None where one does."""
    if not book.exists():
        return "was gone"
    return "was replaced by a folder" if book.is_dir() else None


class BookConnection:
    """The file, with one connection for each thread that uses it (SQLite's belong to one thread)."""

    def __init__(self, path: Path, clock: Clock, anyhow: bool = False) -> None:
        """Open the file, making it where there is none.

        Where the disk lets nobody open the file, the book is read from memory, and each thread tries the file again
        every few seconds. With `anyhow` that holds for any other obstacle too: a newer shape, or damage that no copy
        mends.
        """
        self._anyhow = anyhow
        self.shut_because: BookError | None = None
        self._snapshot: bytes | None = None
        self.path = path
        self.reserve_used = False
        self._clock = clock
        self._reserve = path.with_name(f"{path.name}.reserve")
        self._mine = threading.local()
        self._all: list[tuple[threading.Thread, sqlite3.Connection]] = []
        self._all_lock = threading.Lock()
        self.generation = 0
        self.mended: list[BookRepair] = []
        with said_plainly(path):
            try:
                self._open_with_reserve()
            except OSError:  # the reserve could not be made
                if not anyhow:
                    raise

    def own(self) -> sqlite3.Connection:
        """This thread's connection, to the file that bears the book's name now."""
        connection: sqlite3.Connection | None = getattr(self._mine, "connection", None)
        if connection is not None and getattr(self._mine, "in_memory", False):
            if self._clock.boot_s() - self._mine.tried_s < _TRY_DISK_EVERY_S:
                return connection
            connection = None
            self.generation += 1
        elif connection is not None and not connection.in_transaction and self._identity() != self._mine.identity:
            self._mine.connection = None
            self.generation += 1
            if (how := _gone(self.path)) is not None:
                self._mend("was deleted" if how == "was gone" else how, connection)
            connection = None
        if connection is None:
            self._mine.tried_s = self._clock.boot_s()
            connection = self._mine.connection = self._open_anyhow()
            self._mine.identity = self._identity()
        self._wait_as_wanted(connection)
        return connection

    def mend(self, why: str, copy: Path | None = None) -> bool:
        """Make a damaged book anew from its copies, or as one of them has it. False where there is nothing to use."""
        from mixclock.outside.bookcopies import can_be_mended

        if copy is None and not can_be_mended(self.path):
            return False
        self._mend(why, only=copy)
        self._mine.connection = None
        self.generation += 1
        return True

    @contextmanager
    def hurried(self, wait_s: float) -> Iterator[None]:
        """Inside this block the thread waits only so long for another program that holds the file."""
        self._mine.wait_s = wait_s
        try:
            yield
        finally:
            self._mine.wait_s = _WAIT_S

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """A transaction that locks the book from its start, so that what it reads stays true until it ends."""
        connection = self.own()
        if self.is_in_memory and self.shut_because is not None:
            raise self.shut_because
        connection.execute("BEGIN IMMEDIATE")
        while (
            not self.is_in_memory and self._identity() != self._mine.identity
        ):  # the book was made anew while this waited for its turn
            connection.execute("ROLLBACK")
            connection = self.own()
            connection.execute("BEGIN IMMEDIATE")
        try:
            yield connection
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise

    def use_reserve(self) -> bool:
        """Give the reserve's room to the log. False where it is spent already."""
        try:
            self._reserve.unlink()
        except OSError:
            return False
        self.reserve_used = True
        return True

    def close(self) -> None:
        """Close the connections that no running thread uses. The file is whole at any moment, so nothing is lost.


        A thread that is still at work keeps its connection until it ends. If we closed it, SQLite would read freed
        memory and crash the whole process.
        """
        with self._all_lock:
            self._close_those_of(lambda thread: thread is threading.current_thread() or not thread.is_alive())
            self._all.clear()
            self._mine.connection = None

    def _close_those_of(self, may_close: Callable[[threading.Thread], bool]) -> None:
        """Close the connections of some threads; `_all_lock` is held."""
        kept = []
        for thread, connection in self._all:
            if may_close(thread):
                connection.close()
            else:
                kept.append((thread, connection))
        self._all = kept

    def _wait_as_wanted(self, connection: sqlite3.Connection) -> None:
        """Let this thread's connection wait for other programs as long as the thread now wishes. It is told only where
        that changed: a thread that looks all day looks in a hurry each time."""
        wait_s: float = getattr(self._mine, "wait_s", _WAIT_S)
        if getattr(self._mine, "waits", None) != (connection, wait_s):
            connection.execute(f"PRAGMA busy_timeout = {round(1000 * wait_s)}")
            # to carry the log's pages over into the file takes a while: that is left to whoever is in no hurry
            connection.execute(f"PRAGMA wal_autocheckpoint = {_PAGES_AHEAD if wait_s >= _WAIT_S else 0}")
            self._mine.waits = connection, wait_s

    def _open_with_reserve(self) -> None:
        """Open the file. A full disk has no room for SQLite's index beside it, so the reserve gives up some."""
        self.own()
        if self.is_in_memory and shutil.disk_usage(self.path.parent).free < _NO_ROOM_BYTES and self.use_reserve():
            self._mine.tried_s = -math.inf
            self.own()
        if not self.reserve_used and not self.is_in_memory:
            self._make_reserve()

    @property
    def is_in_memory(self) -> bool:
        """Whether this thread reads the book from memory, because the disk lets nobody open it."""
        return bool(getattr(self._mine, "in_memory", False))

    def _open_anyhow(self) -> sqlite3.Connection:
        """Open the file, or a copy in memory of what can be read of it, which may not be written."""
        try:
            with said_plainly(self.path):
                connection = self._open_or_mend()
        except BookError as error:
            if not self._anyhow and not isinstance(error, ShutError):
                raise
            self.shut_because = error
        else:
            self._mine.in_memory, self._snapshot, self.shut_because = False, None, None
            return connection
        return self._open_in_memory(self.shut_because)

    def _open_in_memory(self, because: BookError) -> sqlite3.Connection:
        from mixclock.outside.bookmending import read_into_memory

        if self._snapshot is None:
            self._snapshot = read_into_memory(self.path, self._clock)
        if self._snapshot is None:
            raise because
        connection = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
        connection.deserialize(self._snapshot)
        connection.execute("PRAGMA query_only = ON")
        self._mine.in_memory = True
        return connection

    def _open_or_mend(self) -> sqlite3.Connection:
        """Open the file. If there was a book and the file is gone, empty or damaged, make it anew first."""
        from mixclock.outside.bookcopies import DAMAGE, Tail, can_be_mended, is_damage

        how = _gone(self.path) or ("was empty" if self.path.stat().st_size == 0 else None)
        if how is not None and can_be_mended(self.path):
            self._mend(how)
        try:
            connection = self._open()
            known = Tail(self.path).last_number()  # read before the file, because a writer adds to the tail last
            (last,) = connection.execute("SELECT coalesce(max(number), 0) FROM entries").fetchone()
        except DAMAGE as error:
            if not is_damage(error) or not can_be_mended(self.path):
                raise
            self._mend("was damaged")
            return self._open()
        if last < known:
            self._mend(f"had lost its last entries ({known - last} of them)")
            return self._open()
        return connection

    def _mend(self, why: str, still_open: sqlite3.Connection | None = None, only: Path | None = None) -> None:
        from mixclock.outside.bookmending import mend_book
        from mixclock.outside.filelock import held

        before = self._identity()
        self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with held(self.path.with_name(f"{self.path.name}.lock"), self._clock, _WAIT_S):
            if self._identity() == before:  # else another process has mended it meanwhile
                self.mended.append(mend_book(self.path, self._clock, why, still_open, only))

    def _identity(self) -> tuple[int, int] | None:
        """What tells this file from another one of the same name."""
        try:
            found = self.path.stat()
        except OSError:
            return None
        return found.st_dev, found.st_ino

    def _open(self) -> sqlite3.Connection:
        if not self.path.exists():
            self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            # the files beside it take their mode from this one, so it must exist before SQLite sees it
            os.close(os.open(self.path, os.O_CREAT | os.O_RDWR, 0o600))
        wait_s = getattr(self._mine, "wait_s", _WAIT_S)
        connection = sqlite3.connect(self.path, timeout=wait_s, isolation_level=None, check_same_thread=False)
        try:
            self._prepare(connection)
        except BaseException:
            connection.close()
            raise
        with self._all_lock:
            self._close_those_of(lambda thread: not thread.is_alive())
            self._all.append((threading.current_thread(), connection))
        return connection

    def _prepare(self, connection: sqlite3.Connection) -> None:
        connection.execute("PRAGMA synchronous = FULL")
        if sys.platform == "darwin":
            # on macOS fsync alone leaves the data in the drive's cache
            connection.execute("PRAGMA fullfsync = ON")
        if _version(connection) != SHAPE_VERSION:
            self._bring_up_to_date(connection)

    def _bring_up_to_date(self, connection: sqlite3.Connection) -> None:
        from mixclock.outside.filelock import LockTakenError, held

        try:
            with held(self.path.with_name(f"{self.path.name}.lock"), self._clock, _WAIT_S):
                version = _version(connection)
                if version > SHAPE_VERSION:
                    raise BookError(
                        f"{self.path}: this book was written by a newer mixclock (shape {version}, this one knows "
                        f"{SHAPE_VERSION}); update mixclock"
                    )
                if version < SHAPE_VERSION:
                    from mixclock.outside.bookcopies import copy_before_change
                    from mixclock.outside.bookshape import bring_up_to_date

                    if version > 0:
                        copy_before_change(connection, self.path, version)
                    bring_up_to_date(connection)
        except LockTakenError as error:
            raise HeldError(f"{self.path}: another mixclock is setting up the book; say it again") from error

    def _make_reserve(self) -> None:
        """If the disk has plenty of room, reserve some to give up when it is full."""
        if self._reserve.exists() or shutil.disk_usage(self.path.parent).free < _ROOM_FOR_RESERVE:
            return
        number = os.open(self._reserve, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600)
        try:
            # random bytes, because a file system that compresses would keep no room for zeros
            os.write(number, os.urandom(_RESERVE_BYTES))
        finally:
            os.close(number)


def _version(connection: sqlite3.Connection) -> int:
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    return int(version)
