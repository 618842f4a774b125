"""Entries on one clock although somebody set the machine's clock in between, or it came up wrong.

Each entry carries the wall clock and the boot clock. Within one boot their difference is constant, unless the wall
clock was stepped: a laptop that was off for a winter comes up an hour wrong and is put right when it finds a network.
Resin did not notice. So the entries of a boot are moved onto the wall clock of its last entry, which is the one that
the crew and the daemon look at from then on.

A boot comes after everything that was written before it. Where its clock says otherwise that clock is behind, and how
long the machine was off is unknown: no less than nothing. Such a boot is taken to begin where the log ended, so that
nothing moves later, and the clock counts as doubted. Where a person says that it is right, the log ran ahead: what was
written before is moved back until it ends where the boot begins, because nobody mixes a bucket in the future.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from mixclock.job.entry import Entry, WatchEvent
from mixclock.job.origins import book_of
from mixclock.values import dataclass, replace

STEP_FROM_S = 0.5
"""A difference of both clocks that moved by more than this is a step; noise was measured at under 0.1 ms."""

BEHIND_FROM_S = 5.0
"""A clock that is behind the log by more than this is doubted; two machines that keep time differ less (judgement)."""

CLOCK_IS_RIGHT = "clock is right"
"""The event by which a person says that the machine's clock is right, whatever stands in the log."""


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
    """What time it is by the log. `behind` is by how much the machine's clock is behind it, zero where it is not."""

    now: datetime
    behind: timedelta = timedelta()

    @property
    def is_doubted(self) -> bool:
        """Whether the time is unknown: only that it is no earlier is sure."""
        return self.behind > timedelta()


def on_one_clock(entries: Sequence[Entry], here: BootTime | None = None) -> Sequence[Entry]:
    """The entries with the times of each boot on that boot's last wall clock; the same ones where nobody set it.

    `here` is what the clocks say now, where that is known.
    """
    books = {book_of(entry) for entry in entries}
    moved: dict[int, Entry] = {}
    for book in books:  # each machine has a clock of its own, and says nothing of another's
        own = [entry for entry in entries if book_of(entry) == book] if len(books) > 1 else entries
        begins = _begins(own, here if not book else None)
        moved.update((entry.number, _moved(entry, begins)) for entry in own)
    if all(moved[entry.number] is entry for entry in entries):
        return entries
    return [moved[entry.number] for entry in entries]


def log_time(entries: Sequence[Entry], here: BootTime) -> LogTime:
    """What time it is by the log, which is what the machine says unless that is behind the log."""
    begins = _begins([entry for entry in entries if entry.origin is None], here)
    behind = begins[here.boot_id] - here.booted
    if behind.total_seconds() <= STEP_FROM_S:
        return LogTime(here.wall)
    return LogTime(here.wall + behind, behind)


def _begins(entries: Sequence[Entry], here: BootTime | None) -> dict[str, datetime]:
    """When each boot began, on the clock to which its entries are moved."""
    spans: dict[str, list[Entry]] = {}
    trusted: set[str] = set()
    for entry in entries:
        if entry.boot_id:
            spans.setdefault(entry.boot_id, []).append(entry)
            if isinstance(entry.facts, WatchEvent) and entry.facts.event == CLOCK_IS_RIGHT:
                trusted.add(entry.boot_id)
    if here is not None:
        spans.setdefault(here.boot_id, [])
    begins: dict[str, datetime] = {}
    high: datetime | None = None
    for boot_id, span in spans.items():
        is_here = here is not None and boot_id == here.boot_id
        begin = here.booted if here is not None and is_here else _booted(span[-1])
        first_s = _first_s(span, here if is_here else None)
        first = begin + timedelta(seconds=first_s)
        if high is not None and boot_id not in trusted and (high - first).total_seconds() > BEHIND_FROM_S:
            begin = max(begin, high)
        begins[boot_id] = begin
        if boot_id in trusted:
            _move_back(begins, spans, boot_id, begin + timedelta(seconds=first_s))
        if span:
            last = begin + timedelta(seconds=max(entry.boot_s for entry in span))
            high = last if high is None or boot_id in trusted else max(high, last)
    return begins


def _first_s(span: Sequence[Entry], here: BootTime | None) -> float:
    """When a boot first met the log: with a full disk it reads for long before it writes."""
    met = [entry.boot_s for entry in span[:1]]
    if here is not None:
        met.append(here.boot_s if here.since_s is None else here.since_s)
    return min(met)


def _move_back(
    begins: dict[str, datetime], spans: Mapping[str, Sequence[Entry]], trusted: str, limit: datetime
) -> None:
    """Let every boot before a trusted one end before it begins."""
    before = list(begins)[: list(begins).index(trusted)]
    for boot_id in reversed(before):
        span_s = [entry.boot_s for entry in spans[boot_id]]
        if span_s:
            begins[boot_id] = min(begins[boot_id], limit - timedelta(seconds=max(span_s)))
            limit = begins[boot_id] + timedelta(seconds=min(span_s))


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
