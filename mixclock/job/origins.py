"""Who first wrote an entry, and in which book; and the one order that all books give to entries of several books.

A van that was offline sees the office's entries late, and the office sees the van's late. So each has them in another
order, and the deadlines of a job must not depend on that. Each entry therefore carries a stamp: the latest instant that
its writer knew of, and how many entries of that instant came before (a hybrid logical clock; Kulkarni et al., "Logical
Physical Clocks", 2014). An entry that somebody knew comes before the entry that they then stated, whatever their clock
said. The rest goes by the clock.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta

from mixclock.job.entry import (
    TOLD_BY_MACHINE,
    Combined,
    CupUsed,
    Delivered,
    Entry,
    FactorUsed,
    ForecastTaken,
    Planned,
    ProfileUsed,
    Raised,
    Unreadable,
    WatchEvent,
)
from mixclock.job.wherewritten import Stamp

BY_MACHINE = (Raised, Delivered, WatchEvent, ProfileUsed, FactorUsed, CupUsed, Planned)
"""The entries that mixclock writes by itself."""

FIRST_STAMP: Stamp = (datetime(1970, 1, 1, tzinfo=UTC), 0)


def stamps_of(entries: Sequence[Entry]) -> Mapping[int, Stamp]:
    """The stamp of each entry by its number here; `entries` stand as they came into this book.

    The machine's own entries get stamps, but move no other stamp. So a log read without them has the same order.
    """
    latest = FIRST_STAMP
    stamps: dict[int, Stamp] = {}
    for entry in sorted(entries, key=lambda each: each.number):
        told = entry.origin.stamp if entry.origin is not None else None
        stamp = told or _after(latest, entry.written - timedelta(seconds=entry.moved_s))
        stamps[entry.number] = stamp
        if entry.facts.kind not in TOLD_BY_MACHINE:
            latest = max(latest, stamp)
    return stamps


def in_one_order(entries: Sequence[Entry]) -> Sequence[Entry]:
    """The entries in the order that every book gives them. The entries of one book alone keep the order in which they
    were written."""
    if all(entry.origin is None for entry in entries):
        return entries
    stamps = stamps_of(entries)
    return sorted(entries, key=lambda entry: (stamps[entry.number], entry.mark or "~", entry.number))


def batch_numbers(entries: Sequence[Entry]) -> dict[int, int]:
    """The number of each batch in this book, by the entry that began it: counted as the batches came into the book.

    So a number that people were told here stays. A batch of another book takes the next free number.
    """
    begun = sorted(entry.number for entry in entries if begins_batch(entry))
    return {number: count for count, number in enumerate(begun, start=1)}


def begins_batch(entry: Entry) -> bool:
    """Whether this entry began a batch and so took a number, even if nobody can read the entry any more."""
    facts = entry.facts
    return isinstance(facts, Combined) or (isinstance(facts, Unreadable) and facts.was == Combined.kind)


def is_said(entry: Entry) -> bool:
    """Whether a person on the floor said it. Mixclock, a logger, a sensor or a forecast is no person."""
    facts = entry.facts
    return not isinstance(facts, (*BY_MACHINE, ForecastTaken)) and getattr(facts, "logger", None) is None


def book_of(entry: Entry) -> str:
    """The book in which an entry was first written; empty for this one."""
    return entry.origin.book if entry.origin is not None else ""


def by_book(entries: Sequence[Entry]) -> Iterator[tuple[str, Sequence[Entry]]]:
    """The entries of each book by themselves."""
    books = dict.fromkeys(book_of(entry) for entry in entries)
    for book in books:
        yield book, [entry for entry in entries if book_of(entry) == book] if len(books) > 1 else entries


def _after(latest: Stamp, written: datetime) -> Stamp:
    return (written, 0) if written > latest[0] else (latest[0], latest[1] + 1)
