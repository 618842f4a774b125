"""What was stated and called out while the book could not be written: kept in mind, called out, written when it can be.

Shared by all who have the book open in one process. A second place, in memory that outlives the process, keeps it too:
where the disk is full and the process then ends, the next one takes it up. Nothing in it outlives a reboot, and the
crew is told so.
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
from mixclock.outside.bookrows import FIRST_HASH, Row, canonical, row_of
from mixclock.outside.filelock import try_lock
from mixclock.values import replace


class UnrecordedEntries:
    """Entries that are in no file of the book."""

    def __init__(self, second: Path | None = None) -> None:
        """`second` names a file that keeps them beside this process's mind, where that can be had."""
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
        """Keep entries in mind."""
        with self._lock:
            self._entries = (*self._entries, *entries)
            self.changes += 1
            self._keep()

    def secure_calls(self, calls: Iterable[Entry]) -> None:
        """Keep for the next process, should this one be killed, what was called out while another program held the
        book. It stays in the caller's mind; it is no entry until it is written, or until the next process takes it up.
        """
        with self._lock:
            self._calls = tuple(calls)
            self._keep()

    def take_up(self, last_number: int, is_known: Callable[[Entry], bool]) -> None:
        """Go on with what an earlier process left, without what reached the book all the same."""
        with self._lock:
            left, self._left = self._left, ()
            wanted = [entry for entry in left if not is_known(entry)]
            self._entries = (*_numbered(wanted, max(last_number, self.last_number()) + 1), *self._entries)
            self.changes += bool(wanted)
            self._keep()

    def numbered_from(self, first: int) -> list[Entry]:
        """All of them, numbered on from the first free number of the book."""
        return _numbered(self._entries, first)

    def forget(self, count: int) -> None:
        """The first so many are in the book now."""
        with self._lock:
            self._entries = self._entries[count:]
            self.changes += 1
            self._keep()

    def close(self) -> None:
        """Let the second place go, as the end of the process does, and take it away where nothing is in it."""
        if self._second is None or self._path is None:
            return
        if not self._entries and not self._left and not self._calls:
            with contextlib.suppress(OSError):
                self._path.unlink()
        os.close(self._second)
        self._second = None

    def _keep(self) -> None:
        """Write the second place anew: it is short, and a half-written line of it is not believed."""
        if self._second is None:
            return
        rows = (row_of(entry, FIRST_HASH) for entry in (*self._entries, *self._calls))
        lines = "".join(f"{canonical(list(row.values()))}\n" for row in rows)
        with contextlib.suppress(OSError):  # then it is in mind alone, as it was said
            os.ftruncate(self._second, 0)
            os.lseek(self._second, 0, os.SEEK_SET)
            os.write(self._second, lines.encode())


def _numbered(entries: Sequence[Entry], first: int) -> list[Entry]:
    """Entries under other numbers; where one names another of them, it goes on doing so."""
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
    """The file, open for this process alone; None where it cannot be had or is not this account's own."""
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
            continue  # cut off by the end of the process
        if isinstance(found, Entry):
            yield found
