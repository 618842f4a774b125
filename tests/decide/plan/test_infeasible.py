"""Where nothing fits: what is in the way, and changes that were planned again before they are told."""

from __future__ import annotations

from dataclasses import replace
from datetime import time

import pytest

from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.meter import Meter
from mixclock.decide.plan.floor.plans import Obstacle, Plan
from mixclock.decide.plan.floor.timing import Span
from mixclock.decide.plan.judge import changes
from mixclock.decide.plan.judge import explanation as infeasible
from mixclock.decide.plan.judge.changes import Direction, Option, directions
from mixclock.decide.plan.judge.explanation import CONSTRAINTS, NOT_ALONE, NOT_TO_THE_END, explain
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.joints import Joints
from mixclock.decide.plan.search.laidbefore import LaidBefore
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.profile import Family
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from tests.decide.plan.floors import DAYS, PRODUCT, FixedTiming, bench, minutes, profile, row_of
from tests.lacking import without_numpy

QUICK = Ways(Effort(300, 150))


def slip(hours: Hours, back_roll_min: float = 60.0, kit_l: float = 4.0, split: bool = True) -> Bench:
    """Three bays for one person, who does everything."""
    alone = Person("one", (), 110.0, 66.0, 60.0, 35.0)
    coat = Coat("base", PRODUCT, 300.0, kit_l=kit_l, split=split)
    areas = row_of((11.0, 11.0, 11.0), (7.0, 7.0, 7.0))
    site = Site("Slip", "UTC", areas, (coat,), (alone,), (Vessel("pail", 6.0),), hours)
    return bench(site, minutes(pour_out=12.0, back_roll=back_roll_min, wet_edge=90.0))


def explained(floor: Bench) -> Plan:
    """The plan that does not fit, with what would free it."""
    return explained_for(floor)[0]


def explained_for(floor: Bench) -> tuple[Plan, int]:
    """The same, and the work that it took from the plan on."""
    ways = replace(QUICK, meter=Meter(), joints=Joints(), laid=LaidBefore())
    plan = make_plan(floor, ways)
    assert not plan.feasible
    before = ways.meter.work
    return explain(floor, plan, ways), ways.meter.work - before


def test_a_day_that_is_too_short_is_named_and_more_time_or_more_hands_free_it() -> None:
    found = explained(slip(Hours(DAYS[:1], time(6), time(7))))
    assert found.obstacle is not None
    assert found.obstacle.constraint == "hours"
    assert found.changes
    assert all(change.finish is not None and change.batches >= 1 for change in found.changes)


def test_each_change_is_told_with_the_finish_of_the_plan_that_was_made_with_it() -> None:
    short = slip(Hours(DAYS[:1], time(6), time(7)))
    found = explained(short)
    longer = replace(short, site=replace(short.site, hours=Hours(DAYS[:1], time(6), time(20))))
    assert make_plan(longer, QUICK).feasible
    directions = [change.direction for change in found.changes]
    assert len(directions) == len(set(directions)), "one change a direction"


def test_a_kit_that_goes_off_before_it_is_out_is_too_big_for_this_warmth_and_to_be_split() -> None:
    """2 to 5 minutes in the bucket in air over 85 °F: 'What is the pot life of the epoxy product', a page (read, year
    not given); mixing alone takes three (common practice, no source)."""
    kit = slip(Hours(DAYS, time(6), time(20)), split=False)
    assert isinstance(kit.timing, FixedTiming)
    hot = FixedTiming({**kit.timing.closing, (PRODUCT, "pour-out"): Span(180.0, 200.0)}, kit.timing.opening)
    found = make_plan(replace(kit, timing=hot, exact=hot), QUICK)
    assert found.obstacle is not None
    assert found.obstacle.constraint == "pour-out"
    assert "too big for this warmth" in found.obstacle.said
    assert found.obstacle.said.endswith("split it")


def test_a_crew_too_slow_for_its_window_is_told_what_would_free_it() -> None:
    found = explained(slip(Hours(DAYS, time(6), time(20)), back_roll_min=15.0, split=False))
    assert found.obstacle is not None
    assert found.obstacle.constraint == "back-roll"
    assert any("back-roll" in words or "roll" in words for words in (found.obstacle.said, found.obstacle.constraint))
    assert found.changes


def test_a_plan_that_fits_is_left_as_it_is() -> None:
    floor = slip(Hours(DAYS, time(6), time(20)))
    plan = make_plan(floor, QUICK)
    assert plan.feasible
    assert explain(floor, plan, QUICK) is plan


def test_asking_stops_when_it_is_told_to() -> None:
    floor = slip(Hours(DAYS[:1], time(6), time(7)))
    plan = make_plan(floor, QUICK)
    assert explain(floor, plan, replace(QUICK, stop=lambda: True)).changes == ()


SLOW_CREW = Hours(DAYS, time(6), time(20))


def with_shelf(floor: Bench, **back_roll_min: float) -> Bench:
    """The bench with more products of the same family on the shelf, each with its own back-roll window."""
    assert isinstance(floor.timing, FixedTiming)
    shut = dict(floor.timing.closing)
    known = dict(floor.profiles)
    for name, span in back_roll_min.items():
        shut |= {(name, window): edge for (_, window), edge in floor.timing.closing.items()}
        shut[name, "back-roll"] = Span(span * 60.0, span * 75.0)
        known[name] = profile(name, ("back-roll", "wet-edge"))
    timing = FixedTiming(shut, floor.timing.opening)
    return replace(floor, profiles=known, timing=timing, exact=timing)


def test_of_the_products_on_the_shelf_the_nearest_that_fits_is_offered() -> None:
    floor = with_shelf(slip(SLOW_CREW, back_roll_min=15.0, split=False), quicker=12.0, slow=60.0, slowest=90.0)
    assert floor.profiles["slow"].family is Family.EPOXY
    found = {change.direction: change for change in explained(floor).changes}
    assert found["another product"].said == f"slow instead of {PRODUCT}"


def test_without_a_product_that_fits_it_is_said_how_much_more_time_one_would_have_to_give() -> None:
    # alone on 11 m² with 7 m of edge: 12 min to cut in, 6 to squeegee, 6 to roll with a wide roller. 20 min are few,
    # 25 are enough
    floor = slip(SLOW_CREW, 20.0, split=False)
    wide = replace(floor.site.crew[0], roll_m2_h=120.0)
    found = {
        change.direction: change for change in explained(replace(floor, site=replace(floor.site, crew=(wide,)))).changes
    }
    assert "wider roller" not in found, "who has one is not told to fetch one"
    assert found["another product"].said == f"a hardener for {PRODUCT} with 25 % more time"


def test_where_half_as_much_time_again_is_too_little_it_is_said_that_a_hardener_must_give_twice_as_much() -> None:
    # 24 min of work as above, in 13: one and a half times as long is 19.5, twice as long is 26
    floor = slip(SLOW_CREW, 13.0, split=False)
    wide = replace(floor.site.crew[0], roll_m2_h=120.0)
    found = {
        change.direction: change for change in explained(replace(floor, site=replace(floor.site, crew=(wide,)))).changes
    }
    assert found["another product"].said == f"a hardener for {PRODUCT} with 100 % more time"


def test_who_rolls_with_a_narrow_roller_is_told_what_a_wide_one_would_free() -> None:
    # 12 min to cut in, 6 to squeegee, 10 to roll with a 9 in roller: 28 in 26. At 140 m²/h it is 5, and 23 in all
    floor = slip(SLOW_CREW, 26.0, split=False)
    found = {change.direction: change for change in explained(floor).changes}
    assert found["wider roller"].said == "an 18 in roller in place of a 9 in one: 140 m² an hour a person"


def test_where_one_of_two_only_cuts_in_the_mixer_is_asked_to_take_a_second_brush() -> None:
    """By hand: 21 m of edge are 36 min with one brush at 35 m/h, and the film levels for 35. With two brushes they are
    18, after the mixer's 6 min of spreading, and 10 more to roll: 34."""
    rates = (110.0, 66.0, 60.0, 35.0)
    mixer = Person("Mo", ("mix", "pour", "squeegee", "roll", "clean"), *rates)
    brush = Person("Bea", ("cut-in",), *rates)
    coat = Coat("base", PRODUCT, 300.0, kit_l=9.0)
    site = Site("Slip", "UTC", row_of((11.0,), (21.0,)), (coat,), (mixer, brush), (Vessel("pail", 12.0),), SLOW_CREW)
    floor = bench(site, minutes(pour_out=20.0, back_roll=35.0))
    found = explained(floor)
    assert found.obstacle is not None
    assert found.obstacle.constraint == "back-roll"
    assert "Mo cuts in as well" in [change.said for change in found.changes]
    both = replace(mixer, does=(*mixer.does, "cut-in"))
    assert make_plan(replace(floor, site=replace(site, crew=(both, brush))), QUICK).feasible


def test_a_wet_edge_that_can_t_be_met_is_freed_by_one_taped_line_in_the_middle() -> None:
    alone = Person("one", (), 110.0, 66.0, 60.0, 35.0)
    coat = Coat("base", PRODUCT, 300.0, kit_l=4.0)
    site = Site("Slip", "UTC", row_of((11.0, 11.0), (7.0, 7.0)), (coat,), (alone,), (Vessel("pail", 6.0),), SLOW_CREW)
    # with one pail: 6 min to squeegee, 3 to mix, 1 to pour, before the next bay is reached. 9 min are too few
    floor = bench(site, minutes(pour_out=12.0, back_roll=60.0, wet_edge=9.0))
    found = explained(floor)
    assert found.obstacle is not None
    assert found.obstacle.constraint == "wet-edge"
    taped = {change.direction: change for change in found.changes}["taped joint"]
    assert taped.said == "stop base at a taped line between bay 1 and bay 2"
    cut = replace(floor, site=replace(site, saw_cuts=(("bay 1", "bay 2"),)))
    again = make_plan(cut, QUICK)
    assert again.feasible
    assert (again.finish, len(again.batches)) == (taped.finish, taped.batches)


def test_directions_go_from_the_smallest_change_on_and_only_those_that_can_help_are_tried() -> None:
    floor = slip(SLOW_CREW)
    late = {
        one.name: [option.said for option in one.options] for one in directions(floor, Obstacle("hours", "", "base"))
    }
    assert late["later end"] == [f"work until {hour}:{half}" for hour in range(20, 24) for half in ("00", "30")][1:]
    assert late["earlier start"][0] == "begin at 5:00"
    assert late["another person"][:2] == ["one person more", "2 people more"]
    # the clocks stand still here: no other hour or day keeps a window open for longer
    slow = [one.name for one in directions(floor, Obstacle("back-roll", "", "base"))]
    assert slow == ["wider roller", "another person", "another product"]
    assert [one.name for one in directions(floor, Obstacle("vessel", "", "base"))] == []


def test_where_the_largest_change_of_a_kind_does_not_help_the_smaller_ones_are_not_tried() -> None:
    asked: list[str] = []
    floor = slip(Hours(DAYS[:1], time(6), time(7)), back_roll_min=60.0)
    plan = make_plan(floor, QUICK)
    found = explain(floor, plan, replace(QUICK, progress=lambda what, _: asked.append(what)))
    said = [what.removeprefix("what would free it: ") for what in asked]
    assert "3 days more?" in said
    assert not {"2 days more?", "work on Thursday 16 as well?"} & set(said), "three days more do not help"
    later = list(dict.fromkeys(what for what in said if what.startswith("work until")))
    # four hours more do, and that plan is over by eight; what is asked then is whether half an hour less does
    assert later == ["work until 11:00?", "work until 7:30?"]
    assert "work until 8:00" in [change.said for change in found.changes]


def test_a_day_that_is_a_few_minutes_too_short_is_freed_by_a_wide_roller() -> None:
    """The evening ends at 23:30, so nobody can stay an hour longer; at five in the morning nobody begins sooner."""
    evening = slip(Hours(DAYS[:1], time(5), time(23, 30)))
    late = replace(evening, begins=evening.begins.replace(hour=21, minute=44))
    found = explained(late)
    assert found.obstacle is not None
    assert found.obstacle.constraint == "hours"
    assert found.changes[0].direction == "wider roller"


PURSE_OF_A_FEW_TRIES = {
    "ALL_TOGETHER": 20_000,
    "LEAST_TOGETHER": 20_000,
    "TO_CONFIRM": 1_000,
    "KEPT_FOR_NEAREST": 0,
    "LEAST_FOR_NEAREST": 0,
    "KEPT_FOR_PAIRS": 0,
    "LEAST_FOR_PAIRS": 0,
    "LEAST_SHARE": 3_000,
}
"""One try of a bay that nobody can roll in time takes 1,250 units of work, one of a longer day some 2,000."""


def test_a_change_that_takes_long_to_try_leaves_time_for_the_only_one_that_frees_the_day(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    floor = slip(Hours(DAYS[:1], time(6), time(7)))
    harder = [slip(Hours(DAYS, time(6), time(20)), back_roll_min=15.0 - tenth / 10, split=False) for tenth in range(40)]
    in_vain = Direction("in vain", tuple(Option(f"try {number}", hard) for number, hard in enumerate(harder)))
    later = next(each for each in directions(floor, Obstacle("hours", "", "base")) if each.name == "later end")
    monkeypatch.setattr(infeasible, "directions", lambda *_: iter((in_vain, later)))
    for bound, work in PURSE_OF_A_FEW_TRIES.items():
        monkeypatch.setattr(infeasible, bound, work)
    found = explained(floor)
    assert [change.direction for change in found.changes] == ["later end"]
    assert NOT_TO_THE_END in found.warnings


def test_a_search_that_was_not_finished_claims_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(infeasible, "A_TRY", 0)
    monkeypatch.setattr(infeasible, "TO_CONFIRM", 0)
    found = explained(slip(Hours(DAYS[:1], time(6), time(7))))
    assert found.changes == ()
    assert NOT_TO_THE_END in found.warnings
    assert NOT_ALONE.format(constraint=CONSTRAINTS["hours"]) not in found.warnings


def test_an_answer_takes_no_more_work_than_it_may_and_the_same_without_numpy(monkeypatch: pytest.MonkeyPatch) -> None:
    """Work, not seconds: a laptop that is half as fast gives up at the same place and says the same. A search is ended
    at the next look of whoever walks: a try runs on for less than the length of a try."""
    whole, took = explained_for(twelve_bays())
    assert whole.changes
    most, a_try = took // 4, took // 16
    bounds = {"ALL_TOGETHER": most, "LEAST_TOGETHER": most, "A_TRY": a_try}
    for bound, work in {**bounds, "KEPT_FOR_NEAREST": 0, "LEAST_FOR_NEAREST": 0}.items():
        monkeypatch.setattr(infeasible, bound, work)
    bounded, less = explained_for(twelve_bays())
    assert less <= most + a_try
    assert NOT_TO_THE_END in bounded.warnings
    with without_numpy():
        assert explained_for(twelve_bays()) == (bounded, less)


def test_what_a_plan_has_cost_already_is_left_out_of_what_would_free_it(monkeypatch: pytest.MonkeyPatch) -> None:
    _, took = explained_for(twelve_bays())
    monkeypatch.setattr(infeasible, "ALL_TOGETHER", took)
    monkeypatch.setattr(infeasible, "LEAST_TOGETHER", took // 8)
    ways = replace(QUICK, meter=Meter(took), joints=Joints(), laid=LaidBefore())
    plan = make_plan(twelve_bays(), ways)
    before = ways.meter.work
    explain(twelve_bays(), plan, ways)
    assert ways.meter.work - before < took // 2


def twelve_bays() -> Bench:
    """Twelve bays of 32 min in a day of one hour: neither three people more nor four hours more are enough alone."""
    alone = Person("one", (), 110.0, 66.0, 60.0, 35.0)
    coat = Coat("base", PRODUCT, 300.0, kit_l=4.0, split=True, wet_edge=False)
    pails = (Vessel("pail", 6.0), Vessel("second pail", 6.0))
    hours = Hours(DAYS[:1], time(6), time(7))
    site = Site("Slip", "UTC", row_of([11.0] * 12, [7.0] * 12), (coat,), (alone,), pails, hours)
    return bench(site, minutes(pour_out=12.0, back_roll=60.0))


def test_where_no_single_change_is_enough_the_smallest_two_that_are_enough_together_are_told() -> None:
    floor = twelve_bays()
    site, alone = floor.site, floor.site.crew[0]
    found = explained(floor)
    assert found.changes
    assert all(", and " in change.said and " and " in change.direction for change in found.changes)
    hands = next(change for change in found.changes if change.direction == "later end and another person")
    until, people = hands.said.split(", and ")
    end = time(*map(int, until.split()[-1].split(":")))
    more = {"one person more": 1, "2 people more": 2, "3 people more": 3}[people]
    crew = tuple(replace(alone, name=f"person {number}") for number in range(1 + more))
    for day, people_there, fits in ((end, crew, True), (end, crew[:1], False), (time(7), crew, False)):
        tried = replace(site, hours=Hours(DAYS[:1], time(6), day), crew=people_there)
        assert make_plan(bench(tried, minutes(pour_out=12.0, back_roll=60.0)), QUICK).feasible is fits


def test_where_no_two_changes_are_enough_three_are_told_together(monkeypatch: pytest.MonkeyPatch) -> None:
    """Eight bays of 32 min, of 27 with a wide roller, in a day of one hour. Of an hour, a person and a day more any two
    make 240 min of work at the most, for 256; a wide roller and one of them 120, for 216."""
    for most in ("MORE_HOURS", "MORE_PEOPLE", "MORE_DAYS"):
        monkeypatch.setattr(changes, most, 1)
    floor = twelve_bays()
    floor = replace(floor, site=replace(floor.site, areas=row_of([11.0] * 8, [7.0] * 8)))
    found = explained(floor)
    assert found.changes
    assert all(change.said.count(", and ") == 2 for change in found.changes)
    assert all(change.finish is not None for change in found.changes)
