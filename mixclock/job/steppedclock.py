"""Puts all entries on one clock, even if somebody set the machine's clock in between or it started wrong.

Each entry carries the wall clock and the boot clock. Within one boot their difference is constant, unless somebody or
something steps the wall clock. A laptop that was off for a winter may start an hour wrong, and the network then
corrects it. The resin did not notice. So the entries of a boot are moved onto the wall clock of its last entry: crew
and daemon go by that clock from then on.

A boot comes after everything that was written before it. If its clock says otherwise, that clock is behind, and nobody
knows how long the machine was off. Such a boot counts as beginning where the log ended, so that nothing moves later,
and the clock is in doubt. If a person then says that the clock is right, the log ran ahead, because nobody mixes a
bucket in the future. The earlier entries are then moved back until they end where the boot begins.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta

from mixclock.job.entry import Entry, WatchEvent
from mixclock.job.origins import by_book
from mixclock.values import dataclass, replace

STEP_FROM_S = 0.5
"""If the difference of both clocks moves by more than this, somebody stepped the clock; we measured noise under 0.1
ms."""

BEHIND_FROM_S = 5.0
"""A clock that is behind the log by more than this is in doubt. Two machines that keep time differ by less
(judgement)."""

CLOCK_IS_RIGHT = "clock is right"
"""The event by which a person says that the machine's clock is right, whatever the log says."""


@dataclass(frozen=True)
class BootTime:
    """What a machine's clocks say at one moment. `since_s` is when this log was first met in this boot, if known."""

    boot_id: str
    boot_s: float
    wall: datetime
    since_s: float | None = None

    @property
    def booted(self) -> datetime:
        """When this boot began, by the wall clock."""
        return self.wall - timedelta(seconds=self.boot_s)


@dataclass(frozen=True)
class LogTime:
    """What time it is by the log. `behind` is how far the machine's clock is behind the log, or zero."""

    now: datetime
    behind: timedelta = timedelta()

    @property
    def is_doubted(self) -> bool:
        """Whether the time is in doubt. Then it is only sure that it is no earlier."""
        return self.behind > timedelta()


def on_one_clock(entries: Sequence[Entry], here: BootTime | None = None) -> Sequence[Entry]:
    """The entries with the times of each boot on that boot's last wall clock. If nobody set the clock, they are the
    same objects.

    `here` is what the clocks say now, if that is known.
    """
    moved: dict[int, Entry] = {}
    for book, own in by_book(entries):  # each machine has its own clock, which tells nothing of another's
        begins = _begins(spans_of(own), here if not book else None)
        moved.update((entry.number, _moved(entry, begins)) for entry in own)
    if all(moved[entry.number] is entry for entry in entries):
        return entries
    return [moved[entry.number] for entry in entries]


@dataclass(frozen=True)
class BootSpan:
    """What the entries of one boot tell of its clocks. It is all that anybody needs, however many entries there are."""

    first_s: float
    lowest_s: float
    highest_s: float
    booted: datetime
    """When it began, by the wall clock of its last entry."""
    is_trusted: bool = False


Spans = Mapping[str, BootSpan]


def with_entry(spans: dict[str, BootSpan], entry: Entry) -> None:
    """Take one more entry, in the order in which they were written, into the spans of a log."""
    if not entry.boot_id:
        return
    trusted = isinstance(entry.facts, WatchEvent) and entry.facts.event == CLOCK_IS_RIGHT
    before = spans.get(entry.boot_id)
    at_s, booted = entry.boot_s, _booted(entry)
    if before is None:
        spans[entry.boot_id] = BootSpan(at_s, at_s, at_s, booted, trusted)
    else:
        spans[entry.boot_id] = BootSpan(
            before.first_s,
            min(before.lowest_s, at_s),
            max(before.highest_s, at_s),
            booted,
            before.is_trusted or trusted,
        )


def spans_of(entries: Iterable[Entry]) -> dict[str, BootSpan]:
    """The boots of a log, in the order in which they first wrote."""
    spans: dict[str, BootSpan] = {}
    for entry in entries:
        with_entry(spans, entry)
    return spans


def log_time(entries: Sequence[Entry], here: BootTime) -> LogTime:
    """What time it is by the log: the machine's time, unless that is behind the log."""
    return log_time_of(spans_of(entry for entry in entries if entry.origin is None), here)


def log_time_of(spans: Spans, here: BootTime) -> LogTime:
    """The same by the spans of this book's own entries."""
    begins = _begins(spans, here)
    behind = begins[here.boot_id] - here.booted
    if behind.total_seconds() <= STEP_FROM_S:
        return LogTime(here.wall)
    return LogTime(here.wall + behind, behind)


def goes_on(spans: Spans, here: BootTime, entry: Entry) -> bool:
    """Whether a new entry moves no earlier one and is not moved itself.

    That holds for an entry of this boot if nobody has set the clock since and it is not behind the log.
    """
    if entry.origin is not None or entry.boot_id != here.boot_id or entry.boot_id not in spans:
        return False
    if isinstance(entry.facts, WatchEvent) and entry.facts.event == CLOCK_IS_RIGHT:
        return False
    clocks = (spans[entry.boot_id].booted, _booted(entry))
    return all(abs((booted - here.booted).total_seconds()) <= STEP_FROM_S for booted in clocks)


Beginnings = Mapping[str, tuple[datetime, datetime]]
"""When each boot began by the wall clock of its entries: the earliest and the latest that any of them tells."""


def beginnings_of(entries: Iterable[Entry], before: Beginnings | None = None) -> Beginnings:
    """The beginnings of the boots of a log, or of one that goes on from `before`."""
    found = dict(before or {})
    for entry in entries:
        if entry.boot_id:
            booted = _booted(entry)
            least, most = found.get(entry.boot_id, (booted, booted))
            found[entry.boot_id] = min(least, booted), max(most, booted)
    return found


def all_stand(spans: Spans, beginnings: Beginnings, here: BootTime) -> bool:
    """Whether `on_one_clock` moves none of the entries whose boots began so."""
    begins = _begins(spans, here)
    return all(
        abs((begins[boot_id] - booted).total_seconds()) <= STEP_FROM_S
        for boot_id, both in beginnings.items()
        for booted in both
    )


def _begins(spans: Spans, here: BootTime | None) -> dict[str, datetime]:
    """When each boot began, on the clock to which its entries are moved."""
    boots = list(spans) if here is None or here.boot_id in spans else [*spans, here.boot_id]
    begins: dict[str, datetime] = {}
    high: datetime | None = None
    for boot_id in boots:
        span = spans.get(boot_id)
        met = here if here is not None and boot_id == here.boot_id else None
        trusted = span is not None and span.is_trusted
        begin = _begun(span, met)
        first_s = _first_s(span, met)
        first = begin + timedelta(seconds=first_s)
        if high is not None and not trusted and (high - first).total_seconds() > BEHIND_FROM_S:
            begin = max(begin, high)
        begins[boot_id] = begin
        if trusted:
            _move_back(begins, spans, boot_id, begin + timedelta(seconds=first_s))
        if span is not None:
            last = begin + timedelta(seconds=span.highest_s)
            high = last if high is None or trusted else max(high, last)
    return begins


def _begun(span: BootSpan | None, here: BootTime | None) -> datetime:
    """When a boot began: by the present clocks if it is the present boot, else by its last entry."""
    if here is not None:
        return here.booted
    assert span is not None
    return span.booted


def _first_s(span: BootSpan | None, here: BootTime | None) -> float:
    """When a boot first met the log. With a full disk it may read for long before it can write."""
    met = [] if span is None else [span.first_s]
    if here is not None:
        met.append(here.boot_s if here.since_s is None else here.since_s)
    return min(met)


def _move_back(begins: dict[str, datetime], spans: Spans, trusted: str, limit: datetime) -> None:
    """Move every boot before a trusted one back, so that it ends before the trusted one begins."""
    before = list(begins)[: list(begins).index(trusted)]
    for boot_id in reversed(before):
        span = spans.get(boot_id)
        if span is not None:
            begins[boot_id] = min(begins[boot_id], limit - timedelta(seconds=span.highest_s))
            limit = begins[boot_id] + timedelta(seconds=span.lowest_s)


def _moved(entry: Entry, begins: dict[str, datetime]) -> Entry:
    if not entry.boot_id:
        return entry
    by = begins[entry.boot_id] - _booted(entry)
    if abs(by.total_seconds()) <= STEP_FROM_S:
        return entry
    return replace(entry, happened=entry.happened + by, written=entry.written + by, moved_s=by.total_seconds())


def _booted(entry: Entry) -> datetime:
    """When the boot began by the wall clock of this entry."""
    return entry.written - timedelta(seconds=entry.boot_s)
