"""The one reading that would move a deadline most, asked for while the bucket is being mixed."""

from __future__ import annotations

from collections.abc import Iterable

from mixclock.decide.tracks import Track
from mixclock.formulas.cure import time_of_ripeness
from mixclock.job.frozen import FrozenRecord
from mixclock.job.progress import Batch
from mixclock.job.steps import BACK_ROLL, BROADCAST, POUR_OUT, WET_EDGE

WORTH_ASKING_S = 60.0
"""Nobody puts a thermometer anywhere for less than a minute."""

_ON_THE_FLOOR = (BACK_ROLL, WET_EDGE, BROADCAST)


class MissingReading(FrozenRecord):
    """A missing reading, of the pails or of the slab: which step it would move, and by how much at most."""

    of_pails: bool
    step: str
    moves_s: float


def reading_to_ask(batch: Batch, found: Iterable[Track]) -> MissingReading | None:
    """The missing reading that would move a deadline of a batch most; None if none is worth asking for."""
    asked = [each for track in found if track.batch.id == batch.id and (each := _asked_of(track)) is not None]
    worth = [each for each in asked if each.moves_s >= WORTH_ASKING_S]
    return max(worth, key=lambda each: each.moves_s, default=None)


def _asked_of(track: Track) -> MissingReading | None:
    if track.name == POUR_OUT and track.bucket is not None:
        return MissingReading(True, track.name, track.bucket.material_moves_s)
    if track.name in _ON_THE_FLOOR and track.closes is not None and track.weather is not None:
        return MissingReading(False, track.name, _moved_by_slab_s(track))
    return None


def _moved_by_slab_s(track: Track) -> float:
    """How much later the early edge would fall if somebody read the slab and found it at its likely temperature."""
    closes, weather = track.closes, track.weather
    assert closes is not None
    assert weather is not None
    start_s = closes.started.timestamp()
    read_s = time_of_ripeness(closes.clock.fast, weather.slab.likely, start_s, start_ripeness=closes.start_ripeness)
    return max(0.0, read_s - closes.edge.early.timestamp())
