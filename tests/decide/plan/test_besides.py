"""Set-up, breaks and clean-up are steps with the lengths that the job file gives them; pails and tools are counted."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time, timedelta

from mixclock.decide.plan.days.besides import breaks_left_out
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.pailsinuse import small_buckets, tools_at_once
from mixclock.decide.plan.floor.plans import Plan, PlannedStep
from mixclock.decide.plan.floor.quantities import SMALL_BUCKET
from mixclock.decide.plan.judge.nearest import nearest_plan
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from mixclock.job.tablereading import Findings, Table
from mixclock.job.timesreading import read_hours
from tests.decide.plan.chances import chance_of
from tests.decide.plan.floors import DAYS, PRODUCT, bench, minutes, profile, row_of

QUICK = Ways(Effort(400, 200))
CLOSING = minutes(pour_out=15.0, back_roll=60.0, wet_edge=80.0)


def bay_site(breaks: tuple[tuple[time, float], ...] = ()) -> Site:
    """Four bays for two people from six on."""
    crew = tuple(Person(name, (), 110.0, 66.0, 60.0, 35.0) for name in ("one", "two"))
    coat = Coat("base", PRODUCT, 300.0, kit_l=4.0, split=True)
    hours = Hours(DAYS, time(6), time(20), 1200.0, 900.0, breaks)
    pails = (Vessel("pail", 5.0), Vessel("second pail", 5.0))
    return Site("Slip", "UTC", row_of((11.0,) * 4, (7.0,) * 4), (coat,), crew, pails, hours)


def planned(breaks: tuple[tuple[time, float], ...]) -> Plan:
    """Their plan."""
    return make_plan(bench(bay_site(breaks), CLOSING), QUICK)


def test_the_crew_sets_up_before_the_first_bucket_and_cleans_as_long_as_it_says() -> None:
    plan = planned(())
    (set_up,) = [step for step in plan.steps if step.kind == "set-up"]
    (clean,) = [step for step in plan.steps if step.kind == "clean"]
    assert set_up.ends - set_up.starts == timedelta(minutes=20)
    assert clean.ends - clean.starts == timedelta(minutes=15)
    assert all(step.starts >= set_up.ends for step in plan.steps if step.batch is not None)


def test_everybody_has_a_break_near_its_hour_and_the_wet_edge_lives_on() -> None:
    plan = planned(((time(7), 900.0),))
    rests = [step for step in plan.steps if step.kind == "break"]
    assert plan.feasible
    assert {step.who for step in rests} == {"one", "two"}
    for step in rests:
        assert step.ends - step.starts == timedelta(minutes=15)
        assert timedelta(hours=6, minutes=45) <= step.starts - plan.begins.replace(hour=0) <= timedelta(hours=8)


def test_a_lunch_that_comes_late_breaks_no_plan() -> None:
    """On every other day somebody is behind and rests later than planned; bucket, edge and hours know nothing of it."""
    floor = bench(bay_site(((time(7), 900.0),)), CLOSING)
    plan = make_plan(floor, QUICK)
    on_the_dot = [replace(step, by=step.ends) if step.kind == "break" else step for step in plan.steps]
    found = chance_of(replace(plan, steps=tuple(on_the_dot)), floor, 1000)
    assert found.holds == chance_of(plan, floor, 1000).holds
    assert not any("break" in name for name, _ in found.breaks)
    assert {step.kind for step in [replace(plan, steps=tuple(on_the_dot)).tightest] if step} == {"pour"}


def test_a_break_that_falls_out_of_the_work_is_not_dropped_in_silence() -> None:
    """The steps of a day without a break, held against a job file that asks for one in the middle of it."""
    plan, asked = planned(()), bay_site(((time(6, 45), 900.0),))
    [said] = breaks_left_out(asked, plan.steps)
    assert said.startswith("no break at 6:45 on Mon 13: the wet edge leaves none; have it after ")
    assert list(breaks_left_out(asked, planned(((time(6, 45), 900.0),)).steps)) == []
    assert list(breaks_left_out(bay_site(((time(19), 900.0),)), plan.steps)) == [], (
        "nobody works at seven in the evening"
    )


def test_a_break_that_the_wet_edge_leaves_no_room_for_is_had_while_nobody_works_anyway() -> None:
    """Set up from 6:00 to 6:20, no bucket before 8:00: the break that was meant at 9:00 is had in between."""
    zone, site = bay_site().wall, bay_site(((time(9), 900.0),))
    day = datetime.combine(DAYS[0], time(6), zone)
    set_up = PlannedStep("set-up", "one", day, day + timedelta(minutes=20), "base")
    pour = PlannedStep("pour", "one", day + timedelta(hours=2), day + timedelta(hours=4), "base", 1)
    [said] = breaks_left_out(site, (set_up, pour))
    assert "have it between 6:20 and 8:00 or after 10:00" in said
    [said] = breaks_left_out(site, (pour,))
    assert "have it before 8:00 or after 10:00" in said


def test_a_second_person_cuts_in_the_other_half_where_one_alone_would_be_too_slow() -> None:
    """40 m of edge take one 69 min: of two buckets each 34, by two 17, with 25 minutes to back-roll."""
    crew = tuple(Person(name, (), 110.0, 75.0, 60.0, 35.0) for name in ("one", "two"))
    coat = Coat("seal", PRODUCT, 300.0)
    pails = (Vessel("pail", 12.0),)
    site = Site("Slip", "UTC", row_of((8.0,), (40.0,)), (coat,), crew, pails, Hours(DAYS, time(6), time(20)))
    plan = make_plan(bench(site, minutes(pour_out=20.0, back_roll=25.0, wet_edge=30.0)), QUICK)
    assert plan.feasible, plan.obstacle
    for batch in plan.batches:
        halves = [step for step in plan.steps if (step.kind, step.batch) == ("cut-in", batch.number)]
        assert {step.who for step in halves} == {"one", "two"}
        assert all("the other half" in step.note for step in halves)
        (roll,) = [step for step in plan.steps if (step.kind, step.batch) == ("roll", batch.number)]
        assert roll.ends >= max(step.ends for step in halves)


def test_pails_and_tools_in_use_at_once_are_counted_by_hand() -> None:
    plan = planned(())
    most = max(
        sum(other.starts <= step.starts < other.ends for other in plan.steps if other.kind == "roll")
        for step in plan.steps
        if step.kind == "roll"
    )
    assert tools_at_once(plan)["roll"] == most
    assert 1 <= tools_at_once(plan)["pail"] <= 2


def test_buckets_under_a_litre_are_weighed_to_the_gram_and_that_is_said() -> None:
    plan = planned(())
    sheets = {PRODUCT.casefold(): profile(PRODUCT, ["wet-edge"])}
    assert list(small_buckets(plan.batches, bay_site(), sheets)) == []
    small = [replace(batch, volume_l=0.6) for batch in plan.batches]
    (said,) = small_buckets(small, bay_site(), sheets)
    assert "to the gram" in said
    assert f"all {len(plan.batches)} buckets" in said


def test_no_bucket_of_a_floor_is_measured_out_under_a_litre_though_the_crew_lays_no_more_in_its_time() -> None:
    """12 m² at 200 µm are 2.5 L; alone one has time for some 3 m², which is 0.6 L: no plan, and the nearest says so."""
    alone = Person("one", (), 110.0, 75.0, 60.0, 35.0)
    coat = Coat("seal", PRODUCT, 200.0)
    site = Site("Slip", "UTC", row_of((12.0,), (12.0,)), (coat,), (alone,), (), Hours(DAYS, time(6), time(20)))
    at = bench(site, minutes(pour_out=15.0, back_roll=11.0, wet_edge=30.0))
    plan = make_plan(at, QUICK)
    assert plan.obstacle is not None
    assert plan.obstacle.constraint == SMALL_BUCKET
    near = nearest_plan(at, plan.obstacle, QUICK)
    assert near is not None
    assert [batch for batch in near.batches if batch.volume_l < 1.0]
    assert any("under 1 L" in line for line in near.breaks)


def test_a_repair_of_less_than_a_litre_is_one_bucket_on_scales() -> None:
    coat = Coat("repair", PRODUCT, 300.0)
    crew = (Person("one", (), 110.0, 75.0, 60.0, 35.0),)
    site = Site("Slip", "UTC", row_of((1.5,), (3.0,)), (coat,), crew, (), Hours(DAYS, time(6), time(20)))
    plan = make_plan(bench(site, minutes(pour_out=20.0, back_roll=55.0, wet_edge=60.0)), QUICK)
    assert plan.feasible, plan.obstacle
    assert [round(batch.volume_l, 2) for batch in plan.batches] == [0.47]
    assert any("its bucket holds under 1 L; weigh both parts to the gram" in line for line in plan.warnings)


def test_a_break_that_is_none_is_one_line() -> None:
    found = Findings()
    read_hours(Table({"breaks": ["noon", "12:30 for 30 min"], "set_up": "20 min"}, "hours", found))
    assert [mistake.where for mistake in found.mistakes] == ["hours.breaks"]
