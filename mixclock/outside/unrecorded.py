"""What was stated and called out while the book could not be written: kept in mind, called out, written when it can be.

Shared by all who have the book open in one process. Nothing in it outlives the process, and the crew is told so.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable, Sequence

from mixclock.job.entry import Entry
from mixclock.values import replace


class UnrecordedEntries:
    """Entries that are in no file."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._entries: tuple[Entry, ...] = ()
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

    def numbered_from(self, first: int) -> list[Entry]:
        """All of them, numbered on from the first free number of the book."""
        return [replace(each, number=first + place) for place, each in enumerate(self._entries)]

    def forget(self, count: int) -> None:
        """The first so many are in the book now."""
        with self._lock:
            self._entries = self._entries[count:]
            self.changes += 1
