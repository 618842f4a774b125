"""What would free a floor of two coats: each that is in the way by itself is asked alone, and what is offered fits."""

from __future__ import annotations

from dataclasses import replace
from datetime import time

import pytest

from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.meter import WORK_A_SECOND
from mixclock.decide.plan.floor.plans import FreeingChange, Obstacle, Plan
from mixclock.decide.plan.judge.changes import Option, SlowerCure, alone, directions
from mixclock.decide.plan.judge.explanation import explain
from mixclock.decide.plan.judge.promise import promise_of
from mixclock.decide.plan.judge.trying import STOPPED, Purse, Trials
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from tests.decide.plan.floors import DAYS, PRODUCT, bench, minutes, row_of

QUICK = Ways(Effort(300, 150), exact=False)
WHOLE_DAYS, AN_HOUR = Hours(DAYS, time(6), time(20)), Hours(DAYS[:1], time(6), time(7))


def both_coats(hours: Hours, back_roll_min: float) -> Bench:
    """A bay for one person in two coats. By hand: 12 min to cut in, 6 to squeegee, 10 to roll 11 m² with a narrow
    roller, 5 with a wide one."""
    alone = Person("one", (), 110.0, 66.0, 60.0, 35.0)
    coats = (Coat("base", PRODUCT, 300.0, kit_l=9.0), Coat("top", "Slow top", 300.0, kit_l=9.0, after="base"))
    site = Site("Slip", "UTC", row_of((11.0,), (7.0,)), coats, (alone,), (Vessel("pail", 12.0),), hours)
    return bench(site, minutes(pour_out=20.0, back_roll=back_roll_min), {"recoat": 60.0})


def explained(floor: Bench) -> Plan:
    plan = make_plan(floor, QUICK)
    assert not plan.feasible
    return explain(floor, plan, QUICK)


def option_of(floor: Bench, plan: Plan, change: FreeingChange) -> Option:
    """What a crew would do to its job file to make this change."""
    assert plan.obstacle is not None
    known = (option for direction in directions(floor, plan.obstacle) for option in direction.options)
    return next(option for option in known if option.said == change.said)


@pytest.mark.parametrize(("hours", "back_roll_min"), [(WHOLE_DAYS, 25.0), (AN_HOUR, 60.0)])
def test_whoever_makes_a_change_that_was_offered_gets_a_plan_of_both_coats(hours: Hours, back_roll_min: float) -> None:
    floor = both_coats(hours, back_roll_min)
    plan = explained(floor)
    assert plan.changes
    for change in plan.changes:
        made = make_plan(option_of(floor, plan, change).bench, QUICK)
        assert made.feasible, change.said
        assert {batch.coat for batch in made.batches} == {"base", "top"}
        assert (made.finish, len(made.batches)) == (change.finish, change.batches)


def test_a_change_that_frees_one_of_two_coats_is_not_offered_by_itself() -> None:
    """28 minutes in 25: a slower hardener for the base leaves the top as it is, a wide roller frees both."""
    floor = both_coats(WHOLE_DAYS, 25.0)
    said = {change.direction: change.said for change in explained(floor).changes}
    assert "wider roller" in said
    assert "another product" not in said


def test_a_coat_that_is_in_the_way_by_itself_is_asked_alone_and_the_floor_is_not_planned_for_it() -> None:
    floor = both_coats(WHOLE_DAYS, 25.0)
    wrong = make_plan(floor, QUICK).obstacle
    assert wrong is not None
    assert wrong.coat == "base"
    trials = Trials(floor, QUICK, None, Purse.of(QUICK.meter, WORK_A_SECOND))
    trials.ask_coats(wrong, WORK_A_SECOND)
    assert trials.blocked == {"base": "back-roll", "top": "back-roll"}
    slower = SlowerCure(floor.timing, PRODUCT, 1.5)
    left = trials.in_the_way(replace(floor, timing=slower, exact=slower), WORK_A_SECOND, "base")
    assert left is not None
    assert (left.constraint, left.coat) == ("back-roll", "top")
    assert all(len(tried.site.coats) == 1 for tried, _ in trials.made)


def test_what_was_changed_for_another_product_alone_is_asked_no_second_time() -> None:
    floor = both_coats(WHOLE_DAYS, 25.0)
    slower = SlowerCure(floor.timing, PRODUCT, 1.5)
    changed = replace(floor, timing=slower, exact=slower)
    base, top = floor.site.coats
    assert alone(changed, top) == alone(floor, top)
    assert alone(changed, base) != alone(floor, base)


def test_a_try_that_was_stopped_is_no_refusal_and_is_made_again_when_there_is_time() -> None:
    floor = both_coats(WHOLE_DAYS, 60.0)
    trials = Trials(floor, QUICK, None, Purse.of(QUICK.meter, WORK_A_SECOND))
    with trials.share(0):
        stopped = trials.plan(floor, WORK_A_SECOND)
    assert stopped.obstacle is not None
    assert stopped.obstacle.constraint == STOPPED
    assert trials.gave_up
    with trials.share(WORK_A_SECOND):
        assert trials.plan(floor, WORK_A_SECOND).feasible


def test_a_plan_that_leaves_days_and_hours_unused_is_the_plan_of_whoever_works_fewer_of_them() -> None:
    """28 min and what goes with the bucket are over long before noon of the first of three days."""
    floor = one_coat(Hours(DAYS, time(6), time(20)))
    trials = Trials(floor, QUICK, None, Purse.of(QUICK.meter, WORK_A_SECOND))
    plan = trials.plan(floor, WORK_A_SECOND)
    assert plan.feasible
    fewer = within(floor, Hours(DAYS[:1], time(6), time(12)))
    before = QUICK.meter.work
    assert trials.done_with(Option("one morning", fewer), Option("three days", floor))
    assert trials.fits(fewer)
    assert QUICK.meter.work == before, "no search is needed"


def test_a_plan_that_may_be_done_with_less_takes_the_place_of_a_refusal_that_a_quick_look_gave() -> None:
    """Else the change would be told without its plan: done never, in no buckets."""
    floor = one_coat(Hours(DAYS, time(6), time(20)))
    trials = Trials(floor, QUICK, None, Purse.of(QUICK.meter, WORK_A_SECOND))
    plan = trials.plan(floor, WORK_A_SECOND)
    fewer = within(floor, Hours(DAYS[:1], time(6), time(12)))
    trials.made.append((fewer, replace(plan, steps=(), batches=(), obstacle=Obstacle("hours", "", "base"))))
    assert not trials.fits(fewer)
    assert trials.done_with(Option("one morning", fewer), Option("three days", floor))
    assert trials.fits(fewer)
    assert trials.known(fewer, None) is None
    assert trials.plan(fewer, WORK_A_SECOND).batches == plan.batches


def test_a_plan_that_goes_on_until_later_is_none_for_a_shorter_day_nor_for_another_job() -> None:
    floor = one_coat(Hours(DAYS, time(6), time(20)))
    trials = Trials(floor, QUICK, None, Purse.of(QUICK.meter, WORK_A_SECOND))
    assert trials.plan(floor, WORK_A_SECOND).feasible
    most = Option("three days", floor)
    # 6 min to spread, 10 to roll and ten to clean up alone go past twenty past six
    assert not trials.done_with(Option("too short a day", within(floor, Hours(DAYS, time(6), time(6, 20)))), most)
    taped = replace(floor, site=replace(floor.site, saw_cuts=(("bay 1", "bay 2"),)))
    assert not trials.done_with(Option("a taped line", taped), most)


def within(floor: Bench, hours: Hours) -> Bench:
    return replace(floor, site=replace(floor.site, hours=hours))


def one_coat(hours: Hours) -> Bench:
    """The same bay with its base only."""
    floor = both_coats(hours, 60.0)
    return replace(floor, site=replace(floor.site, coats=floor.site.coats[:1]))


def test_a_change_promises_more_the_nearer_the_least_bucket_comes_to_its_window() -> None:
    """By hand: a kit of 9 L is more than 11 m² take at 300 µm, so all of the bay is one bucket. 18 min after its pour
    one person has cut in and spread, and has rolled it by 28; with a wide roller by 23. The window is 25.
    """
    floor = one_coat(WHOLE_DAYS)
    base = floor.site.coats[0]
    tight = replace(floor, timing=both_coats(WHOLE_DAYS, 25.0).timing)
    wide = replace(tight.site.crew[0], roll_m2_h=140.0)
    with_wide = replace(tight, site=replace(tight.site, crew=(wide,)))
    with_two = replace(
        tight, site=replace(tight.site, crew=(*tight.site.crew, Person("two", (), 110.0, 66.0, 60.0, 35.0)))
    )
    promised = [promise_of(each, base) for each in (tight, with_wide, with_two)]
    assert promised[0] < 1.0 < promised[1]
    assert promised[0] < promised[2]
    slower = SlowerCure(tight.timing, PRODUCT, 2.0)
    assert promise_of(replace(tight, timing=slower), base) > promised[1]


def test_a_taped_joint_promises_nothing_where_the_back_roll_is_tighter_and_more_where_the_wet_edge_is() -> None:
    """Two bays of 11 m² by one person: the work on a whole bucket counts for both windows, and the mixing for the wet
    edge only. Of ten minutes and three hours the ten are tighter; the other way about the wet edge is."""
    row = row_of((11.0, 11.0), (7.0, 7.0))
    site = replace(both_coats(WHOLE_DAYS, 25.0).site, areas=row)
    for back_roll_min, wet_edge_min, more in ((10.0, 180.0, False), (180.0, 10.0, True)):
        at = bench(site, minutes(pour_out=60.0, back_roll=back_roll_min, wet_edge=wet_edge_min), {"recoat": 60.0})
        joined = at.site.coats[0]
        taped = replace(joined, wet_edge=False)
        promised = [promise_of(at, coat) for coat in (joined, taped)]
        assert (promised[1] > promised[0]) is more
