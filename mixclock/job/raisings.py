"""Alerts as they were raised, each with what the channels answered and who heard it."""

from __future__ import annotations

from collections.abc import Sequence

from mixclock.job.entry import Delivered, Entry, Heard, Raised
from mixclock.job.origins import book_of
from mixclock.job.progress import Raising


def raisings_of(entries: Sequence[Entry]) -> list[Raising]:
    """What was raised, with what the channels answered and who heard it first."""
    books = dict.fromkeys(book_of(entry) for entry in entries)
    heard: dict[int, Entry] = {}
    for book in books:  # who says that he heard it means what was called out around him
        heard |= _first_heard([entry for entry in entries if book_of(entry) == book] if len(books) > 1 else entries)
    raised = [entry for entry in entries if isinstance(entry.facts, Raised)]
    deliveries: dict[int, list[Entry]] = {}
    for entry in entries:
        if isinstance(entry.facts, Delivered):
            deliveries.setdefault(entry.facts.raised, []).append(entry)
    return [Raising(entry, tuple(deliveries.get(entry.number, ())), heard.get(entry.number)) for entry in raised]


def _first_heard(entries: Sequence[Entry]) -> dict[int, Entry]:
    """The first statement that somebody heard a raising, by the raising's number."""
    unheard: dict[str, list[Entry]] = {}
    for entry in entries:
        if isinstance(entry.facts, Raised):
            unheard.setdefault(entry.facts.alert, []).append(entry)
    first: dict[int, Entry] = {}
    for entry in entries:
        if isinstance(entry.facts, Heard):
            for alert in entry.facts.alerts or tuple(unheard):
                waiting = unheard.get(alert, [])
                first.update({raised.number: entry for raised in waiting if raised.happened <= entry.happened})
                unheard[alert] = [raised for raised in waiting if raised.happened > entry.happened]
    return first
