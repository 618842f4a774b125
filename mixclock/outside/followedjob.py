"""One job as everybody follows it: its log read piece by piece, its windows reckoned only when a statement came."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from mixclock.decide.plan.days.planjson import plans_in
from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.tracks import Track
from mixclock.decide.windows import counted_as_due
from mixclock.formulas.past import ForgottenError
from mixclock.job.entry import Delivered, Entry, Heard, Planned, Raised, Unreadable, WatchEvent, Withdrawn
from mixclock.job.folding import Folding
from mixclock.job.profile import Profile
from mixclock.job.progress import Standing
from mixclock.job.raisings import RaisingLog
from mixclock.job.steppedclock import (
    STEP_FROM_S,
    BootSpan,
    BootTime,
    LogTime,
    goes_on,
    log_time_of,
    on_one_clock,
    with_entry,
)
from mixclock.outside.book import Book
from mixclock.outside.calledhere import with_calls
from mixclock.outside.clock import Clock
from mixclock.outside.foldedlogs import folded_file, forget_long_log
from mixclock.values import replace

if TYPE_CHECKING:
    from mixclock.outside.recalledlog import RecalledLog

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
        recalls: bool = False,
    ) -> None:
        """`windows` reckons them; `shelf` holds the profiles of products that no batch has used yet.

        With `recalls` a very long job goes by what was kept of its old readings (`longlogs`), where that may be
        believed. Whoever asks then has to be ready for a `ForgottenError`, and to `read_whole`.
        """
        self.job = job
        self.standing: Standing | None = None
        self.plans: tuple[Plan, ...] = ()
        self.statement_at: datetime | None = None
        self.unreadable: list[Entry] = []
        """The entries that the disk does not give back as they were written."""
        self.lost = 0
        """How many more entries the book counted for this job, when it was last read whole, than it then gave."""
        self._windows, self._shelf = windows, shelf
        self._tracks: tuple[Track, ...] = ()
        self._owed: Standing | None = None
        self._windows_later = False
        self._recalls = recalls
        self._recalled: RecalledLog | None = None
        self._may_go_by_last = False
        self._written: list[Entry] = []
        self._spans: dict[str, BootSpan] = {}
        self._folding: Folding | None = None
        self._folded: Sequence[Entry] = ()
        self._raised = RaisingLog()
        self._generation = 0
        self._booted: datetime | None = None
        self._met: BootTime | None = None

    @property
    def tracks(self) -> tuple[Track, ...]:
        """The windows."""
        if self._owed is not None:
            self._tracks, self._owed = self._windows(self._owed), None
        return self._tracks

    def _reckon(self, standing: Standing) -> None:
        if self._windows_later:
            self._owed = standing
        else:
            self._tracks, self._owed = self._windows(standing), None

    @property
    def last_number(self) -> int:
        """The number of the last entry that was read."""
        return self._written[-1].number if self._written else 0

    def refresh(self, book: Book, windows_later: bool = False) -> bool:
        """Read what was written since; True where anything was.

        With `windows_later` they are reckoned only when somebody asks for them.
        """
        self._windows_later = windows_later
        if book.generation != self._generation:  # the file was made anew: what could not be read may be there now
            self._generation, self._written = book.generation, []
        if not self._written and self._recall(book):
            return True
        is_whole = not self._written
        new = book.entries(self.job, after=self.last_number)
        self.lost = book.lost_entries(self.job) if is_whole else self.lost
        here = self._here(book.clock)
        if self._goes_on(new, here):
            try:
                self._take_on(new)
            except ForgottenError:
                return self.read_whole(book)
        elif (new or self._is_set(here)) and self._recalled is not None:
            self._written = []  # something may have changed what was kept: it is asked again whether it holds
            return self._recall(book) or self.read_whole(book)
        elif new or self._is_set(here):
            self._take([*self._written, *new], here)
        else:
            return False
        self._settle(book)
        return True

    def _settle(self, book: Book) -> None:
        if self.unreadable:
            forget_long_log(book.path, self.job)
        if self.standing is not None:
            self.standing = with_calls(book, self.standing)

    @property
    def is_recalled(self) -> bool:
        """Whether only the last readings are at hand."""
        return self._recalled is not None

    def read_whole(self, book: Book) -> bool:
        """Read the whole log, whatever was kept of it."""
        self._written, self._recalled, self._folding = [], None, None
        recalls, self._recalls = self._recalls, False
        try:
            return self.refresh(book, self._windows_later)
        finally:
            self._recalls = recalls

    def read_anew(self, book: Book) -> None:
        """Take what was kept by now, else read the whole log."""
        self._written = []
        if not self._recall(book):
            self.read_whole(book)

    def prove(self, book: Book) -> None:
        """Read some more of the old readings that were left out. One that is damaged has the whole log read."""
        if self._recalled is not None and not self._recalled.prove(book):
            forget_long_log(book.path, self.job)
            self.read_whole(book)

    @property
    def goes_by_last(self) -> bool:
        """Whether only the last readings are at hand, and nobody has worked out so far what was before them."""
        return self._recalled is not None and self._recalled.is_last_alone

    def _recall(self, book: Book) -> bool:
        """Take the job as it was kept, and the rows after that. False where it is not kept, or not to be believed."""
        self._recalled = None
        if not self._recalls or book.unrecorded:
            return False
        if folded_file(book.path, self.job).exists():
            from mixclock.outside.recalledlog import RecalledLog

            if self._take_recalled(book, RecalledLog.of):
                return True
        return self._may_go_by_last and self._take_last(book)

    def _take_last(self, book: Book) -> bool:
        from mixclock.outside.recalledlog import RecalledLog

        return self._take_recalled(book, RecalledLog.of_last)

    def _take_recalled(self, book: Book, of: Callable[[Book, str, BootTime], RecalledLog]) -> bool:
        here = self._here(book.clock)
        try:
            recalled = of(book, self.job, here)
            self._recalled, self._folding = recalled, None
            self._take(recalled.entries, here)
        except ForgottenError:
            self._written, self._recalled, self._folding = [], None, None
            return False
        self._spans = dict(recalled.spans)
        self.lost = book.lost_entries(self.job)
        self._settle(book)
        return True

    def may_state(self, book: Book) -> bool:
        """Whether a statement may go by what was read so far: nothing is unsure, and the file is the same one."""
        return (
            self.standing is not None
            and book.generation == self._generation
            and not (book.unrecorded or self.unreadable or self.lost or self.time(book.clock).is_doubted)
        )

    def time(self, clock: Clock) -> LogTime:
        """What time it is by the log."""
        return log_time_of(self._spans, self._here(clock))

    def windows_at(self, time: LogTime) -> tuple[Track, ...]:
        """The windows, as far as the time is known: where it is not, every open one counts as due."""
        return tuple(counted_as_due(track, time.now) for track in self.tracks) if time.is_doubted else self.tracks

    def _here(self, clock: Clock) -> BootTime:
        here = boot_time(clock)
        if self._met is None or self._met.boot_id != here.boot_id:
            self._met = here
        return replace(here, since_s=self._met.boot_s)

    def clock_was_set(self, clock: Clock) -> bool:
        """Whether somebody set the wall clock since the entries were last put on it. If so, they are put on it
        again."""
        return self._is_set(boot_time(clock))

    def _is_set(self, here: BootTime) -> bool:
        return self._booted is not None and abs((here.booted - self._booted).total_seconds()) > STEP_FROM_S

    def _goes_on(self, new: Sequence[Entry], here: BootTime) -> bool:
        """Whether these entries can be taken in by themselves, because they change nothing of those before."""
        return (
            bool(new and self._written)
            and self._folding is not None
            and not self._is_set(here)
            and (self._recalled is None or self._recalled.only_goes_on(new))
            and not log_time_of(self._spans, here).is_doubted
            and all(goes_on(self._spans, here, entry) for entry in new)
            and not any(isinstance(entry.facts, Planned) for entry in new)
            and self._folding.goes_on([entry for entry in new if not isinstance(entry.facts, NO_STATEMENTS)])
        )

    def _take_on(self, new: Sequence[Entry]) -> None:
        folding, standing = self._folding, self.standing
        assert folding is not None
        assert standing is not None
        self._folding = None  # whatever goes wrong from here on, the next look takes the log anew
        self._raised.add(entry for entry in new if isinstance(entry.facts, OF_ALERTS))
        if statements := [entry for entry in new if not isinstance(entry.facts, NO_STATEMENTS)]:
            self._reckon(folding.take(statements))
            self.statement_at = statements[-1].happened
            self._folded = [*self._folded, *statements]
        self.standing = folding.standing.with_raisings((*standing.entries, *new), self._raised)
        self._folding = folding
        self._note(self._written, new)

    def _take(self, every: list[Entry], here: BootTime) -> None:
        """Take the whole log anew."""
        if not every:
            return
        entries = every if self._recalled is not None else on_one_clock(every, here)
        statements = [entry for entry in entries if not isinstance(entry.facts, NO_STATEMENTS)]
        folding = self._folding
        if folding is None or statements != self._folded:
            # a withdrawal names an entry by its number, perhaps a "heard": so the fold must know them all
            folding = Folding(self.job, statements, self._shelf())
            if self._recalled is not None:
                folding.recall(self._recalled.past)
            self._reckon(folding.standing)
            self._folding, self._folded = folding, statements
            self.statement_at = statements[-1].happened if statements else None
        gone = folding.standing.withdrawn
        if any(isinstance(entry.facts, Planned | Withdrawn) for entry in every[len(self._written) :]):
            self.plans = plans_in(entries, gone)
        self._raised = RaisingLog(
            entry
            for entry in entries  # what another van called out is no call of this one
            if isinstance(entry.facts, OF_ALERTS) and entry.number not in gone and entry.origin is None
        )
        self.standing = folding.standing.with_raisings(tuple(entries), self._raised)
        self._spans, self.unreadable = {}, []
        self._booted = here.booted
        self._note([], every)

    def _note(self, before: Sequence[Entry], new: Sequence[Entry]) -> None:
        for entry in new:
            if entry.origin is None:
                with_entry(self._spans, entry)
        self.unreadable = [*self.unreadable, *(entry for entry in new if isinstance(entry.facts, Unreadable))]
        self._written = [*before, *new]  # set last, so that whoever sees a number also sees what follows from its entry
