"""A job's log while something is stated in it: all of it, or of a very long one the last rows and what was kept.

What is kept beside the book (`longlogs`) serves a statement as it serves `now`, and whoever follows the job anyway
lends what is folded there. Where that may not tell all that the statement asks, or where the statement is refused by
it, nothing was written: the whole log is read, and decides.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING

from mixclock.formulas.past import ForgottenError
from mixclock.job.drafts import Draft
from mixclock.job.entry import TOLD_BY_MACHINE, Entry
from mixclock.job.folding import fold
from mixclock.job.profile import Profile
from mixclock.job.progress import KeptStatement, Standing
from mixclock.job.statements import (
    DidStatement,
    FoundStatement,
    HeardStatement,
    MixingStatement,
    NotedStatement,
    PouredStatement,
    ReadingStatement,
    RolledStatement,
    Statement,
)
from mixclock.job.steppedclock import BootTime, LogTime, log_time, on_one_clock
from mixclock.outside.book import Book
from mixclock.outside.bookerrors import BookError
from mixclock.outside.foldedlogs import folded_file
from mixclock.values import replace

if TYPE_CHECKING:
    from mixclock.outside.bookdrawers import Beside
    from mixclock.outside.followedjob import FollowedJob
    from mixclock.outside.longlogs import KeptLog, LongLogs

FROM_WHAT_IS_KEPT = (NotedStatement, MixingStatement, PouredStatement, ReadingStatement, DidStatement, RolledStatement)
"""Statements that ask no old reading of a log; the others are made by the whole of it."""


TRIES = 3
"""So often a statement goes by a followed log; whoever writes in between makes it begin again."""


class BehindError(Exception):
    """Somebody wrote since the followed log was read."""


class StatedLog:
    """The log of one job for one statement."""

    def __init__(self, book: Book, job: str, here: BootTime, followed: FollowedJob | None = None) -> None:
        """`here` is what the machine's clocks say, `followed` the job as somebody follows it who lends it."""
        self._book, self._job, self._here = book, job, here
        self._kept: KeptLog | None = None
        self._followed = followed if followed is not None and followed.job == job else None
        self._read: Sequence[Entry] = ()
        self._skip: tuple[str, ...] = ()
        self.before: Standing | None = None

    @property
    def entries(self) -> Sequence[Entry]:
        """The entries that are at hand."""
        if self._followed is not None and self._followed.standing is not None:
            return [entry for entry in self._followed.standing.entries if entry.facts.kind not in self._skip]
        before = self._kept.before if self._kept is not None else ()
        return (*(entry for entry in before if entry.facts.kind not in self._skip), *self._read)

    @property
    def time(self) -> LogTime:
        """What time it is by the log."""
        if self._followed is not None:
            return self._followed.time(self._book.clock)
        if self._kept is None:
            return log_time(self._read, self._here)
        return self._kept.time(self._read, self._here)

    def standing(self, shelf: Mapping[str, Profile] | None = None) -> Standing:
        """The job as it stands before the statement."""
        self.before = self._standing(shelf, ())
        return self.before

    def standing_with(self, written: Sequence[Entry]) -> Standing:
        """The job as it stands after it, with what was written."""
        if self._followed is not None:
            self._followed.refresh(self._book, windows_later=True)
            standing = self._followed.standing
            is_its_end = standing is not None and self._followed.last_number == written[-1].number
            return standing if standing is not None and is_its_end else self._whole(written[-1].number)
        try:
            return self._standing(None, written)
        except ForgottenError:
            return self._whole(written[-1].number)

    def _standing(self, shelf: Mapping[str, Profile] | None, written: Sequence[Entry]) -> Standing:
        new = (*self._read, *written)
        if self._followed is not None and self._followed.standing is not None:
            standing = self._followed.standing
            return replace(standing, profiles=MappingProxyType({**(shelf or {}), **standing.profiles}))
        if self._kept is None:
            return fold(self._job, on_one_clock(new, self._here), shelf)
        return self._kept.standing(self._job, self._here, (*self.entries, *written), new, shelf)

    def append(
        self,
        statement: Statement,
        build: Callable[[Sequence[Entry]], Iterable[Draft]],
        beside: Sequence[Beside],
        from_kept: bool,
    ) -> tuple[Entry, ...]:
        """Decide what to write and write it, by what was kept of a long log where that can tell."""
        self._skip = () if isinstance(statement, HeardStatement) else TOLD_BY_MACHINE
        if self._followed is not None and self._followed.is_recalled and not isinstance(statement, FROM_WHAT_IS_KEPT):
            self._followed = None
        for _ in range(TRIES if self._followed is not None else 0):
            try:
                return self._append(build, beside)
            except BehindError:
                continue
            except (ForgottenError, ValueError):
                break  # the whole log says why it is refused
        self._followed = None
        if from_kept and isinstance(statement, FROM_WHAT_IS_KEPT) and self._is_kept():
            try:
                return self._append(build, beside)
            except (ForgottenError, ValueError):
                self._kept = None  # the whole log says why it is refused
        return self._append(build, beside)

    @cached_property
    def _logs(self) -> LongLogs:
        from mixclock.outside.longlogs import LongLogs

        return LongLogs(self._book)

    def _is_kept(self) -> bool:
        if not folded_file(self._book.path, self._job).exists() or self._book.unrecorded is not None:
            return False
        try:
            self._kept = self._logs.kept(self._job)
        except (ForgottenError, BookError):
            return False
        return True

    def _append(
        self, build: Callable[[Sequence[Entry]], Iterable[Draft]], beside: Sequence[Beside]
    ) -> tuple[Entry, ...]:
        if self._followed is not None:
            self._followed.refresh(self._book, windows_later=True)

        def of_read(read: Sequence[Entry]) -> Iterable[Draft]:
            self._read = read
            if self._followed is not None and (read or not self._followed.may_state(self._book)):
                raise BehindError
            if self._kept is not None:
                self._logs.require_covered(self._job, self._kept.covered)  # a damaged book may just have been mended
            return build(self.entries)

        after = self._kept.covered.last if self._kept is not None else 0
        after = self._followed.last_number if self._followed is not None else after
        return self._book.append_within(self._job, of_read, skip=self._skip, beside=beside, after=after)

    def _whole(self, last: int) -> Standing:
        entries = [each for each in self._book.entries(self._job, skip=self._skip) if each.number <= last]
        return fold(self._job, on_one_clock(entries, self._here))


def by_the_whole_log(book: Book, stated: KeptStatement, here: BootTime) -> KeptStatement:
    """The same statement with the job as its whole log tells it, after it and before."""
    job, numbers = stated.entry.job, {entry.number for entry in stated.entries}
    entries = book.entries(job, skip=TOLD_BY_MACHINE)
    before = [entry for entry in entries if entry.number < min(numbers)]
    after = [entry for entry in entries if entry.number <= max(numbers)]
    both = [fold(job, on_one_clock(log, here)) for log in (after, before)]
    return replace(stated, standing=both[0], before=both[1])


def in_words_of_why(statement: Statement) -> Statement:
    """A finding in the words in which its causes are looked for; any other statement as it is."""
    if not isinstance(statement, FoundStatement):
        return statement
    from mixclock.decide.why import symptoms

    return symptoms.in_words_of_why(statement)
