"""What comes back from job to job: a product, a lot, an hour of the day, a person; and how thin the evidence is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import comb
from statistics import median

from mixclock.decide.hours import local
from mixclock.decide.why.case import Case
from mixclock.decide.why.layers import Layer
from mixclock.job.entry import Found
from mixclock.job.steps import BACK_ROLL

LUCK_AT_MOST = 0.2
"""A pattern that luck alone gives more often than this is not named (judgement)."""

FEW = 8
"""With fewer areas than this behind it a pattern is called thin (judgement)."""

LEAST_PACES = 3
HOURS = ((0, 9, "before 9 o'clock"), (9, 12, "from 9 to 12"), (12, 15, "from 12 to 15"), (15, 24, "after 15 o'clock"))


@dataclass(frozen=True)
class Recurrence:
    """Something that failed areas share: how often it failed with it and without it, and how often luck gives that."""

    what: str
    kind: str
    failed_with: int
    laid_with: int
    failed_without: int
    laid_without: int
    luck: float

    @property
    def thin(self) -> bool:
        """Whether too little was laid to rely on it."""
        return self.laid_with < FEW or self.failed_with < 3


@dataclass(frozen=True)
class Pace:
    """How fast a person truly rolls, beside what the job files say."""

    who: str
    areas: int
    m2_h: float
    stated_m2_h: float | None


@dataclass(frozen=True)
class _Laying:
    """One coat on one area of one job."""

    features: frozenset[tuple[str, str]]
    failed: bool


def patterns(cases: Sequence[Case]) -> tuple[Recurrence, ...]:
    """Features of failed areas that luck hardly explains, the clearest first."""
    layings = [laying for case in cases for laying in _layings(case)]
    failed = sum(laying.failed for laying in layings)
    features = sorted({feature for laying in layings for feature in laying.features})
    found = [_pattern(feature, layings, failed) for feature in features]
    kept = [pattern for pattern in found if pattern.failed_with >= 2 and pattern.luck <= LUCK_AT_MOST]
    return tuple(sorted(kept, key=lambda pattern: pattern.luck))


def counts(cases: Sequence[Case]) -> tuple[int, int, int]:
    """Jobs, coats laid on areas, and how many of these failed."""
    layings = [laying for case in cases for laying in _layings(case)]
    return len(cases), len(layings), sum(laying.failed for laying in layings)


def _layings(case: Case) -> Iterator[_Laying]:
    for laid in case.layers.values():
        yield _Laying(frozenset(_features(case, laid)), _failed(case, laid))


def _failed(case: Case, laid: Layer) -> bool:
    """Whether a fault was found in the coat that was visible then."""
    for entry in case.faults(laid.area):
        above = case.above(laid)
        if (
            isinstance(entry.facts, Found)
            and laid.first <= entry.happened
            and (above is None or entry.happened < above.first)
        ):
            return True
    return False


def _features(case: Case, laid: Layer) -> Iterator[tuple[str, str]]:
    yield "product", laid.pieces[0].batch.product
    for batch in laid.batches:
        for lot in batch.lots:
            yield "lot", f"{batch.product}, lot {lot}"
        if batch.combined.by:
            yield "mixed by", batch.combined.by
    for piece in laid.pieces:
        if piece.poured is not None and piece.portion is not None:
            yield "hour", _hour(case, laid)
            if piece.portion.poured.by:
                yield "poured by", piece.portion.poured.by


def _hour(case: Case, laid: Layer) -> str:
    hour = local(case.standing.site, laid.first).hour
    return next(words for start, end, words in HOURS if start <= hour < end)


def _pattern(feature: tuple[str, str], layings: Sequence[_Laying], failed: int) -> Recurrence:
    having = [laying for laying in layings if feature in laying.features]
    failed_with = sum(laying.failed for laying in having)
    luck = chance(failed_with, len(having), failed, len(layings))
    return Recurrence(
        feature[1], feature[0], failed_with, len(having), failed - failed_with, len(layings) - len(having), luck
    )


def chance(hits: int, drawn: int, marked: int, total: int) -> float:
    """How often luck alone puts at least so many of the failed areas among those with a feature.

    P(X ≥ hits) for a hypergeometric X: `drawn` of `total` areas have the feature, `marked` failed (Fisher's exact
    test, one-sided).

    >>> round(chance(3, 3, 4, 10), 4)
    0.0333
    """
    ways = sum(comb(marked, k) * comb(total - marked, drawn - k) for k in range(hits, min(drawn, marked) + 1))
    return ways / comb(total, drawn)


def paces(cases: Sequence[Case]) -> tuple[Pace, ...]:
    """How fast each person rolled, from pour to the statement that it was rolled."""
    measured: dict[str, list[float]] = {}
    stated: dict[str, float | None] = {}
    for case in cases:
        for who, m2_h in _rolled(case):
            measured.setdefault(who, []).append(m2_h)
            person = case.standing.site.person(who)
            stated[who] = person.roll_m2_h if person else stated.get(who)
    return tuple(
        Pace(who, len(rates), median(rates), stated.get(who))
        for who, rates in sorted(measured.items())
        if len(rates) >= LEAST_PACES
    )


def _rolled(case: Case) -> Iterator[tuple[str, float]]:
    for laid in case.layers.values():
        area = case.standing.site.area(laid.area)
        for piece in laid.pieces:
            stated = piece.portion.step(BACK_ROLL, laid.area) if piece.portion else None
            if area is None or stated is None or piece.poured is None or not stated.by or len(laid.pieces) != 1:
                continue
            hours = (stated.at - piece.poured).total_seconds() / 3600.0
            if hours > 0.02:
                yield stated.by, area.size_m2 / hours
