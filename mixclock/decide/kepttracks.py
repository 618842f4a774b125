"""Tracks that are kept: after a statement, only the tracks that it can have moved are worked out anew.

A batch's windows rest on the batch, on the pours on its areas and beside them, on the readings, the job file and the
sheets. If none of these changed, its tracks stay the same objects. Whoever follows them sees by that that nothing
moved.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from datetime import datetime

from mixclock.decide.buckets import BucketModel
from mixclock.decide.joints import neighbours_of
from mixclock.decide.tracks import Place, Track, TrackMaker
from mixclock.decide.weather import Weather
from mixclock.formulas.past import ForgottenError
from mixclock.job.entry import Entry, Noted, Reading
from mixclock.job.progress import Batch, Standing
from mixclock.values import dataclass


@dataclass(frozen=True)
class _LastTracks:
    standing: Standing
    batches: Mapping[int, Batch]
    tracks: Mapping[int, tuple[Track, ...]]
    conditions: dict[Place, Weather]


class KeptTracks:
    """The windows of a job that is followed."""

    def __init__(self, bucket_model: BucketModel) -> None:
        """`bucket_model` answers for the buckets."""
        self._model = bucket_model
        self._known: _LastTracks | None = None

    def __call__(self, standing: Standing) -> tuple[Track, ...]:
        """All windows of all batches, the same as `tracks` gives."""
        known, still = self._known, dict[int, tuple[Track, ...]]()
        maker = TrackMaker(standing, self._model)
        if known is not None and _same_world(known.standing, standing):
            moved = _moved(known, standing)
            still = {number: kept for number, kept in known.tracks.items() if number not in moved}
            maker.conditions.update(known.conditions)
        found = {
            batch.id: kept if (kept := still.get(batch.id)) is not None else tuple(maker.of_batch(batch))
            for batch in standing.batches
        }
        batches = {batch.id: batch for batch in standing.batches}
        self._known = _LastTracks(standing, batches, found, maker.conditions)
        return tuple(track for of_batch in found.values() for track in of_batch)


def tracks_since(standing: Standing, bucket_model: BucketModel, since: datetime) -> tuple[Track, ...]:
    """The windows of the batches mixed since an instant, as far as they rest on the readings at hand."""
    maker, found = TrackMaker(standing, bucket_model), []
    for batch in standing.batches:
        if batch.combined.at >= since:
            with suppress(ForgottenError):  # its windows are told when the whole log is worked out
                found.append(tuple(maker.of_batch(batch)))
    return tuple(track for of_batch in found for track in of_batch)


def _same_world(before: Standing, now: Standing) -> bool:
    """Whether everything that all batches rest on is unchanged: the job file, the sheets, the weather, and who calls
    what."""
    return (
        (before.site is now.site or before.site == now.site)
        and before.also_called == now.also_called
        and dict(before.profiles) == dict(now.profiles)
        and (before.readings is now.readings or _of_weather(before) == _of_weather(now))
        and _notes(before) == _notes(now)
    )


def _of_weather(standing: Standing) -> list[Entry]:
    """The readings that hold for a place. A reading in a bucket belongs to its batch alone."""
    return [entry for entry in standing.readings.entries if not _of_a_bucket_alone(entry)]


def _of_a_bucket_alone(entry: Entry) -> bool:
    facts = entry.facts
    places = (facts.air_c, facts.rh_pct, facts.slab_c) if isinstance(facts, Reading) else ()
    return bool(places) and all(each is None for each in places)


def _notes(standing: Standing) -> list[Entry]:
    """The notes: one may tell of open doors, which make a cold night."""
    return [
        entry for entry in standing.entries if isinstance(entry.facts, Noted) and entry.number not in standing.withdrawn
    ]


def _moved(known: _LastTracks, now: Standing) -> set[int]:
    """The batches whose tracks may have moved: those that changed, and those beside them."""
    batches = {batch.id: batch for batch in now.batches}
    changed = [
        each
        for number in known.batches.keys() | batches.keys()
        if not _is_same(known, now, known.batches.get(number), batches.get(number))
        for each in (known.batches.get(number), batches.get(number))
        if each is not None
    ]
    touched = {area for batch in changed for area in _areas(batch)}
    near = touched | {other for area in touched for other in neighbours_of(now.site, area)}
    beside = {batch.id for batch in now.batches if not near.isdisjoint(_areas(batch))}
    return {batch.id for batch in changed} | beside


def _is_same(known: _LastTracks, now: Standing, before: Batch | None, batch: Batch | None) -> bool:
    if batch is None or before is None or (before is not batch and before != batch):
        return False
    return known.standing.readings is now.readings or (
        known.standing.readings.bucket(batch.id) == now.readings.bucket(batch.id)
    )


def _areas(batch: Batch) -> Iterator[str]:
    yield from batch.areas
    for portion in batch.portions:
        yield from portion.areas
