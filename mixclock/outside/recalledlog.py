"""A very long job as somebody follows it from what was kept of its old readings, which are proved little by little.

What is kept (`longlogs`) tells how the job stands in a moment. It cannot tell that a bit flipped in one of the readings
that it covers. So whoever follows the job reads these too, some at each look, and holds each against its hash.
"""

from __future__ import annotations

from collections.abc import Sequence

from mixclock.formulas.past import ForgottenError
from mixclock.job.entry import Entry, Reading, Unreadable
from mixclock.job.pastreadings import LastReadings, PastReadings
from mixclock.job.steppedclock import BootTime, Spans, log_time_of, on_one_clock, spans_of, with_entry
from mixclock.outside.book import Book
from mixclock.outside.bookreading import instant_or_long_ago, read_last, read_numbered
from mixclock.outside.bookrows import canonical
from mixclock.outside.longlogs import SAID_FROM, LongLogs, only_go_on

PROVED_AT_ONCE = 400
"""So many rows are read at each look: some ten milliseconds (measured)."""


LAST = 3000
"""So many readings are at hand where nothing was kept of the others: two days of one a minute, worked out in a moment
(judgement)."""


class RecalledLog:
    """What was kept of a job, and the rows after that."""

    def __init__(self, job: str, entries: Sequence[Entry], past: PastReadings, spans: Spans, proof: int = 0) -> None:
        """`proof` is the last of the rows that are to be held against their hashes."""
        self._job, self.entries, self.past, self.spans = job, [*entries], past, dict(spans)
        self._last, self._proved = proof, 0

    @classmethod
    def of(cls, book: Book, job: str, here: BootTime) -> RecalledLog:
        """What is kept beside a book. Raises `ForgottenError` where it is not to be believed."""
        kept = LongLogs(book).kept(job)
        new = book.entries(job, after=kept.covered.last)
        kept.require_going_on(here, (*kept.before, *new), new)
        spans = dict(kept.covered.spans)
        for entry in new:
            with_entry(spans, entry)
        return cls(job, (*kept.before, *new), kept.past, spans, kept.covered.last)

    @classmethod
    def of_last(cls, book: Book, job: str, here: BootTime) -> RecalledLog:
        """All statements and the last readings, where there are very many. Raises `ForgottenError` where there are not,
        or where anything in them is unsure.
        """
        last, before, count = read_last(book.connection.own(), job, Reading.kind, LAST)
        if count < SAID_FROM:
            raise ForgottenError("it is read whole in a moment")
        later = [entry.happened for entry in last if entry.happened > instant_or_long_ago(before)]
        if not later:
            raise ForgottenError("an older reading was written later than these")
        told = [*book.entries(job, skip=(Reading.kind,)), *(entry for entry in last if entry.happened >= min(later))]
        entries = sorted(told, key=lambda entry: entry.number)
        spans = spans_of(entries)
        is_odd = any(entry.origin is not None or isinstance(entry.facts, Unreadable) for entry in entries)
        if is_odd or log_time_of(spans, here).is_doubted or on_one_clock(entries, here) is not entries:
            raise ForgottenError("something in it is unsure")
        return cls(job, entries, LastReadings(min(later)), spans)

    @property
    def is_last_alone(self) -> bool:
        """Whether nobody has worked out so far what was before the readings at hand."""
        return isinstance(self.past, LastReadings)

    def only_goes_on(self, new: Sequence[Entry]) -> bool:
        """Whether new entries leave the old readings as they were."""
        return only_go_on(self.entries, new, self.past)

    def prove(self, book: Book) -> bool:
        """Read the next of the old rows. False where one is not what was written."""
        if self._proved >= self._last:
            return True
        first, self._proved = self._proved + 1, min(self._proved + PROVED_AT_ONCE, self._last)
        rows = read_numbered(book.connection.own(), self._job, canonical([[first, self._proved]]))
        return not any(isinstance(entry.facts, Unreadable) for entry in rows)
