"""What signs seen on the floor teach about a product's clock.

An observation is the ripeness, by the sheet alone, at which a sign of an edge was seen: 1 says that the sheet was
right, 1.2 that this product took 20 % longer. Observations of one product and window update a log-normal factor that
is shrunk to the sheet. The profile file never changes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from statistics import median
from types import MappingProxyType

from mixclock.decide.buckets import BucketModel
from mixclock.decide.clocks import Learned, prior_sigma
from mixclock.decide.tracks import Track, tracks
from mixclock.job.progress import Standing

EDGE_OF_SIGN = MappingProxyType(
    {"stringy": "pour-out", "skinned": "tack-free", "tack free": "tack-free", "hard": "foot-traffic"}
)
"""Which edge a sign is an observation of."""

SHEET_COUNTS_AS = 2.0
"""How many observations the sheet's own figure is worth: judgement."""

SPREAD_COUNTS_AS = 4.0
"""How many observations the band that was claimed before is worth: judgement."""

WILD_FROM = 3.0
"""From how many scales off an observation loses half its weight: judgement."""

LEAST_SCALE = 0.15
"""How far off signs of one product may be without being wild: a look every few minutes (judgement)."""

PLAUSIBLE = (0.2, 5.0)
"""A ratio outside is a slip of the pen, not a resin: it is shown and not used (judgement)."""


@dataclass(frozen=True)
class Observation:
    """One sign as an observation of an edge. `ratio` is the sheet's ripeness at that instant."""

    product: str
    window: str
    ratio: float
    sign: str
    batch: int
    job: str
    at: datetime
    entry: int

    @property
    def used(self) -> bool:
        """Whether it is plausible enough to learn from."""
        low, high = PLAUSIBLE
        return low <= self.ratio <= high


def observations_of(standing: Standing, bucket_model: BucketModel) -> tuple[Observation, ...]:
    """What the signs of a job say, each against the sheet without anything learned."""
    if not any(batch.signs for batch in standing.batches):
        return ()
    plain = replace(
        standing, factors={}, batches=tuple(replace(batch, factors={}) for batch in standing.batches if batch.signs)
    )
    found: dict[tuple[int, str], Observation] = {}
    for track in tracks(plain, bucket_model):
        for seen in _seen_on(standing, track):
            found.setdefault((seen.batch, seen.window), seen)
    return tuple(sorted(found.values(), key=lambda seen: (seen.at, seen.entry)))


def _seen_on(standing: Standing, track: Track) -> Iterable[Observation]:
    for sign in track.batch.signs:
        if EDGE_OF_SIGN.get(sign.sign) != track.name or sign.area not in (None, track.area) or track.provisional:
            continue
        at = sign.stated.at
        ratio = track.ripeness_closes(at) if track.name == "pour-out" else track.ripeness_opens(at)
        if ratio is not None and ratio > 0.0:
            yield Observation(
                track.batch.product, track.name, ratio, sign.sign, track.batch.id, standing.job, at, sign.stated.entry
            )


def learn(window: str, observations: Sequence[Observation]) -> Learned:
    """The factor and spread that the observations of one product's window leave.

    The logarithms of the ratios are taken as normal with unknown mean and spread; the sheet stands in as a few
    observations of a ratio of 1, the band claimed before as a few observations of the spread (normal–inverse-gamma
    prior). Observations far from the rest lose weight (Cauchy weights about the median).
    """
    logs = [math.log(seen.ratio) for seen in observations if seen.used]
    prior = prior_sigma(window)
    if not logs:
        return Learned()
    weights = _weights(logs)
    count = sum(weights)
    mean = sum(weight * value for weight, value in zip(weights, logs, strict=True)) / count
    scatter = sum(weight * (value - mean) ** 2 for weight, value in zip(weights, logs, strict=True))
    worth = SHEET_COUNTS_AS + count
    centre = count * mean / worth
    alone = prior**2 / (1.0 + 1.0 / SHEET_COUNTS_AS)
    pulled = SHEET_COUNTS_AS * count / worth * mean**2
    variance = (SPREAD_COUNTS_AS * alone + scatter + pulled) / (SPREAD_COUNTS_AS + count)
    return Learned(math.exp(centre), math.sqrt(variance * (1.0 + 1.0 / worth)), len(logs))


def _weights(logs: Sequence[float]) -> list[float]:
    """Full weight near the middle of sheet and observations, little for one that is far from all."""
    with_sheet = [*logs, *([0.0] * int(SHEET_COUNTS_AS))]
    centre = median(with_sheet)
    scale = max(LEAST_SCALE, 1.4826 * median(abs(value - centre) for value in with_sheet))
    return [1.0 / (1.0 + ((value - centre) / (WILD_FROM * scale)) ** 2) for value in logs]


def learned_factors(observations: Iterable[Observation]) -> dict[tuple[str, str], Learned]:
    """What is learned per product (casefolded) and window."""
    grouped: dict[tuple[str, str], list[Observation]] = {}
    for seen in observations:
        grouped.setdefault((seen.product.casefold(), seen.window), []).append(seen)
    return {key: learn(key[1], group) for key, group in grouped.items()}
