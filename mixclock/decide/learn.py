"""What signs seen on the floor teach about a product's clock.

Somebody sees a sign of an edge. By then the sheet's own time has run a certain number of times over: that number is the
observation. At 1 the sheet was right; at 1.2 this product took 20 % longer. The observations of one product and window
update a log-normal factor, which is shrunk towards the sheet. The profile file never changes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime

from mixclock.decide.buckets import BucketModel
from mixclock.decide.clocks import NOTHING_LEARNED, LearnedFactor, prior_sigma
from mixclock.decide.tracks import Track, tracks
from mixclock.job.entry import FactorDropped, FactorUsed
from mixclock.job.profile import Profile
from mixclock.job.progress import Batch, Standing
from mixclock.job.steps import SIGN_ENDS
from mixclock.values import dataclass, replace

SHEET_COUNTS_AS = 2.0
"""The sheet's own figure counts as this many observations: judgement."""

SPREAD_COUNTS_AS = 4.0
"""The band before anything was learned counts as this many observations: judgement."""

WILD_FROM = 3.0
"""An observation this many scales off loses half its weight: judgement."""

LEAST_SCALE = 0.15
"""Signs of one product may differ by this much and still be sound: people look every few minutes (judgement)."""

PLAUSIBLE = (0.2, 5.0)
"""A ratio outside these is a slip of the pen, not a resin. It is shown and not used (judgement)."""


@dataclass(frozen=True)
class EdgeObservation:
    """One sign as an observation of an edge. `ratio` is the factor that would have made the sheet's time right.

    `dropped` tells that a person later dropped what had been learned: the sign is shown and not used again.
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
    """The mark of the sign's entry, which is the same in every book. So an observation counts once, whatever its job is
    called."""

    @property
    def plausible(self) -> bool:
        """Whether the ratio can be a resin's, rather than a slip of the pen."""
        low, high = PLAUSIBLE
        return low <= self.ratio <= high

    @property
    def used(self) -> bool:
        """Whether it is learned from."""
        return self.plausible and not self.dropped


def observations_of(
    standing: Standing, bucket_model: BucketModel, sheet: Profile | None = None
) -> tuple[EdgeObservation, ...]:
    """The observations of a job: each sign against the sheet alone, without anything learned.

    With `sheet`, only that product's signs count, and against that sheet: a profile that somebody has corrected is not
    blamed for its old figures. One look at an area that several batches share is one observation. It is that of the
    batch that showed the sign last; the others had shown it for some time.
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
    """Of each group, the observation with the least ratio. A dropped one counts only if its group has no other."""
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
    """How many times its sheet's time a clock had run, without the share that the bucket used up before."""
    if track.bucket is not None:
        return track.bucket.ripeness(at)
    ripe = track.ripeness_opens(at)
    if ripe is None or track.opens is None:
        return None
    used = track.opens.start_ripeness
    return (ripe - used) / (1.0 - used)


def learn(window: str, observations: Sequence[EdgeObservation]) -> LearnedFactor:
    """The factor and spread that the observations of one product's window leave.

    The logarithms of the ratios count as normal with unknown mean and spread. The sheet counts as a few observations of
    a ratio of 1, and the earlier band as a few observations of the spread (normal–inverse-gamma prior). Observations
    far from the rest lose weight (Cauchy weights about the median).
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
    """The weight of each observation: full near the median of sheet and observations, little far from it."""
    from statistics import median  # only where somebody saw an end

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
    """The factors that the log needs before a batch is mixed now: those that differ from the factors logged before.

    A logged factor may hold no longer, because somebody withdrew or dropped its observations elsewhere. It is then
    logged anew as the sheet's own: 1, without observations.
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
