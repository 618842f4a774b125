"""One job as everybody follows it: its log read piece by piece, its windows reckoned only when a statement came."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime

from mixclock.decide.plan.days.planjson import plans_in
from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.tracks import Track
from mixclock.decide.windows import counted_as_due
from mixclock.job.entry import Delivered, Entry, Heard, Planned, Raised, Unreadable, WatchEvent, Withdrawn
from mixclock.job.folding import fold
from mixclock.job.profile import Profile
from mixclock.job.progress import Standing
from mixclock.job.raisings import raisings_of
from mixclock.job.steppedclock import STEP_FROM_S, BootTime, LogTime, log_time, on_one_clock
from mixclock.outside.book import Book
from mixclock.outside.calledhere import with_calls
from mixclock.outside.clock import Clock
from mixclock.values import replace

OF_ALERTS = (Raised, Delivered, Heard)
NO_STATEMENTS = (*OF_ALERTS, Planned, WatchEvent)
"""Entries that move no window: after them the windows need not be reckoned again."""


def boot_time(clock: Clock) -> BootTime:
    """What the machine's clocks say now."""
    return BootTime(clock.boot_id(), clock.boot_s(), clock.now())


class FollowedJob:
    """The job's log so far and what follows from it."""

    def __init__(
        self,
        job: str,
        windows: Callable[[Standing], tuple[Track, ...]],
        shelf: Callable[[], Mapping[str, Profile]] = dict,
    ) -> None:
        """`windows` reckons them; `shelf` holds the profiles of products that no batch has used yet."""
        self.job = job
        self.standing: Standing | None = None
        self.tracks: tuple[Track, ...] = ()
        self.plans: tuple[Plan, ...] = ()
        self.statement_at: datetime | None = None
        self._windows, self._shelf = windows, shelf
        self._written: list[Entry] = []
        self._folded: Sequence[Entry] = ()
        self._generation = 0
        self._booted: datetime | None = None
        self._met: BootTime | None = None

    @property
    def last_number(self) -> int:
        """The number of the last entry that was read."""
        return self._written[-1].number if self._written else 0

    @property
    def unreadable(self) -> list[Entry]:
        """The entries that the disk does not give back as they were written."""
        return [entry for entry in self._written if isinstance(entry.facts, Unreadable)]

    def refresh(self, book: Book) -> bool:
        """Read what was written since; True where anything was."""
        if book.generation != self._generation:  # the file was made anew: what could not be read may be there now
            self._generation, self._written = book.generation, []
        new = book.entries(self.job, after=self.last_number)
        here = self._here(book.clock)
        if not new and not self._is_set(here):
            return False
        every = [*self._written, *new]
        if not every:
            return False
        self._take(every, here)
        if self.standing is not None:
            self.standing = with_calls(book, self.standing)
        self._written, self._booted = every, here.booted  # last: who sees a number sees what follows from its entry
        return True

    def time(self, clock: Clock) -> LogTime:
        """What time it is by the log."""
        return log_time(self._written, self._here(clock))

    def windows_at(self, time: LogTime) -> tuple[Track, ...]:
        """The windows, as far as the time is known: where it is not, every open one counts as due."""
        return tuple(counted_as_due(track, time.now) for track in self.tracks) if time.is_doubted else self.tracks

    def _here(self, clock: Clock) -> BootTime:
        here = boot_time(clock)
        if self._met is None or self._met.boot_id != here.boot_id:
            self._met = here
        return replace(here, since_s=self._met.boot_s)

    def clock_was_set(self, clock: Clock) -> bool:
        """Whether the wall clock was set since the entries were last put on it: then they must be again."""
        return self._is_set(boot_time(clock))

    def _is_set(self, here: BootTime) -> bool:
        return self._booted is not None and abs((here.booted - self._booted).total_seconds()) > STEP_FROM_S

    def _take(self, every: Sequence[Entry], here: BootTime) -> None:
        entries = on_one_clock(every, here)
        statements = [entry for entry in entries if not isinstance(entry.facts, NO_STATEMENTS)]
        if self.standing is None or statements != self._folded:
            # withdrawing names an entry by its number, also that an alert was heard: the fold must know of all of them
            standing = fold(self.job, statements, self._shelf())
            self.tracks = self._windows(standing)
            self._folded = statements
            self.statement_at = statements[-1].happened if statements else None
        else:
            standing = self.standing
        gone = standing.withdrawn
        if any(isinstance(entry.facts, Planned | Withdrawn) for entry in every[len(self._written) :]):
            self.plans = plans_in(entries, gone)
        told = [
            entry
            for entry in entries  # what another van called out is no call of this one
            if isinstance(entry.facts, OF_ALERTS) and entry.number not in gone and entry.origin is None
        ]
        self.standing = replace(standing, entries=tuple(entries), raisings=tuple(raisings_of(told)))
