"""What comes back with faults from job to job: a product, a lot, an hour of the day, a person. And how thin the
evidence is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from math import exp, lgamma
from statistics import median

from mixclock.decide.hours import local
from mixclock.decide.why.case import Case
from mixclock.decide.why.layers import Layer
from mixclock.job.entry import Found
from mixclock.job.steps import BACK_ROLL
from mixclock.values import dataclass

LUCK_AT_MOST = 0.2
"""A pattern that luck alone gives more often than this is not named (judgement)."""

FEW = 8
"""With fewer areas than this behind it a pattern is called thin (judgement)."""

LEAST_PACES = 3
HOURS = ((0, 9, "before 9 o'clock"), (9, 12, "from 9 to 12"), (12, 15, "from 12 to 15"), (15, 24, "after 15 o'clock"))


@dataclass(frozen=True)
class Recurrence:
    """Something that failed areas share: how often areas failed with it and without it, and how often luck alone does
    that."""

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
    """How fast a person really rolls, beside what the job files say."""

    who: str
    areas: int
    m2_h: float
    stated_m2_h: float | None


@dataclass(frozen=True)
class _Laying:
    """One coat on one area of one job."""

    features: frozenset[tuple[str, str]]
    failed: bool


@dataclass(frozen=True)
class JobLookedAt:
    """What one job tells across jobs: what was laid, whether it failed, and how fast each person rolled.

    It follows from the job's log alone. So the book keeps it, and looks at a job again only if something was written.
    """

    layings: tuple[tuple[tuple[tuple[str, str], ...], bool], ...]
    rolled: tuple[tuple[str, float], ...]
    stated_m2_h: tuple[tuple[str, float | None], ...]


def looked_at(case: Case) -> JobLookedAt:
    """The part of a job that matters across jobs."""
    layings = tuple((tuple(sorted(laying.features)), laying.failed) for laying in _layings(case))
    rolled = tuple(_rolled(case))
    people = {who: case.standing.site.person(who) for who, _ in rolled}
    stated = tuple((who, person.roll_m2_h if person else None) for who, person in people.items())
    return JobLookedAt(layings, rolled, stated)


def patterns(jobs: Sequence[JobLookedAt]) -> tuple[Recurrence, ...]:
    """Features of failed areas that luck hardly explains, the clearest first."""
    laid: Counter[tuple[str, str]] = Counter()
    failed_with: Counter[tuple[str, str]] = Counter()
    total = failed = 0
    for job in jobs:
        for features, has_failed in job.layings:
            total, failed = total + 1, failed + has_failed
            laid.update(features)
            failed_with.update(features if has_failed else ())
    found = []
    for feature in sorted(each for each, count in failed_with.items() if count >= 2):
        hits, drawn = failed_with[feature], laid[feature]
        luck = chance(hits, drawn, failed, total)
        found.append(Recurrence(feature[1], feature[0], hits, drawn, failed - hits, total - drawn, luck))
    return tuple(sorted((each for each in found if each.luck <= LUCK_AT_MOST), key=lambda pattern: pattern.luck))


def counts(jobs: Sequence[JobLookedAt]) -> tuple[int, int, int]:
    """Jobs, coats laid on areas, and how many of these failed."""
    layings = [has_failed for job in jobs for _, has_failed in job.layings]
    return len(jobs), len(layings), sum(layings)


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


def chance(hits: int, drawn: int, marked: int, total: int) -> float:
    """How often luck alone puts at least this many of the failed areas among those with a feature.

    P(X ≥ hits) for a hypergeometric X: `drawn` of `total` areas have the feature, `marked` failed (Fisher's exact
    test, one-sided).

    >>> round(chance(3, 3, 4, 10), 4)
    0.0333
    """
    all_ways = _log_ways(total, drawn)
    most = min(drawn, marked)
    least = max(hits, drawn - (total - marked))  # fewer hits cannot be: the sound areas do not fill the draw
    return sum(
        exp(_log_ways(marked, k) + _log_ways(total - marked, drawn - k) - all_ways) for k in range(least, most + 1)
    )


def _log_ways(of: int, choose: int) -> float:
    """The logarithm of the binomial coefficient. The number itself has thousands of digits in a book of many jobs."""
    return lgamma(of + 1) - lgamma(choose + 1) - lgamma(of - choose + 1)


def paces(jobs: Sequence[JobLookedAt]) -> tuple[Pace, ...]:
    """How fast each person rolled, from pour to the statement that it was rolled."""
    measured: dict[str, list[float]] = {}
    stated: dict[str, float | None] = {}
    for job in jobs:
        for who, m2_h in job.rolled:
            measured.setdefault(who, []).append(m2_h)
        stated.update((who, m2_h) for who, m2_h in job.stated_m2_h if m2_h is not None or who not in stated)
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
