"""Jobs of very many readings: what was worked out of the old ones is kept beside the book, for the next command.

A floor that is read every minute for months has a hundred thousand entries, and folding them takes longer than a person
in gloves waits. So whoever had to fold them all writes down what they came to: which entries to read besides the last
ones, and what each clock had gained (`job.pastreadings`). The next command reads that, and the rows after it.

The log alone is the truth. The file may be deleted at any time. It is believed only where it is what was written (its
own hash), of this program and shape, of this job, and where the last entry that it covers still has its hash and stands
at the end of as many. Every row that is read is held against its hash as ever. Where anything happened that may change
what the old readings said, a reading was withdrawn or came late, a clock was set, a row cannot be read, the whole log
is folded and the file is made anew. A bit that flips in an old reading is told by whoever reads the whole log: `watch`,
which reads through the old rows look by look, and `book check`.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any, TypeVar

from mixclock import __version__
from mixclock.formulas.past import ForgottenError, Notes
from mixclock.job.entry import Entry, Reading, Unreadable, Withdrawn
from mixclock.job.folding import fold
from mixclock.job.pastreadings import PastReadings, thinned
from mixclock.job.profile import Profile
from mixclock.job.progress import Standing
from mixclock.job.readings import OlderReadings, Readings
from mixclock.job.steppedclock import (
    Beginnings,
    BootSpan,
    BootTime,
    LogTime,
    Spans,
    all_stand,
    beginnings_of,
    log_time_of,
    spans_of,
    with_entry,
)
from mixclock.outside.atomicfile import write_atomically
from mixclock.outside.book import Book
from mixclock.outside.bookreading import end_of_cover, read_numbered
from mixclock.outside.bookrows import canonical
from mixclock.outside.foldedlogs import folded_file
from mixclock.values import dataclass, replace

T = TypeVar("T")
Tell = Callable[[Standing, LogTime], T]
"""What is told of a job as it stands, and of the time by its log."""

SHAPE = 1
"""Counts up when what is kept, or how it was worked out, is another."""

LONG = 3000
"""From so many readings on a log is long: below, folding it costs less than a look beside it."""

RENEWED_AFTER = 300
"""So many entries later what is kept is brought up to date."""

SAID_FROM = 20_000
"""So many readings take seconds to fold: who waits is told why."""

KEPT_AT_MOST = 8
"""Jobs of one book of which something is kept."""


@dataclass(frozen=True)
class LogCover:
    """The log up to an entry: its clocks, and how it ends."""

    last: int
    hash: str
    count: int
    spans: Spans
    beginnings: Beginnings


@dataclass(frozen=True)
class KeptLog:
    """What was kept of a long job: the log up to an entry, what its old readings came to, and the rows besides."""

    covered: LogCover
    past: PastReadings
    before: Sequence[Entry]

    def time(self, new: Sequence[Entry], here: BootTime) -> LogTime:
        """What time it is by the log. Raises `ForgottenError` where a clock was set."""
        spans = dict(self.covered.spans)
        for entry in new:
            with_entry(spans, entry)
        time = log_time_of(spans, here)
        if time.is_doubted or not all_stand(spans, beginnings_of(new, self.covered.beginnings), here):
            raise ForgottenError("a clock was set")
        return time

    def standing(
        self,
        job: str,
        here: BootTime,
        entries: Sequence[Entry],
        new: Sequence[Entry],
        shelf: Mapping[str, Profile] | None = None,
    ) -> Standing:
        """The job as it stands by the `entries` that are at hand, the `new` ones among them."""
        self.require_going_on(here, entries, new)
        standing = fold(job, entries, shelf)
        return replace(standing, readings=Readings(standing.readings.entries, self.past))

    def require_going_on(self, here: BootTime, entries: Sequence[Entry], new: Sequence[Entry]) -> None:
        """Raise `ForgottenError` where a clock was set, or where anything changed what was worked out."""
        self.time(new, here)
        if any(isinstance(entry.facts, Unreadable) for entry in entries) or not only_go_on(self.before, new, self.past):
            raise ForgottenError("something changed what was worked out")


@dataclass(frozen=True)
class RecalledJob:
    """A long job as it stands, from what was kept of it and the rows after that."""

    standing: Standing
    time: LogTime
    covered: LogCover
    new: Sequence[Entry]


def _say_beside(line: str) -> None:
    print(line, file=sys.stderr, flush=True)


class LongLogs:
    """What is kept of the long jobs of a book."""

    def __init__(
        self,
        book: Book,
        say: Callable[[str], None] = _say_beside,
        ask: Callable[[Standing], object] = lambda _: None,
    ) -> None:
        """`say` tells the one who waits in a line that it takes long. `ask` asks what the next statement will ask."""
        self._book, self._say, self._ask = book, say, ask

    def told(self, job: str, here: BootTime, tell: Tell[T]) -> T | None:
        """What is told of a job by what was kept of it; None where the whole log must be read."""
        if not folded_file(self._book.path, job).exists():
            return None
        with contextlib.suppress(ForgottenError):
            recalled = self._recalled(job, here)
            told = tell(recalled.standing, recalled.time)
            if len(recalled.new) > RENEWED_AFTER:
                with contextlib.suppress(ForgottenError):
                    self._renew(recalled, here, tell)
            return told
        return None

    def told_of_whole(
        self, standing: Standing, entries: Sequence[Entry], here: BootTime, tell: Tell[T], tell_short: Tell[T]
    ) -> T:
        """What is told of a job whose whole log was read; where that is long, what it came to is kept."""
        time = log_time_of(spans_of(entry for entry in entries if entry.origin is None), here)
        if self._is_long(standing, entries, time):
            if (readings := len(standing.readings.entries)) >= SAID_FROM:
                self._say(f"{readings:,} readings are worked out, which takes a while; the next answer comes at once.")
            with contextlib.suppress(ForgottenError):
                covered = self._covered(standing.job, entries[-1].number, spans_of(entries), beginnings_of(entries))
                if all_stand(covered.spans, covered.beginnings, here):
                    return self._thin_told(standing, covered, here, tell)
        return tell_short(standing, time)

    def _is_long(self, standing: Standing, entries: Sequence[Entry], time: LogTime) -> bool:
        return (
            len(standing.readings.entries) >= LONG
            and not time.is_doubted
            and self._book.unrecorded is None
            and not any(entry.origin is not None or isinstance(entry.facts, Unreadable) for entry in entries)
        )

    def _renew(self, recalled: RecalledJob, here: BootTime, tell: Tell[T]) -> None:
        """Cover the rows that came since, from what was kept before and these rows alone."""
        spans = dict(recalled.covered.spans)
        for entry in recalled.new:
            with_entry(spans, entry)
        last, beginnings = recalled.new[-1].number, beginnings_of(recalled.new, recalled.covered.beginnings)
        covered = self._covered(recalled.standing.job, last, spans, beginnings)
        self._thin_told(recalled.standing, covered, here, tell)

    def _thin_told(self, standing: Standing, covered: LogCover, here: BootTime, tell: Tell[T]) -> T:
        """What is told by the last readings; what that asks of the others is noted and kept, if it tells the same."""
        thin, time = thinned(standing), log_time_of(covered.spans, here)
        told = tell(thin, time)
        past = thin.readings.past
        assert past is not None
        self._ask(thin)
        with contextlib.suppress(ForgottenError, OSError, ValueError):
            content = _content(thin, covered, past)
            again = PastReadings(past.tail_from, Notes(past.notes.asked), past.known_from)
            alone = replace(thin, readings=Readings(thin.readings.entries, again))
            if tell(alone, time) == told:
                self._write(standing.job, content)
        return told

    def _covered(self, job: str, last: int, spans: Spans, beginnings: Beginnings) -> LogCover:
        with self._no_damage() as connection:
            mark, count = end_of_cover(connection, job, last)
        return LogCover(last, mark, count, spans, beginnings)

    def _recalled(self, job: str, here: BootTime) -> RecalledJob:
        kept = self.kept(job)
        new = self._book.entries(job, after=kept.covered.last)
        time = kept.time(new, here)
        return RecalledJob(kept.standing(job, here, (*kept.before, *new), new), time, kept.covered, new)

    def kept(self, job: str) -> KeptLog:
        """What was kept of a job. Raises `ForgottenError` where it is not to be believed."""
        try:
            kept = _read(folded_file(self._book.path, job), job)
            covered = _covered_in(kept)
            past = PastReadings(_instant(kept["tail_from"]), Notes(kept["notes"]), kept["known_from"])
            ranges = canonical(kept["rows"])
        except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
            raise ForgottenError("what was kept cannot be read") from error
        self.require_covered(job, covered)
        with self._no_damage() as connection:
            before = read_numbered(connection, job, ranges)
        if len(before) != sum(last - first + 1 for first, last in kept["rows"]):
            raise ForgottenError("an entry is missing")
        return KeptLog(covered, past, before)

    def require_covered(self, job: str, covered: LogCover) -> None:
        """Raise `ForgottenError` unless the log still ends, up to there, as it did when it was worked out."""
        with self._no_damage() as connection:
            if end_of_cover(connection, job, covered.last) != (covered.hash, covered.count):
                raise ForgottenError("the log is not the one that was worked out")

    @contextlib.contextmanager
    def _no_damage(self) -> Iterator[sqlite3.Connection]:
        """The file for a look at it; whoever then reads the whole log mends what is damaged, and says what is wrong."""
        try:
            yield self._book.connection.own()
        except (sqlite3.Error, UnicodeDecodeError, ValueError, TypeError) as error:
            raise ForgottenError("the book cannot be read here") from error

    def _write(self, job: str, content: str) -> None:
        file = folded_file(self._book.path, job)
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        write_atomically(file, f"{sha256(content.encode()).hexdigest()}\n{content}")
        files = sorted(file.parent.glob("*.json"), key=lambda each: -each.stat().st_mtime)
        for old in files[KEPT_AT_MOST:]:
            old.unlink(missing_ok=True)


def only_go_on(before: Sequence[Entry], new: Sequence[Entry], past: PastReadings) -> bool:
    """Whether new entries leave the old readings, which are not `before`, as they were."""
    statements = {entry.number for entry in before if not isinstance(entry.facts, Reading | Withdrawn)}
    for entry in new:
        facts = entry.facts
        if entry.origin is not None or (isinstance(facts, Reading) and entry.happened < past.tail_from):
            return False
        if isinstance(facts, Withdrawn) and facts.entry not in statements:
            return False
    return True


def _content(thin: Standing, covered: LogCover, past: OlderReadings) -> str:
    spans = {
        boot_id: [span.first_s, span.lowest_s, span.highest_s, span.booted.isoformat(), span.is_trusted]
        for boot_id, span in covered.spans.items()
    }
    return canonical(
        {
            "program": __version__,
            "shape": SHAPE,
            "job": thin.job,
            "last": covered.last,
            "hash": covered.hash,
            "count": covered.count,
            "rows": _ranges([entry.number for entry in thin.entries]),
            "tail_from": past.tail_from.isoformat(),
            "known_from": past.known_from,
            "notes": past.notes.asked,
            "boots": list(spans),  # their order counts, and the keys of this text are sorted
            "spans": spans,
            "beginnings": {boot: [at.isoformat() for at in both] for boot, both in covered.beginnings.items()},
        }
    )


def _read(file: Path, job: str) -> dict[str, Any]:
    mark, _, content = file.read_text(encoding="utf-8").partition("\n")
    if sha256(content.encode()).hexdigest() != mark:
        raise ValueError("it is not what was written")
    kept: dict[str, Any] = json.loads(content)
    if (kept["program"], kept["shape"], kept["job"]) != (__version__, SHAPE, job):
        raise ValueError("it is of another program, or of another job")
    return kept


def _covered_in(kept: dict[str, Any]) -> LogCover:
    spans = {}
    for boot_id in kept["boots"]:
        first_s, lowest_s, highest_s, booted, trusted = kept["spans"][boot_id]
        spans[boot_id] = BootSpan(first_s, lowest_s, highest_s, _instant(booted), trusted)
    beginnings = {boot: (_instant(least), _instant(most)) for boot, (least, most) in kept["beginnings"].items()}
    return LogCover(kept["last"], kept["hash"], kept["count"], spans, beginnings)


def _ranges(numbers: Sequence[int]) -> list[list[int]]:
    """Numbers as ranges, each with its first and its last."""
    ranges: list[list[int]] = []
    for number in sorted(numbers):
        if ranges and ranges[-1][1] == number - 1:
            ranges[-1][1] = number
        else:
            ranges.append([number, number])
    return ranges


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text)
