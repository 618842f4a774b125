"""A bucket model that remembers its answers, so that a fresh command need not run the resins again.

A crew mixes the same kit all day, and states four or five things about each bucket. An answer rests on profile, mass,
vessel, warmth and air. If these are the same, the remembered answer holds, and the model is not even imported. Pure:
the caller hands the memory in.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Any, Protocol

from mixclock.decide.buckets import Bucket, BucketAnswer, BucketModel
from mixclock.decide.shapes import Edge
from mixclock.job.profile import Profile
from mixclock.values import dataclass

_AIR_LOOKED_AT = (0.0, 0.25, 0.5, 0.75, 1.0)
"""The shares of the sheet's longest pot life at which the air is compared."""


PHYSICS = 3
"""Goes up by one whenever the same bucket would get another answer. Older answers are then not recalled."""


class Memory(Protocol):
    """Keeps small JSON values by key, for as long as it likes."""

    def recall(self, key: str) -> Any:
        """What was kept under a key; None if nothing is."""

    def keep(self, key: str, value: Any) -> None:
        """Keep a value; losing it costs some milliseconds and nothing else."""


def remembered(model: Callable[[], BucketModel], memory: Memory, version: str) -> BucketModel:
    """A model that asks `model()` only for what it has not answered before; `version` tells models apart."""
    sheets = _Sheets()

    def answer(bucket: Bucket) -> BucketAnswer | None:
        key = _key(bucket, version, sheets)
        kept = memory.recall(key) if key is not None else None
        if kept is None:
            fresh = model()(bucket)
            if fresh is None or key is None:
                return fresh
            kept = _kept(fresh, bucket.combined)
            memory.keep(key, kept)
        return _KeptAnswer(bucket, kept, model, memory, key or "").answer()

    return answer


@dataclass(frozen=True)
class _KeptAnswer:
    bucket: Bucket
    kept: dict[str, Any]
    model: Callable[[], BucketModel]
    memory: Memory
    key: str

    def answer(self) -> BucketAnswer:
        start = self.bucket.combined
        early, likely, late = (
            None if span_s is None else start + timedelta(seconds=span_s) for span_s in self.kept["edge_s"]
        )
        assert early is not None
        assert likely is not None
        return BucketAnswer(
            edge=Edge(early, likely, late),
            ripeness=self._ripeness,
            used=self._used,
            because=tuple(self.kept["because"]),
            assumed=tuple(self.kept["assumed"]),
            material_moves_s=self.kept["material_moves_s"],
            too_big=self.kept["too_big"],
            lot_factor=self.kept["lot_factor"],
        )

    def _ripeness(self, at: datetime) -> float:
        likely_s: float = self.kept["edge_s"][1]
        return max(0.0, (at - self.bucket.combined).total_seconds()) / likely_s

    def _used(self, at: datetime) -> float:
        """What the bucket had used up when it was poured. The model is asked once for each instant, to a tenth of a
        second."""
        key = f"{self.key}/{round(max(0.0, (at - self.bucket.combined).total_seconds()), 1)}"
        share = self.memory.recall(key)
        if share is None:
            fresh = self.model()(self.bucket)
            assert fresh is not None
            share = fresh.used(at)
            self.memory.keep(key, share)
        return float(share)


def _kept(answer: BucketAnswer, start: datetime) -> dict[str, Any]:
    edge = answer.edge
    spans = [None if at is None else (at - start).total_seconds() for at in (edge.early, edge.likely, edge.late)]
    return {
        "edge_s": spans,
        "because": list(answer.because),
        "assumed": list(answer.assumed),
        "material_moves_s": answer.material_moves_s,
        "too_big": answer.too_big,
        "lot_factor": answer.lot_factor,
    }


class _Sheets:
    """Sheets written out, each once: a crew's buckets share a few."""

    def __init__(self) -> None:
        self._said: dict[int, tuple[Profile, str]] = {}

    def said(self, profile: Profile) -> str:
        kept = self._said.get(id(profile))
        if kept is None:  # the sheet is kept too, so that no other object can get its identity
            kept = self._said[id(profile)] = profile, repr(profile)
        return kept[1]


def _key(bucket: Bucket, version: str, sheets: _Sheets) -> str | None:
    """The key of what an answer rests on; None if a few figures do not settle it."""
    pot_life = bucket.profile.pot_life
    if pot_life is None:
        return None
    start_s = bucket.combined.timestamp()
    lasts_s = max(point.span_s for point in pot_life.span.points) * max(1.0, bucket.learned_factor)
    if not math.isfinite(lasts_s):
        return None
    air = [round(bucket.air.likely.at(start_s + share * lasts_s), 3) for share in _AIR_LOOKED_AT]
    readings = [((each.at - bucket.combined).total_seconds(), each.value) for each in bucket.readings]
    learned = (bucket.learned_factor, bucket.learned_sigma, bucket.observations)
    mixed = (bucket.mass_kg, bucket.across_m, bucket.material_c, bucket.mixing_s, bucket.observed_kg, bucket.cups)
    rests_on = (
        mixed,
        air,
        bucket.material_doubt_k,
        bucket.air.assumed,
        readings,
        *(() if bucket.advised else (False,)),
    )
    said = sheets.said(bucket.profile) + repr((version, PHYSICS, rests_on, learned, bucket.units.system))
    return f"bucket/{sha256(said.encode()).hexdigest()}"
