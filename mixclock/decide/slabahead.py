"""The slab temperature to expect from a forecast of the air, by the lag and the offset that this floor's readings show.

A slab trails the air of its room like a body that loses its difference by a factor e in each span of its lag:
d(slab)/dt = (air + offset - slab) / lag. Lag and offset are those under which the readings of this job miss the least.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime
from itertools import pairwise
from typing import NamedTuple

from mixclock.job.readings import Sample
from mixclock.job.site import Forecast

LAGS_H = (0.5, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 18.0, 24.0, 36.0)
FEWEST_PAIRS = 4
LEAST_SPAN_H = 6.0
"""Fewer slab readings than this, or readings of one morning only, cannot tell a lag from an offset (judgement)."""

WORST_MISS_K = 2.0
"""If a floor's readings miss the law by more than this, mixclock does not guess (judgement)."""


class SlabFollows(NamedTuple):
    """How a slab trails its air: by `lag_h` hours, `offset_k` above it; `miss_k` is the miss (mean square)."""

    lag_h: float
    offset_k: float
    miss_k: float
    pairs: int


def slab_follows(air: Sequence[Sample], slab: Sequence[Sample]) -> SlabFollows | None:
    """How the slab trailed the air so far; None if the readings are too few, too close in time, or follow no such law.

    >>> from datetime import UTC, timedelta
    >>> start = datetime(2026, 4, 13, tzinfo=UTC)
    >>> air = [Sample(start + timedelta(hours=h), 15.0) for h in range(25)]
    >>> slab = [Sample(start + timedelta(hours=h), 12.0) for h in (4, 10, 16, 22)]
    >>> round(slab_follows(air, slab).offset_k, 3)
    -3.0
    """
    pairs = [sample for sample in slab if air and air[0].at <= sample.at <= air[-1].at]
    if len(pairs) < FEWEST_PAIRS or (pairs[-1].at - pairs[0].at).total_seconds() < LEAST_SPAN_H * 3600.0:
        return None
    best = min((_fit(air, pairs, lag_h) for lag_h in LAGS_H), key=lambda found: found.miss_k)
    return best if best.miss_k <= WORST_MISS_K else None


def _fit(air: Sequence[Sample], slab: Sequence[Sample], lag_h: float) -> SlabFollows:
    trailing = [_trailing(air, sample.at, lag_h) for sample in slab]
    misses = [sample.value - expected for sample, expected in zip(slab, trailing, strict=True)]
    offset_k = sum(misses) / len(misses)
    miss_k = math.sqrt(sum((miss - offset_k) ** 2 for miss in misses) / len(misses))
    return SlabFollows(lag_h, offset_k, miss_k, len(slab))


def _trailing(air: Sequence[Sample], at: datetime, lag_h: float) -> float:
    """The temperature of a body with that lag at an instant. It is exact if the air is linear between its samples."""
    lag_s = lag_h * 3600.0
    value = air[0].value
    for before, after in pairwise(air):
        if before.at >= at:
            break
        whole_s = (after.at - before.at).total_seconds()
        span_s = min(whole_s, (at - before.at).total_seconds())
        if span_s <= 0.0 or whole_s <= 0.0:
            continue
        slope = (after.value - before.value) / whole_s
        decay = math.exp(-span_s / lag_s)
        # the solution of dv/dt = (a + b t - v)/lag
        value = before.value + slope * (span_s - lag_s) + (value - before.value + slope * lag_s) * decay
    return value


def with_slab(points: Sequence[Forecast], air: Sequence[Sample], law: SlabFollows) -> tuple[Forecast, ...]:
    """The forecast with the slab worked out from its air, wherever the forecast names none itself."""
    known = [sample for sample in air if not points or sample.at < points[0].at]
    ahead = [*known, *(Sample(point.at, point.air_c) for point in points if point.air_c is not None)]
    return tuple(Forecast(point.at, point.air_c, point.rh_pct, _slab_at(point, ahead, law)) for point in points)


def _slab_at(point: Forecast, ahead: Sequence[Sample], law: SlabFollows) -> float | None:
    if point.slab_c is not None or point.air_c is None:
        return point.slab_c
    return round(_trailing(ahead, point.at, law.lag_h) + law.offset_k, 2)
