"""What signs seen on the floor teach about a product's clock.

An observation is how many times the sheet's time had run, by the sheet alone, when a sign of an edge was seen: 1 says
that the sheet was right, 1.2 that this product took 20 % longer. Observations of one product and window update a
log-normal factor that is shrunk to the sheet. The profile file never changes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from statistics import median

from mixclock.decide.buckets import BucketModel
from mixclock.decide.clocks import NOTHING_LEARNED, LearnedFactor, prior_sigma
from mixclock.decide.tracks import Track, tracks
from mixclock.job.entry import FactorDropped, FactorUsed
from mixclock.job.profile import Profile
from mixclock.job.progress import Batch, Standing
from mixclock.job.steps import SIGN_ENDS
from mixclock.values import dataclass, replace

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
class EdgeObservation:
    """One sign as an observation of an edge. `ratio` is the factor with which the sheet's time would have been right.

    `dropped` tells that a person dropped what was learned up to then: it is shown and not used again.
    """

    product: str
    window: str
    ratio: float
    sign: str
    batch: int
    job: str
    at: datetime
    entry: int
    dropped: bool = False
    mass_kg: float = 0.0
    mark: str = ""
    """That of the sign's entry, the same in every book: an observation counts once, whatever its job is called."""

    @property
    def plausible(self) -> bool:
        """Whether it can be a resin at all, rather than a slip of the pen."""
        low, high = PLAUSIBLE
        return low <= self.ratio <= high

    @property
    def used(self) -> bool:
        """Whether it is learned from."""
        return self.plausible and not self.dropped


def observations_of(
    standing: Standing, bucket_model: BucketModel, sheet: Profile | None = None
) -> tuple[EdgeObservation, ...]:
    """What the signs of a job say, each against the sheet without anything learned.

    With `sheet` only that product's, and against that sheet: a profile that was corrected since is not blamed for what
    it said before. A look at an area that several batches share is one observation, of the batch that was last to show
    the sign: the others had shown it for some time.
    """
    batches = tuple(replace(batch, factors={}) for batch in standing.batches if batch.signs and _is_of(batch, sheet))
    if not batches:
        return ()
    profiles = standing.profiles if sheet is None else {**standing.profiles, sheet.name.casefold(): sheet}
    plain = replace(standing, factors={}, profiles=profiles, batches=batches)
    dropped = _dropped(standing)
    places = {entry.number: place for place, entry in enumerate(standing.entries, start=1)}
    marks = {entry.number: entry.mark for entry in standing.entries}
    seen = [
        replace(each, dropped=places[each.entry] < dropped.get(_key(each), 0), mark=marks[each.entry])
        for track in tracks(plain, bucket_model)
        for each in _seen_on(standing, track)
    ]
    of_batch = _first_of(seen, lambda each: (each.batch, each.window))
    of_look = _first_of(of_batch, lambda each: (each.entry, each.window))
    return tuple(sorted(of_look, key=lambda each: each.at))


def _first_of(
    seen: Iterable[EdgeObservation], group: Callable[[EdgeObservation], tuple[int, str]]
) -> list[EdgeObservation]:
    """The one with the least ripeness of each group; one that was dropped only where the group has no other."""
    chosen: dict[tuple[int, str], EdgeObservation] = {}
    for each in seen:
        known = chosen.setdefault(group(each), each)
        if (each.dropped, each.ratio) < (known.dropped, known.ratio):
            chosen[group(each)] = each
    return list(chosen.values())


def _is_of(batch: Batch, sheet: Profile | None) -> bool:
    return sheet is None or batch.product.casefold() == sheet.name.casefold()


def _key(seen: EdgeObservation) -> tuple[str, str]:
    return seen.product.casefold(), seen.window


def _dropped(standing: Standing) -> dict[tuple[str, str], int]:
    """The place in the log at which a person last dropped what was learned, per product and window."""
    drops: dict[tuple[str, str], int] = {}
    for place, entry in enumerate(standing.entries, start=1):
        if isinstance(entry.facts, FactorDropped) and entry.number not in standing.withdrawn:
            drops[(entry.facts.product.casefold(), entry.facts.window)] = place
    return drops


def _seen_on(standing: Standing, track: Track) -> Iterable[EdgeObservation]:
    for sign in track.batch.signs:
        if SIGN_ENDS.get(sign.sign) != track.name or sign.area not in (None, track.area) or track.provisional:
            continue
        at = sign.stated.at
        ratio = _ratio(track, at)
        if ratio is not None and ratio > 0.0:
            yield EdgeObservation(
                track.batch.product,
                track.name,
                ratio,
                sign.sign,
                track.batch.id,
                standing.job,
                at,
                sign.stated.entry,
                mass_kg=track.batch.mass_kg,
            )


def _ratio(track: Track, at: datetime) -> float | None:
    """How many times its sheet's time a clock had run, without what the bucket used up before it began."""
    if track.bucket is not None:
        return track.bucket.ripeness(at)
    ripe = track.ripeness_opens(at)
    if ripe is None or track.opens is None:
        return None
    used = track.opens.start_ripeness
    return (ripe - used) / (1.0 - used)


def learn(window: str, observations: Sequence[EdgeObservation]) -> LearnedFactor:
    """The factor and spread that the observations of one product's window leave.

    The logarithms of the ratios are taken as normal with unknown mean and spread; the sheet stands in as a few
    observations of a ratio of 1, the band claimed before as a few observations of the spread (normal–inverse-gamma
    prior). Observations far from the rest lose weight (Cauchy weights about the median).
    """
    logs = [math.log(seen.ratio) for seen in observations if seen.used]
    prior = prior_sigma(window)
    if not logs:
        return LearnedFactor()
    weights = _weights(logs)
    count = sum(weights)
    mean = sum(weight * value for weight, value in zip(weights, logs, strict=True)) / count
    scatter = sum(weight * (value - mean) ** 2 for weight, value in zip(weights, logs, strict=True))
    worth = SHEET_COUNTS_AS + count
    centre = count * mean / worth
    alone = prior**2 / (1.0 + 1.0 / SHEET_COUNTS_AS)
    pulled = SHEET_COUNTS_AS * count / worth * mean**2
    variance = (SPREAD_COUNTS_AS * alone + scatter + pulled) / (SPREAD_COUNTS_AS + count)
    largest_kg = max(seen.mass_kg for seen in observations if seen.used)
    return LearnedFactor(math.exp(centre), math.sqrt(variance * (1.0 + 1.0 / worth)), len(logs), largest_kg)


def _weights(logs: Sequence[float]) -> list[float]:
    """Full weight near the middle of sheet and observations, little for one that is far from all."""
    with_sheet = [*logs, *([0.0] * int(SHEET_COUNTS_AS))]
    centre = median(with_sheet)
    scale = max(LEAST_SCALE, 1.4826 * median(abs(value - centre) for value in with_sheet))
    return [1.0 / (1.0 + ((value - centre) / (WILD_FROM * scale)) ** 2) for value in logs]


def learned_factors(observations: Iterable[EdgeObservation]) -> dict[tuple[str, str], LearnedFactor]:
    """What is learned per product (casefolded) and window."""
    grouped: dict[tuple[str, str], list[EdgeObservation]] = {}
    for seen in observations:
        grouped.setdefault(_key(seen), []).append(seen)
    return {key: learn(key[1], group) for key, group in grouped.items()}


def factors_to_log(
    product: str, known: Mapping[str, LearnedFactor], logged: Mapping[str, FactorUsed]
) -> list[FactorUsed]:
    """What a batch that is mixed now must find in its job's log: the factors that differ from those logged before.

    A factor that was logged and is no longer held, because its observations were withdrawn or dropped elsewhere, is
    logged as that of the sheet: 1, seen by nobody.
    """
    due = []
    for window in sorted({*known, *logged}):
        now = known.get(window, NOTHING_LEARNED)
        before = logged.get(window)
        sigma = prior_sigma(window) if now.sigma is None else now.sigma
        wanted = FactorUsed(
            product, window, round(now.factor, 6), round(sigma, 6), now.observations, round(now.mass_kg, 2)
        )
        if (before is None and now.observations) or (before is not None and before != wanted):
            due.append(wanted)
    return due
