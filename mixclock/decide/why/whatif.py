"""The job replayed with one statement changed: which windows would have held."""

from __future__ import annotations

from datetime import datetime, timedelta

from mixclock.decide.buckets import BucketModel
from mixclock.decide.slabdoubt import STALE_AFTER
from mixclock.decide.tracks import Track, tracks
from mixclock.job.entry import Combined, Did, Entry, MixingEnded, Poured
from mixclock.job.folding import fold
from mixclock.job.progress import Batch, Standing
from mixclock.values import dataclass, replace

MIXED, POURED = "mixed", "poured"


@dataclass(frozen=True)
class TimeChange:
    """One statement put at another time: `step` is "mixed", "poured", or the name of a step such as "back-roll"."""

    batch: int
    step: str
    at: datetime


@dataclass(frozen=True)
class WindowOutcome:
    """One window as it was and as it would have been. A share tells how far its clock had run when the step was
    done."""

    batch: int
    area: str | None
    window: str
    was_pct: float | None
    would_be_pct: float | None
    held: bool | None
    would_hold: bool | None
    no_reading: bool = False

    @property
    def moved(self) -> bool:
        """Whether the change makes any difference to it."""
        return self.was_pct != self.would_be_pct


def what_if(standing: Standing, model: BucketModel, change: TimeChange) -> tuple[WindowOutcome, ...]:
    """Every window that the change touches. The later steps of that batch keep their distance, at the crew's pace."""
    other = fold(standing.job, changed(standing, change))
    before = {_key(track): track for track in tracks(standing, model)}
    after = {_key(track): track for track in tracks(other, model)}
    keys = dict.fromkeys((*before, *after))
    rows = [_outcome(standing, before.get(key), after.get(key), own=key[0] == change.batch) for key in keys]
    return tuple(row for row in rows if row is not None and (row.moved or row.batch == change.batch))


def changed(standing: Standing, change: TimeChange) -> tuple[Entry, ...]:
    """The log with the statement at its other time. If nobody stated the pour, one is put in."""
    batch = standing.batch(change.batch)
    if batch is None:
        raise ValueError(f"there is no batch {change.batch}")
    if change.step != MIXED and change.at < batch.combined.at:
        raise ValueError(f"batch {change.batch} was not mixed by then; name a later time")
    was = stated_at(batch, change.step)
    if was is None and change.step != POURED:
        raise ValueError(f"nobody stated when batch {change.batch} was {change.step}; say poured, or state it first")
    if was is None:
        return (*standing.entries, _pour(standing, batch, change.at))
    return moved(standing, batch, was, change.at - was)


def stated_at(batch: Batch, step: str) -> datetime | None:
    """When a step of a batch was stated; the first time, if the batch went in parts."""
    if step == MIXED:
        return batch.combined.at
    if step == POURED:
        pours = [portion.poured.at for portion in batch.portions if not portion.assumed]
        return min(pours, default=None)
    found = [stated.at for portion in batch.portions for (name, _), stated in portion.steps.items() if name == step]
    return min(found, default=None)


def moved(standing: Standing, batch: Batch, since: datetime, by: timedelta) -> tuple[Entry, ...]:
    """The log with everything stated of a batch from an instant on moved by a span."""
    return tuple(
        _put_off(entry, by) if entry.happened >= since and belongs(entry, batch) else entry
        for entry in standing.entries
    )


def _put_off(entry: Entry, by: timedelta) -> Entry:
    return replace(entry, happened=entry.happened + by, written=max(entry.written, entry.happened + by))


def belongs(entry: Entry, batch: Batch) -> bool:
    """Whether a statement is one of the steps of a batch."""
    facts = entry.facts
    if isinstance(facts, Combined):
        return entry.number == batch.combined.entry
    if isinstance(facts, MixingEnded | Poured):
        return facts.batch == batch.id
    if isinstance(facts, Did):
        own = {stated.entry for portion in batch.portions for stated in portion.steps.values()}
        return facts.batch == batch.id or entry.number in own
    return False


def _pour(standing: Standing, batch: Batch, at: datetime) -> Entry:
    number = max(entry.number for entry in standing.entries) + 1
    return Entry(number, standing.job, at, at, Poured(batch.id, batch.areas))


_Key = tuple[int, str | None, int, str]


def _key(track: Track) -> _Key:
    return track.batch.id, track.area, track.portion, track.name


def _outcome(standing: Standing, before: Track | None, after: Track | None, own: bool) -> WindowOutcome | None:
    known = after or before
    assert known is not None
    was, would = _share(before), _share(after)
    if was is None and would is None:
        return None
    own_floor = own and known.area is not None
    if (own_floor or was != would) and after is not None and not _was_read(standing, after):
        return WindowOutcome(known.batch.id, known.area, known.name, was, None, _holds(before), None, no_reading=True)
    return WindowOutcome(known.batch.id, known.area, known.name, was, would, _holds(before), _holds(after))


def _was_read(standing: Standing, track: Track) -> bool:
    """Whether somebody read slab or air near the time of a step: hours without readings give no figure."""
    until = track.stated.at if track.stated is not None else track.starts
    readings = standing.readings
    times = [sample.at for sample in (*readings.slab(track.area), *readings.air(track.area))]
    return any(track.starts - STALE_AFTER <= at <= until + STALE_AFTER for at in times) and any(
        abs(at - until) <= STALE_AFTER for at in times
    )


def _share(track: Track | None) -> float | None:
    if track is None or track.stated is None or _opens_at_once(track):
        return None
    at = track.stated.at
    ripe = track.ripeness_closes(at) if track.closes or track.bucket else track.ripeness_opens(at)
    return round(ripe * 100.0, 1) if ripe is not None else None


def _opens_at_once(track: Track) -> bool:
    """A window that nobody has to wait for and that never shuts says nothing."""
    return track.closes is None and track.opens is not None and track.opens.edge.likely <= track.starts


def _holds(track: Track | None) -> bool | None:
    """Whether a step was done while its window was open, by the likely clocks."""
    if track is None or track.stated is None:
        return None
    at = track.stated.at
    opened, closed = track.ripeness_opens(at), track.ripeness_closes(at)
    return (opened is None or opened >= 1.0) and (closed is None or closed <= 1.0)
