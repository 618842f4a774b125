"""What is left of a bucket that is laid in strips is planned strip by strip, from where the crew stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import pytest

from mixclock.decide.plan.days.bench import Standpoint
from mixclock.decide.plan.days.bucketrest import BucketUnderWay, rest_in_strips
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.days.standpoint import StandpointReport, standpoint_of
from mixclock.decide.plan.floor.crew import crew_of
from mixclock.decide.plan.floor.plans import FloorPiece, Plan, PlannedStep
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.entry import Combined, Did, JobStarted, Poured, ProfileUsed, Reading
from mixclock.job.site import Vessel
from tests.boatshed import PAIL, PAIR_WITH_RATES, shed_job
from tests.decide.plan.floors import PRODUCT, bench, minutes
from tests.decide.plan.test_replan import bench_of
from tests.decide.plan.test_strips import slip
from tests.decide.worlds import Log, instant

QUICK = Ways(Effort(200, 100), exact=False)
FILM_MIN, EDGE_MIN = 11, 14
LONG_LIVED = f"""
name = "Shed base"
family = "waterborne epoxy"
source = "invented"
[mix]
ratio_by_volume = [2, 1]
density = ["1.13 kg/L", "0.98 kg/L"]
time = "3 min"
[pot-life]
mass = "1.0 kg"
end = "gel"
at = {{ "20 °C" = "90 min" }}
[windows.back-roll]
after = "poured"
closes = {{ "20 °C" = "{FILM_MIN} min" }}
[windows.wet-edge]
after = "poured"
closes = {{ "20 °C" = "{EDGE_MIN} min" }}
[windows.recoat]
after = "poured"
opens = {{ "20 °C" = "12 h" }}
closes = {{ "20 °C" = "48 h" }}
"""
ONE_BAY = shed_job(bays=1, size="12 m2", joined=False, crew=PAIR_WITH_RATES, vessel=PAIL).replace(
    'flake = "0.4 kg/m2"', ""
)
TWO_BAYS = ONE_BAY.replace(
    'name = "bay 1"', 'name = "bay 2"\nsize = "3 m2"\nedge = "2 m"\nnext_to = ["bay 1"]\n[[areas]]\nname = "bay 1"'
)


def shed(bays: str = ONE_BAY) -> Log:
    """A base that lives 90 minutes in the pail and 11 on the floor; bay 1 takes it all."""
    log = Log()
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", bays))
    log.entries[1] = replace(log.entries[1], facts=ProfileUsed("Shed base", LONG_LIVED))
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=3.8, material_c=20.0), by="mixer")
    return log


def stood(log: Log, minutes: float) -> StandpointReport:
    return standpoint_of(log.standing(minutes), log.tracks(minutes), bench_of(log, minutes), instant(minutes))


def rest_of(log: Log, minutes: float) -> Plan:
    """The plan of what is left, from where the job stands."""
    return make_plan(bench_of(log, minutes), QUICK, stood(log, minutes).standpoint)


def steps(plan: Plan, kind: str) -> Sequence[PlannedStep]:
    return sorted((step for step in plan.steps if step.batch == 1 and step.kind == kind), key=lambda step: step.starts)


def test_a_bucket_that_stands_mixed_is_poured_spread_and_rolled_in_strips() -> None:
    plan = rest_of(shed(), 4)
    assert plan.feasible
    pours, spreads, rolls = (steps(plan, kind) for kind in ("pour", "squeegee", "roll"))
    assert len(pours) == len(spreads) == len(rolls) > 1
    assert [step.strip for step in pours] == list(range(1, len(pours) + 1))
    for pour, spread, roll in zip(pours, spreads, rolls, strict=True):
        assert pour.ends <= spread.starts < roll.ends <= pour.ends + timedelta(minutes=FILM_MIN)
    for before, spread in zip(pours, spreads[1:], strict=False):
        assert spread.starts <= before.ends + timedelta(minutes=EDGE_MIN)


def test_after_the_first_strip_the_rest_is_laid_in_strips_as_large_as_it() -> None:
    """3.8 L less 1.2 L on 4 m² of 12: two more strips of 1.3 L on 4 m² each, behind the roll of the first."""
    log = shed()
    log.add(4.5, Poured(1, ("bay 1",), part_l=1.2, covered_m2=4.0))
    at = stood(log, 5)
    assert any("goes on in" in said and "each rolled before the next" in said for said in at.said)
    plan = rest_of(log, 5)
    assert plan.feasible
    pours, rolls = steps(plan, "pour"), steps(plan, "roll")
    assert pours[0].strip == 2
    assert len(rolls) == len(pours) + 1
    laid = sum((step.ends - step.starts).total_seconds() for step in rolls)
    assert laid == pytest.approx(12.0 / 75.0 * 3600.0, abs=len(rolls) + 15.0)  # 12 m² at the 75 m²/h of the job file


def test_the_last_strip_alone_is_still_told() -> None:
    log = shed()
    log.add(4.5, Poured(1, ("bay 1",), part_l=1.9, covered_m2=6.0))
    log.add(11, Did("back-roll", 1))
    log.add(12, Poured(1, ("bay 1",), part_l=1.4, covered_m2=4.4))
    at = stood(log, 13)
    assert any("one more strip" in said for said in at.said), at.said
    (pour,) = steps(rest_of(log, 13), "pour")
    assert (pour.strip, "on " in pour.note) == (3, True)
    assert pour.starts >= instant(13)


def test_the_next_bucket_meets_the_last_strip_whenever_that_is_poured() -> None:
    plan = rest_of(shed(TWO_BAYS), 4)
    assert plan.feasible
    last = steps(plan, "pour")[-1]
    other = [step for step in plan.steps if step.batch == 2]
    spread = min((step for step in other if step.kind == "squeegee"), key=lambda step: step.starts)
    assert spread.areas == ("bay 2",)
    assert last.ends <= spread.starts <= last.ends + timedelta(minutes=EDGE_MIN)
    assert min(step.starts for step in other if step.kind == "pour") >= last.ends


def test_of_a_bay_in_more_buckets_only_the_first_must_meet_what_lies_beside_it() -> None:
    """Bay 1 lies beside a film that can be joined for twelve minutes more; its second bucket meets its first."""
    site = replace(slip(2, (24.0,)), vessels=(Vessel("pail", 2.2),))
    floor = bench(site, minutes(pour_out=40.0, back_roll=60.0, wet_edge=50.0))
    by = floor.begins + timedelta(minutes=12)
    plan = make_plan(floor, QUICK, Standpoint(joined_by={("base", site.areas[0].name): by}))
    assert plan.feasible, plan.obstacle
    spreads = sorted(step.starts for step in plan.steps if step.kind == "squeegee")
    assert len(spreads) > 1
    assert spreads[0] <= by < spreads[-1]


def test_a_bucket_that_dies_with_its_film_is_still_poured_out_at_once() -> None:
    log = shed()
    short = LONG_LIVED.replace('at = { "20 °C" = "90 min" }', 'at = { "20 °C" = "14 min" }')
    log.entries[1] = replace(log.entries[1], facts=ProfileUsed("Shed base", short))
    plan = rest_of(log, 4)
    assert not [step for step in plan.steps if step.batch == 1 and step.strip is not None]


@pytest.mark.parametrize(("wet_edge_min", "strips"), [(20.0, 2), (13.0, 3)])
def test_more_strips_are_laid_where_another_bucket_must_still_meet_the_last(wet_edge_min: float, strips: int) -> None:
    """One person: 12 m² are 6.5 min of squeegee and 9.6 of rolling, so half is rolled 8.1 min after its pour and a
    third 5.4. With 3 min of measuring out, 3 of mixing and 1 of
    pouring the next bucket is there after 15.1 or 12.4 min."""
    site = slip(1, (12.0,))
    timing = bench(site, minutes(pour_out=90.0, back_roll=10.0, wet_edge=wet_edge_min)).timing
    batch = replace(shed().standing(4).batches[0], product=PRODUCT)
    floor = (FloorPiece("bay 1", 12.0, 0.0),)
    begins = instant(4)
    found = rest_in_strips(BucketUnderWay(batch, floor, crew_of(site), timing, {"hand 1": begins}, begins))
    assert found is not None
    assert found.strips == strips
