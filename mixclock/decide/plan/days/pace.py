"""How fast this crew really is today, beside the rates of its job file. Its statements tell, bucket by bucket."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from mixclock.decide.hours import local
from mixclock.decide.kitshapes import DayPace
from mixclock.decide.plan.floor.crew import Crew, crew_of, times_of
from mixclock.decide.plan.floor.plans import FloorPiece
from mixclock.decide.plan.floor.precedence import soonest_ends
from mixclock.job import practice
from mixclock.job.progress import Batch, Portion, Standing
from mixclock.job.site import Person, Site
from mixclock.job.steps import BACK_ROLL, BROADCAST
from mixclock.values import replace

LOOKED_AT = 5
"""Only this many of the last buckets count: floors get harder and people get tired (judgement)."""

QUICKEST, SLOWEST = 0.8, 2.5
"""A share outside these is no pace: somebody stated a step late, or never stopped to state it (judgement)."""


def pace_of(standing: Standing, now: datetime) -> DayPace:
    """Today's pace: the median of the last buckets.

    A bucket counts from its pour to the last of its steps that was stated. Its steps should take what the crew's rates
    say. One person does them one after the other; with more people each step follows closely behind the one before.
    """
    crew, today = crew_of(standing.site), local(standing.site, now).date()
    shares = [
        share
        for batch in standing.batches
        if local(standing.site, batch.combined.at).date() == today
        for share in _shares(standing, crew, batch)
    ][-LOOKED_AT:]
    if not shares:
        return DayPace()
    from statistics import median  # before the first pour nobody needs it

    return DayPace(min(SLOWEST, max(QUICKEST, median(shares))), len(shares))


def at_pace(site: Site, pace: DayPace) -> Site:
    """The same job with a crew that is as fast as today."""
    if not pace.batches:
        return site
    return replace(site, crew=tuple(_slowed(person, pace.factor) for person in crew_of(site).people))


def _slowed(person: Person, factor: float) -> Person:
    return replace(
        person,
        squeegee_m2_h=practice.squeegee_rate_m2_h(person) / factor,
        roll_m2_h=practice.roll_rate_m2_h(person) / factor,
        broadcast_m2_h=practice.broadcast_rate_m2_h(person) / factor,
        cut_in_m_h=practice.cut_in_rate_m_h(person) / factor,
    )


def _shares(standing: Standing, crew: Crew, batch: Batch) -> Iterator[float]:
    """How long each portion took beside its time by the rates, if its last step was stated."""
    coat = standing.site.coat(batch.coat) if batch.coat else None
    if coat is None:
        return
    kinds = ("cut-in", "squeegee", "roll", *(("broadcast",) if coat.flake_kg_m2 else ()))
    last = BROADCAST if coat.flake_kg_m2 else BACK_ROLL
    for portion in batch.portions:
        ends = [portion.step(last, area) for area in portion.areas]
        done = [stated.at for stated in ends if stated is not None]
        if portion.assumed is None and ends and len(done) == len(ends):
            should_s = _should_take_s(standing.site, crew, kinds, portion)
            took = max(done) - portion.poured.at
            if should_s > 0 and timedelta() < took:
                yield took.total_seconds() / should_s


def _should_take_s(site: Site, crew: Crew, kinds: tuple[str, ...], portion: Portion) -> float:
    areas = [area for name in portion.areas if (area := site.area(name)) is not None]
    size_m2 = sum(area.size_m2 for area in areas)
    covered_m2 = min(size_m2, portion.covered_m2) if portion.covered_m2 is not None else size_m2
    if size_m2 <= 0.0:
        return 0.0
    edge_m = sum(practice.edge_m(area).value for area in areas) * covered_m2 / size_m2
    piece = (FloorPiece("", covered_m2, edge_m),)
    quickest = {
        kind: min(span for span in times_of(crew, kind, piece, {}) if span is not None)
        for kind in kinds
        if kind != "cut-in" or edge_m > 0.0
    }
    if len(crew.people) == 1:
        return float(sum(quickest.values()))
    return float(max(soonest_ends(quickest).values(), default=0))
