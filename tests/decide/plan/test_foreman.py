"""The plan that a foreman would choose, and the soonest one beside it."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

import pytest

from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.meter import Meter
from mixclock.decide.plan.floor.plans import Obstacle, Plan
from mixclock.decide.plan.judge import foreman, trying
from mixclock.decide.plan.judge.chance import chances_with
from mixclock.decide.plan.judge.foreman import AS_A_FOREMAN, foreman_plan
from mixclock.decide.plan.search import schedule
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.joints import Joints
from mixclock.decide.plan.search.laidbefore import LaidBefore
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import Coat, Hours, Person, Site, Vessel, in_file_order
from tests.decide.plan.chances import chance_of
from tests.decide.plan.floors import DAYS, PRODUCT, bench, minutes, row_of
from tests.decide.plan.test_waits import doubted

QUICK = Ways(Effort(400, 200), exact=False)
CREW = (Person("one", (), 110.0, 75.0, 60.0, 35.0), Person("two", (), 110.0, 75.0, 60.0, 35.0))


def floor() -> Site:
    pails = (Vessel("pail", 12.0), Vessel("second pail", 12.0))
    coat = Coat("base", PRODUCT, 300.0, kit_l=9.0, split=True)
    hours = Hours(DAYS[:1], time(6), time(20))
    return Site("Slip", "UTC", row_of((9.0, 9.0, 9.0), (3.0, 3.0, 3.0)), (coat,), CREW, pails, hours)


def test_the_default_holds_on_nineteen_days_in_twenty_where_the_soonest_does_not() -> None:
    """Alone with 27 m²: one bucket is rolled just in time; two of them leave time, and take seven minutes more."""
    at = bench(replace(floor(), crew=CREW[:1]), minutes(pour_out=20.0, back_roll=56.0, wet_edge=90.0))
    soonest = make_plan(at, QUICK)
    chance = chance_of(soonest, at, 4000)
    assert chance.windows_hold is not None
    assert chance.windows_hold < 0.95, "else nothing is to be chosen"
    plan = foreman_plan(at, QUICK)
    assert AS_A_FOREMAN.is_met(plan), plan.chance
    assert plan.soonest is not None
    assert soonest.finish is not None
    assert plan.finish is not None
    assert plan.soonest.finish == soonest.finish < plan.finish
    assert plan.soonest.holds < (plan.chance.holds if plan.chance else 0.0)
    assert len(plan.batches) > len(soonest.batches)


def test_a_floor_that_the_long_search_refuses_is_planned_where_a_quick_look_finds_how(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Whoever makes a change that a quick look found to free the floor must not be refused by the long search."""
    at = bench(floor(), minutes(pour_out=20.0, back_roll=56.0, wet_edge=90.0))

    def refused(asked: Bench, ways: Ways, standpoint: Standpoint | None = None) -> Plan:
        return replace(
            make_plan(asked, ways, standpoint), steps=(), batches=(), obstacle=Obstacle("wet-edge", "", "base")
        )

    monkeypatch.setattr(foreman, "make_plan", refused)
    plan = foreman_plan(at, Ways())
    assert plan.feasible
    assert plan.chance is not None
    assert len(plan.batches) > 0
    monkeypatch.setattr(trying, "make_plan", refused)
    assert foreman_plan(at, Ways()).obstacle is not None


def test_with_no_work_left_for_less_in_reserve_the_plan_that_is_known_to_hold_is_worked_out_and_given(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Alone with the same 27 m²: what is saved is the search for less in reserve. The plan is no search cut short."""
    at = bench(replace(floor(), crew=CREW[:1]), minutes(pour_out=20.0, back_roll=56.0, wet_edge=90.0))
    plans, works = [], []
    for within in (foreman.STEADIED_WITHIN, 0):
        monkeypatch.setattr(foreman, "STEADIED_WITHIN", within)
        ways = replace(QUICK, meter=Meter(), joints=Joints(), laid=LaidBefore())
        plans.append(foreman_plan(at, ways))
        works.append(ways.meter.work)
    assert all(AS_A_FOREMAN.is_met(plan) and not plan.stopped_early for plan in plans)
    assert works[1] < works[0]
    assert (chance_of(plans[1], at, 4000).windows_hold or 0.0) >= 0.95


def test_a_plan_that_is_steady_already_has_no_other_beside_it() -> None:
    plan = foreman_plan(bench(floor(), minutes(pour_out=30.0, back_roll=120.0, wet_edge=120.0)), QUICK)
    assert AS_A_FOREMAN.is_met(plan)
    assert plan.soonest is None


def test_where_none_is_steady_the_likeliest_is_given_and_that_is_said() -> None:
    """At home a minute after the soonest that it can be done: that holds on half of the days."""
    at = bench(floor(), minutes(pour_out=30.0, back_roll=120.0, wet_edge=120.0))
    soonest = make_plan(at, QUICK).finish
    assert soonest is not None
    hours = Hours(DAYS[:1], time(6), (soonest + timedelta(minutes=1)).time())
    at = replace(at, site=replace(at.site, hours=hours))
    plan = foreman_plan(at, QUICK)
    assert plan.feasible, plan.obstacle
    assert not AS_A_FOREMAN.is_met(plan)
    assert any("in working hours on" in line for line in plan.warnings)


def test_the_windows_and_the_hours_are_counted_apart() -> None:
    """Hours that end with the plan's last step break on every other day, whatever the windows do."""
    at = bench(floor(), minutes(pour_out=30.0, back_roll=120.0, wet_edge=120.0))
    chance = chance_of(make_plan(at, QUICK), at, 4000)
    assert chance.windows_hold is not None
    assert chance.hours_hold is not None
    assert chance.windows_hold > 0.99
    assert chance.hours_hold > 0.99
    assert chance.holds <= min(chance.windows_hold, chance.hours_hold)


def test_a_tight_recoat_is_given_time_by_another_start_of_the_coat_below_and_not_by_more_buckets() -> None:
    """Open from 16 h after the pour to 22 at the early edge, 24 at the likely one: begun so that the top is done
    soonest it shuts on the crew on a quick-curing day; begun hours later the top goes on in the middle of it."""
    at = doubted((16.0, 16.1), (22.0, 24.0))
    soonest, plan = make_plan(at, QUICK), foreman_plan(at, QUICK)
    before, after = ({each.coat: each.mixed_at for each in reversed(one.batches)} for one in (soonest, plan))
    in_order = replace(at, site=replace(at.site, coats=in_file_order(at.site.coats)))
    chance = chance_of(soonest, in_order)
    assert chance.windows_hold is not None
    assert chance.windows_hold < 0.95, "else there is nothing to gain"
    assert AS_A_FOREMAN.is_met(plan), plan.chance
    assert after["base"] >= before["base"] + timedelta(minutes=30)
    assert len(plan.batches) == len(soonest.batches)
    [said] = [line for line in plan.warnings if "then hold on" in line]
    assert said.startswith("base begins at ")
    [waits] = [line for line in plan.warnings if line.startswith("start base at")]
    assert said.split()[3] == waits.split(",")[0].split()[3], "one hour for one start"


def test_what_a_plan_promises_of_more_in_reserve_is_how_it_holds_where_its_windows_are_longer_by_that() -> None:
    windows = {"pour_out": 20.0, "back_roll": 56.0, "wet_edge": 90.0}
    at = bench(replace(floor(), crew=CREW[:1]), minutes(**windows))
    longer = bench(at.site, minutes(**{name: span / 0.8 for name, span in windows.items()}))
    plan = make_plan(at, QUICK)
    chance, (as_it_is, with_more) = chances_with(plan, at, (1.0, 0.8))
    really = chance_of(plan, longer)
    assert chance == chance_of(plan, at)
    assert as_it_is.windows_hold is not None
    assert with_more.windows_hold is not None
    assert really.windows_hold is not None
    assert abs(as_it_is.windows_hold - (chance.windows_hold or 0.0)) < 0.002
    assert with_more.windows_hold > as_it_is.windows_hold + 0.02, "else nothing is promised"
    assert abs(with_more.windows_hold - really.windows_hold) < 0.01


def test_a_coat_is_not_searched_again_for_another_end_of_the_day(monkeypatch: pytest.MonkeyPatch) -> None:
    searched: list[int] = []
    search = schedule._laid
    monkeypatch.setattr(schedule, "_laid", lambda *asked: searched.append(1) or search(*asked))
    at, ways = (
        bench(floor(), minutes(pour_out=30.0, back_roll=120.0, wet_edge=120.0)),
        Ways(Effort(400, 200), exact=False, rough=True),
    )
    plans = [
        make_plan(replace(at, site=replace(at.site, hours=Hours(DAYS[:1], time(6), time(until_h)))), ways)
        for until_h in (12, 18, 20)
    ]
    assert plans[0].feasible
    assert plans[0].steps == plans[1].steps == plans[2].steps
    assert len(searched) <= 2, "once with one roller and once with two, for all three ends"
