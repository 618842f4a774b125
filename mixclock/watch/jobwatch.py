"""One job as the daemon follows it: its log read piece by piece, its windows reckoned only when a statement came."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from mixclock.decide.alerting import alerts
from mixclock.decide.buckets import BucketModel
from mixclock.decide.crewsteps import DAYS_FROM
from mixclock.decide.plan.days.advice import advice_by
from mixclock.decide.plan.days.planjson import plans_in
from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.shapes import Alert
from mixclock.decide.tracks import Track, tracks
from mixclock.job.entry import Delivered, Entry, Heard, Planned, Raised, WatchEvent, Withdrawn
from mixclock.job.folding import fold
from mixclock.job.profile import Profile
from mixclock.job.progress import Raising, Standing
from mixclock.job.raisings import raisings_of
from mixclock.job.steppedclock import on_one_clock
from mixclock.outside.book import Book

AFTERMATH = timedelta(minutes=10)
"""How long a window that was lost still keeps the machine awake, so that its loss gets through (judgement)."""

OF_ALERTS = (Raised, Delivered, Heard)
NO_STATEMENTS = (*OF_ALERTS, Planned, WatchEvent)
"""Entries that move no window: after them the windows need not be reckoned again."""


@dataclass(frozen=True)
class Reckoning:
    """What is needed to work out windows from a log: the bucket's model, and profiles of products not yet used."""

    bucket_model: BucketModel
    shelf: Callable[[], Mapping[str, Profile]] = dict


@dataclass
class JobWatch:
    """The job's log so far and what follows from it."""

    job: str
    reckoning: Reckoning
    standing: Standing | None = None
    tracks: tuple[Track, ...] = ()
    plans: tuple[Plan, ...] = ()
    statement_at: datetime | None = None
    unwritten: list[Raising] = field(default_factory=list)
    _entries: list[Entry] = field(default_factory=list)
    _folded: Sequence[Entry] = ()

    def refresh(self, book: Book) -> bool:
        """Read what was written since; True where anything was."""
        new = book.entries(self.job, after=self.last_number)
        if not new:
            return False
        every = [*self._entries, *new]
        entries = on_one_clock(every)
        statements = [entry for entry in entries if not isinstance(entry.facts, NO_STATEMENTS)]
        if self.standing is None or statements != self._folded:
            self._reckon(statements)
        assert self.standing is not None
        gone = self.standing.withdrawn
        if any(isinstance(entry.facts, Planned | Withdrawn) for entry in new):
            self.plans = plans_in(entries, gone)
        told = [entry for entry in entries if isinstance(entry.facts, OF_ALERTS) and entry.number not in gone]
        self.standing = replace(self.standing, raisings=tuple(raisings_of(told)))
        self._entries = every  # last, so that who sees the number of an entry sees what follows from it
        return True

    @property
    def last_number(self) -> int:
        """The number of the last entry that was read."""
        return self._entries[-1].number if self._entries else 0

    def seen(self) -> Standing:
        """The job as it stands, with what could only be kept in mind because the book could not be written."""
        assert self.standing is not None
        kept = [each for each in self.unwritten if not 0 < each.entry.number <= self.last_number]
        return replace(self.standing, raisings=(*self.standing.raisings, *kept)) if kept else self.standing

    def alerts(self, now: datetime) -> tuple[Alert, ...]:
        """What stands at an instant."""
        standing = self.seen()
        return alerts(standing, self.tracks, now, advice_by(standing, self.tracks, self.plans, now))

    def is_live(self, now: datetime) -> bool:
        """Whether resin is in a bucket, or a window of minutes is running on the floor."""
        if self.standing is None or self.standing.finished is not None:
            return False
        return any(_runs(track, now) for track in self.tracks)

    def _reckon(self, statements: list[Entry]) -> None:
        # withdrawing names an entry by its number, also that an alert was heard: the fold must know of all withdrawals
        standing = fold(self.job, statements, self.reckoning.shelf())
        self.tracks = tracks(standing, self.reckoning.bucket_model)
        self.standing, self._folded = standing, statements
        self.statement_at = statements[-1].happened if statements else None


def _runs(track: Track, now: datetime) -> bool:
    edge = track.closing
    if edge is None or track.stated is not None or edge.early - track.starts >= DAYS_FROM:
        return False
    return now < (edge.late or edge.likely) + AFTERMATH
