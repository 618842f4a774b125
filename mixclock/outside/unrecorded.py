"""Keeps statements and calls in memory while the book cannot be written, and hands them over when it can.

All who have the book open in one process share it. A second place, in memory that outlives the process, keeps the same
entries: if the process ends while the disk is full, the next process takes them up. Nothing here outlives a reboot, and
the crew is told so.
"""

from __future__ import annotations

import contextlib
import json
import os
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path

from mixclock.job.entry import Delivered, Entry, Facts, Withdrawn
from mixclock.outside.bookreading import believed
from mixclock.outside.bookrows import FIRST_HASH, Row, as_lines, row_of
from mixclock.outside.filelock import try_lock
from mixclock.values import replace


class UnrecordedEntries:
    """Entries that the book's file does not hold yet."""

    def __init__(self, second: Path | None = None) -> None:
        """`second` names a file, in memory that outlives this process, that keeps them too where it can be had."""
        self._lock = threading.Lock()
        self._entries: tuple[Entry, ...] = ()
        self._calls: tuple[Entry, ...] = ()
        self._path, self._second = second, _open_alone(second) if second is not None else None
        self._left = tuple(_read(self._second)) if self._second is not None else ()
        self.changes = 0

    def __len__(self) -> int:
        """How many there are."""
        return len(self._entries)

    def of(self, job: str, after: int, skip: Sequence[str]) -> tuple[Entry, ...]:
        """A job's entries after a number, without some kinds."""
        return tuple(
            each for each in self._entries if each.job == job and each.number > after and each.facts.kind not in skip
        )

    def last_number(self) -> int:
        """The number of the last one, 0 where there is none."""
        return self._entries[-1].number if self._entries else 0

    def add(self, entries: Iterable[Entry]) -> None:
        """Keep entries in memory."""
        with self._lock:
            self._entries = (*self._entries, *entries)
            self.changes += 1
            self._keep()

    def secure_calls(self, calls: Iterable[Entry]) -> None:
        """Keep calls that went out while another program held the book, in case this process is killed. The caller
        keeps them too. They become entries when they are written, or when the next process takes them up.
        """
        with self._lock:
            self._calls = tuple(calls)
            self._keep()

    def take_up(self, last_number: int, is_known: Callable[[Entry], bool]) -> None:
        """Take up what an earlier process left, without the entries that reached the book all the same."""
        with self._lock:
            left, self._left = self._left, ()
            wanted = [entry for entry in left if not is_known(entry)]
            self._entries = (*_numbered(wanted, max(last_number, self.last_number()) + 1), *self._entries)
            self.changes += bool(wanted)
            self._keep()

    def numbered_from(self, first: int) -> list[Entry]:
        """All entries, numbered on from the book's first free number."""
        return _numbered(self._entries, first)

    def forget(self, count: int) -> None:
        """Forget the first so many: the book has them now."""
        with self._lock:
            self._entries = self._entries[count:]
            self.changes += 1
            self._keep()

    def close(self) -> None:
        """Let the second place go, as the end of the process does. Remove it if it is empty."""
        if self._second is None or self._path is None:
            return
        if not self._entries and not self._left and not self._calls:
            with contextlib.suppress(OSError):
                self._path.unlink()
        os.close(self._second)
        self._second = None

    def _keep(self) -> None:
        """Write the second place anew. It is short, and a half-written line in it is not believed."""
        if self._second is None:
            return
        lines = as_lines(row_of(entry, FIRST_HASH) for entry in (*self._entries, *self._calls))
        with contextlib.suppress(OSError):  # then only this process holds it, as the crew was told
            os.ftruncate(self._second, 0)
            os.lseek(self._second, 0, os.SEEK_SET)
            os.write(self._second, lines.encode())


def _numbered(entries: Sequence[Entry], first: int) -> list[Entry]:
    """The entries under other numbers. Where one names another of them, it names its new number."""
    numbers = {each.number: number for number, each in enumerate(entries, start=first)}
    return [replace(each, number=numbers[each.number], facts=_naming(each, numbers)) for each in entries]


def _naming(entry: Entry, numbers: dict[int, int]) -> Facts:
    facts = entry.facts
    if isinstance(facts, Delivered):
        return facts.but(raised=numbers.get(facts.raised, facts.raised))
    if isinstance(facts, Withdrawn):
        return facts.but(entry=numbers.get(facts.entry, facts.entry))
    return facts


def _open_alone(path: Path) -> int | None:
    """The file, opened for this process alone; None where that fails or another account owns it."""
    try:
        number = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o600)
    except OSError:
        return None
    with contextlib.suppress(OSError):
        is_ours = not hasattr(os, "getuid") or os.fstat(number).st_uid == os.getuid()
        if is_ours and try_lock(number):
            return number
    os.close(number)
    return None


def _read(number: int) -> Iterator[Entry]:
    for line in os.read(number, os.fstat(number).st_size).split(b"\n"):
        try:
            found = believed(Row(*json.loads(line)), FIRST_HASH)
        except (ValueError, TypeError):
            continue  # the process ended in the middle of this line
        if isinstance(found, Entry):
            yield found
