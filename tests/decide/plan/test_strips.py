"""A coat that lives long in the pail and shortly on the floor is poured out of one bucket strip by strip."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

import pytest

from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.days.planjson import plan_from, plan_text
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.plans import Plan, PlannedStep
from mixclock.decide.plan.judge.chance import Spreads
from mixclock.decide.plan.judge.replay import replay_of
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from tests.decide.plan.chances import simulate
from tests.decide.plan.floors import DAYS, PRODUCT, bench, minutes, row_of

CLOSING = minutes(pour_out=40.0, back_roll=12.0, wet_edge=14.0)
"""A thin coat: 40 minutes in the pail, 12 on the floor."""


def slip(people: int = 1, sizes: tuple[float, ...] = (20.0,)) -> Site:
    """A slip of 20 m² that one person can't roll in 12 minutes: squeegee 11, roll 16 minutes."""
    crew = tuple(
        Person(f"hand {n}", squeegee_m2_h=110.0, roll_m2_h=75.0, broadcast_m2_h=60.0, cut_in_m_h=35.0)
        for n in range(1, people + 1)
    )
    coat = Coat("base", PRODUCT, 125.0, kit_l=4.0, split=True)
    areas = row_of(sizes, [0.0] * len(sizes))
    return Site("Slip", "UTC", areas, (coat,), crew, (Vessel("pail", 12.0),), Hours(DAYS, time(6), time(20)))


def of(plan: Plan, kind: str, strip: int) -> PlannedStep:
    return next(step for step in plan.steps if (step.kind, step.strip) == (kind, strip))


@pytest.mark.parametrize(("people", "size_m2"), [(1, 20.0), (2, 24.0)])
def test_what_cannot_be_rolled_at_once_is_laid_in_strips_out_of_one_bucket(people: int, size_m2: float) -> None:
    plan = make_plan(bench(slip(people, (size_m2,)), CLOSING))
    assert plan.feasible
    (batch,) = plan.batches
    assert batch.strips > 1
    for strip in range(1, batch.strips + 1):
        pour, spread, roll = (of(plan, kind, strip) for kind in ("pour", "squeegee", "roll"))
        assert timedelta(0) <= spread.starts - pour.ends <= timedelta(minutes=2)
        assert roll.starts >= spread.starts
        assert spread.ends < roll.ends <= pour.ends + timedelta(minutes=12)
        if strip > 1:
            assert spread.starts <= of(plan, "pour", strip - 1).ends + timedelta(minutes=14)
            assert pour.starts >= of(plan, "pour", strip - 1).ends
    assert of(plan, "pour", batch.strips).ends <= batch.mixed_at + timedelta(minutes=40)
    assert batch.poured_at == of(plan, "pour", batch.strips).ends


def test_the_strips_of_a_bucket_take_as_long_as_its_floor() -> None:
    """20 m² at 110 m²/h are 655 s of squeegee, at 75 m²/h 960 s of rolling, a whole second more a strip at most."""
    plan = make_plan(bench(slip(), CLOSING))
    strips = plan.batches[0].strips
    for kind, whole_s in (("squeegee", 20.0 / 110.0 * 3600.0), ("roll", 20.0 / 75.0 * 3600.0)):
        spent = sum((step.ends - step.starts).total_seconds() for step in plan.steps if step.kind == kind)
        assert whole_s <= spent <= whole_s + strips


def test_a_bucket_that_dies_with_its_film_is_not_laid_in_strips() -> None:
    plan = make_plan(bench(slip(), minutes(pour_out=15.0, back_roll=12.0, wet_edge=14.0)))
    assert all(batch.strips == 1 for batch in plan.batches)


def test_strips_are_named_by_their_areas_in_the_order_of_the_floor() -> None:
    plan = make_plan(bench(slip(sizes=(10.0, 10.0)), CLOSING))
    batch = plan.batches[0]
    told = [of(plan, "roll", strip).areas for strip in range(1, batch.strips + 1)]
    assert told[0][0] == batch.areas[0]
    assert [name for areas in told for name in areas] == sorted(name for areas in told for name in areas)


def test_a_plan_in_strips_is_played_through_by_each_strips_own_edges() -> None:
    """On a day like the one that was planned all holds; a film that lives 40 % shorter breaks it, whatever the pail."""
    floor = bench(slip(), CLOSING)
    plan = make_plan(floor)
    still = Spreads(step_sigma=0.0, cure_sigma=0.0)
    assert simulate(replay_of(plan, floor), 5, spreads=still).holds == 1.0
    shorter = bench(slip(), minutes(pour_out=40.0, back_roll=12.0 * 0.6, wet_edge=14.0))
    tired = {name: replace(span, likely_s=span.early_s) for name, span in shorter.timing.closing.items()}  # type: ignore[attr-defined]
    broken = replace(shorter, exact=replace(shorter.exact, closing=tired))  # type: ignore[type-var]
    assert simulate(replay_of(plan, broken), 5, spreads=still).holds == 0.0


def test_a_plan_in_strips_reads_back_from_the_log_as_it_was() -> None:
    plan = make_plan(bench(slip(), CLOSING))
    assert plan_from(plan_text(plan)) == plan


def hall(pour_out_min: float, stands_min: float = 0.0) -> Bench:
    """One area of 60 m² with 31 m to cut in, two people; windows of 12 minutes to back-roll, 14 to the next bucket."""
    site = slip(2, (60.0,))
    coat = replace(site.coats[0], wet_film_um=300.0)
    whole = replace(site, areas=row_of((60.0,), [31.0]), coats=(coat,), vessels=())
    opening = {"induction": stands_min} if stands_min else None
    return bench(whole, minutes(pour_out=pour_out_min, back_roll=12.0, wet_edge=14.0), opening)


def test_one_large_area_is_cut_until_two_people_keep_up_with_it() -> None:
    """The bucket lasts 6 minutes from the mix, so no strips. By hand, in minutes of work, of two hands:

    a quarter of it, 15 m²: squeegee 8.2, roll 12, cut in 13.3 = 33.5, 17 for two: later than 12;
    a ninth, 6.7 m²: measure 3, mix 3, pour 1, squeegee 3.6, roll 5.3, cut in 5.9 = 22, 11 for two: sooner than the 14
    of the wet edge, so bucket follows bucket however many there are.
    """
    plan = make_plan(hall(6.0), Ways(Effort(300, 150), exact=False))
    assert plan.feasible, plan.obstacle
    assert {batch.strips for batch in plan.batches} == {1}
    assert min(piece.parts for batch in plan.batches for piece in batch.pieces) > 4
    assert sum(batch.size_m2 for batch in plan.batches) == pytest.approx(60.0)


@pytest.mark.long
@pytest.mark.parametrize("stands_min", [0.0, 15.0], ids=["poured at once", "stands in the pail first"])
def test_one_large_area_is_laid_by_two_where_the_bucket_outlives_the_film(stands_min: float) -> None:
    """What stands 15 minutes first is mixed so much sooner, and takes nobody's hands meanwhile."""
    plan = make_plan(hall(18.0 + 2.0 * stands_min, stands_min))
    assert plan.feasible, plan.obstacle
    assert sum(batch.size_m2 for batch in plan.batches) == pytest.approx(60.0)
    for batch in plan.batches:
        mixed = max(step.ends for step in plan.steps if (step.kind, step.batch) == ("mix", batch.number))
        poured = min(step.starts for step in plan.steps if (step.kind, step.batch) == ("pour", batch.number))
        assert timedelta(minutes=stands_min) <= poured - mixed <= timedelta(minutes=stands_min + 2.0)
