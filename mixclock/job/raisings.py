"""Alerts as they were raised, each with what the channels answered and who heard it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from types import MappingProxyType

from mixclock.job.entry import Delivered, Entry, Heard, Raised
from mixclock.job.origins import by_book
from mixclock.job.progress import Raising
from mixclock.values import replace


def raisings_of(entries: Sequence[Entry]) -> list[Raising]:
    """What was raised, with what the channels answered and who heard it first."""
    heard: dict[int, Entry] = {}
    for _, own in by_book(entries):  # a "heard" means the calls around the person who says it
        heard |= _first_heard(own)
    raised = [entry for entry in entries if isinstance(entry.facts, Raised)]
    deliveries: dict[int, list[Entry]] = {}
    for entry in entries:
        if isinstance(entry.facts, Delivered):
            deliveries.setdefault(entry.facts.raised, []).append(entry)
    return [Raising(entry, tuple(deliveries.get(entry.number, ())), heard.get(entry.number)) for entry in raised]


def _first_heard(entries: Sequence[Entry]) -> dict[int, Entry]:
    """The first "heard" for each raising, by the raising's number."""
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


class RaisingLog:
    """The raisings of one book as they come in, entry by entry. The result is the same as that of `raisings_of`."""

    def __init__(self, entries: Iterable[Entry] = ()) -> None:
        self._told: list[Entry] = []
        self._forget()
        self.add(entries)

    def add(self, entries: Iterable[Entry]) -> None:
        """Take in what was raised, answered or heard since."""
        new = list(entries)
        self._told += new
        if any(isinstance(entry.facts, Raised) and self._heard_before(entry) for entry in new):
            self._forget()  # an entry that came late may have been heard already
            new = self._told
        for entry in sorted(new, key=lambda each: not isinstance(each.facts, Raised)):
            self._take(entry)

    @property
    def raisings(self) -> tuple[Raising, ...]:
        """What was raised, oldest first."""
        return tuple(self._raisings)

    @property
    def by_alert(self) -> Mapping[str, tuple[Raising, ...]]:
        """The raisings by alert. Only alerts with new entries are gathered anew."""
        for alert in self._stale:
            self._gathered[alert] = tuple(self._raisings[place] for place in self._places[alert])
        self._stale.clear()
        return MappingProxyType(dict(self._gathered))

    def _forget(self) -> None:
        self._raisings: list[Raising] = []
        self.latest: list[datetime] = []
        self._places: dict[str, list[int]] = {}
        self._gathered: dict[str, tuple[Raising, ...]] = {}
        self._stale: set[str] = set()
        self._place: dict[int, int] = {}
        self._early: dict[int, list[Entry]] = {}
        self._unheard: dict[str, list[int]] = {}
        self._last_heard: datetime | None = None

    def _heard_before(self, raised: Entry) -> bool:
        return self._last_heard is not None and raised.happened <= self._last_heard

    def _take(self, entry: Entry) -> None:
        facts = entry.facts
        if isinstance(facts, Raised):
            self._place[entry.number] = len(self._raisings)
            self._unheard.setdefault(facts.alert, []).append(len(self._raisings))
            self._places.setdefault(facts.alert, []).append(len(self._raisings))
            self._stale.add(facts.alert)
            self._raisings.append(Raising(entry, tuple(self._early.pop(entry.number, ()))))
            self.latest.append(max(entry.happened, self.latest[-1]) if self.latest else entry.happened)
        elif isinstance(facts, Delivered):
            place = self._place.get(facts.raised)
            if place is None:
                self._early.setdefault(facts.raised, []).append(entry)
            else:
                known = self._raisings[place]
                self._raisings[place] = replace(known, deliveries=(*known.deliveries, entry))
                self._stale.add(known.alert)
        elif isinstance(facts, Heard):
            self._last_heard = max(filter(None, (self._last_heard, entry.happened)))
            for alert in facts.alerts or tuple(self._unheard):
                self._hear(alert, entry)

    def _hear(self, alert: str, heard: Entry) -> None:
        still = []
        for place in self._unheard.get(alert, ()):
            raising = self._raisings[place]
            if raising.entry.happened <= heard.happened:
                self._raisings[place] = replace(raising, heard=heard)
                self._stale.add(alert)
            else:
                still.append(place)
        self._unheard[alert] = still
