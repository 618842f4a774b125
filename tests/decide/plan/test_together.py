"""Two who roll a bay together: who may, how long it takes them, and when that is worth it; every sum by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import time

import pytest

from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.crew import Crew, pairs_for, times_by_two
from mixclock.decide.plan.floor.plans import FloorPiece, Plan, PlannedStep
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from tests.decide.plan.floors import BEGINS, DAYS, PRODUCT, bench, minutes, row_of

QUICK = Ways(Effort(600, 300))
CLOSING = minutes(pour_out=12.0, back_roll=45.0, wet_edge=40.0)
MIXER = Person("mixer", ("mix", "pour", "squeegee", "clean"), squeegee_m2_h=110.0, roll_m2_h=33.0)
ROLLER = Person("roller", ("roll",), roll_m2_h=66.0)


def one_bay(people: Sequence[Person], bays: int = 1) -> Site:
    """Bays of 11 m² with nothing to cut in."""
    coat = Coat("base", PRODUCT, 300.0, kit_l=4.0, split=True)
    pails = (Vessel("pail", 5.0), Vessel("second pail", 5.0))
    areas = row_of([11.0] * bays, [0.0] * bays)
    return Site("Slip", "UTC", areas, (coat,), tuple(people), pails, Hours(DAYS, time(6), time(20)))


def plan_of(site: Site, closing: dict[str, float] = CLOSING) -> Plan:
    return make_plan(bench(site, closing), QUICK)


def rolls(plan: Plan) -> list[PlannedStep]:
    return [step for step in plan.steps if step.kind == "roll"]


def minute(plan: Plan, step: PlannedStep) -> tuple[float, float]:
    starts, ends = ((at - BEGINS).total_seconds() / 60.0 for at in (step.starts, step.ends))
    return starts, ends


def test_two_who_may_roll_do_a_bay_in_the_time_of_their_joined_rates() -> None:
    """By hand, in minutes: measure 0-3, mix 3-6, pour 6-7, squeegee 11 m² at 110 m²/h 7-13.

    Alone the roller takes 11 m² / 66 m²/h = 10, from 8 to 18. With the mixer, who is free from 13 on, it is
    11 m² / (66 + 33) m²/h = 6 min 40 s, from 13 to 19 min 40 s: no gain, so the roller rolls alone.
    """
    lending = replace(MIXER, helps=("roll",))
    alone = plan_of(one_bay([lending, ROLLER]))
    assert [(step.who, minute(alone, step)) for step in rolls(alone)] == [("roller", (8.0, 18.0))]
    assert times_by_two(Crew((lending, ROLLER)), "roll", (FloorPiece("bay 1", 11.0, 0.0),), False) == (None, 400)
    assert times_by_two(Crew((lending, ROLLER)), "roll", (FloorPiece("bay 1", 11.0, 0.0),), True) == (400, None)


def test_where_it_is_done_sooner_so_both_roll_at_once_and_both_are_told_with_whom() -> None:
    """A roller of 22 m²/h takes 30 minutes alone, from 8 to 38. With a mixer of 33 m²/h from 13 on it is
    11 / 55 m²/h = 12 minutes, until 25: 13 minutes sooner."""
    slow = replace(ROLLER, roll_m2_h=22.0)
    plan = plan_of(one_bay([replace(MIXER, helps=("roll",)), slow]))
    assert {(step.who, step.beside) for step in rolls(plan)} == {("mixer", "roller"), ("roller", "mixer")}
    assert {minute(plan, step) for step in rolls(plan)} == {(13.0, 25.0)}
    assert {step.note for step in rolls(plan)} == {
        "together with roller, side by side",
        "together with mixer, side by side",
    }


def test_who_is_not_named_for_helping_does_not_roll() -> None:
    plan = plan_of(one_bay([MIXER, replace(ROLLER, roll_m2_h=22.0)]))
    assert [step.who for step in rolls(plan)] == ["roller"]


def test_a_bay_that_one_can_t_roll_in_time_is_rolled_by_two() -> None:
    """Back-roll shuts 20 minutes after the pour: 30 minutes of one are too long, 12 of two from minute 6 are not."""
    slow = replace(ROLLER, roll_m2_h=22.0)
    tight = minutes(pour_out=12.0, back_roll=20.0, wet_edge=40.0)
    whole = replace(one_bay([MIXER, slow]), coats=(replace(one_bay([]).coats[0], split=False),))
    helped = replace(whole, crew=(replace(MIXER, helps=("roll",)), slow))
    assert not plan_of(whole, tight).feasible
    plan = plan_of(helped, tight)
    assert plan.feasible
    assert {step.who for step in rolls(plan)} == {"mixer", "roller"}


def test_who_is_named_for_helping_to_cut_in_cuts_in_half_of_a_bay_that_one_can_t_cut_in_in_time() -> None:
    """By hand: 14 m of edge at 35 m/h are 24 min. Poured at 7, who cuts in alone until 31 and then rolls 11 m² at
    66 m²/h is done at 41, 34 minutes behind the pour; back-roll shuts after 30. Half of the edge takes the roller
    until 19, and the mixer from 13, when the squeegee is down, until 25; the roll that follows until 29."""
    shuts = minutes(pour_out=12.0, back_roll=30.0, wet_edge=40.0)
    roller = Person("roller", ("cut-in", "roll"), roll_m2_h=66.0, cut_in_m_h=35.0)
    bay = one_bay([replace(MIXER, cut_in_m_h=35.0), roller])
    whole = replace(bay, areas=row_of([11.0], [14.0]), coats=(replace(bay.coats[0], split=False),))
    assert not plan_of(whole, shuts).feasible
    plan = plan_of(replace(whole, crew=(replace(whole.crew[0], helps=("cut-in",)), roller)), shuts)
    assert plan.feasible
    cut_in = {step.who: (step.beside, *minute(plan, step)) for step in plan.steps if step.kind == "cut-in"}
    assert cut_in == {"roller": ("mixer", 7.0, 19.0), "mixer": ("roller", 13.0, 25.0)}
    assert [(step.who, minute(plan, step)) for step in rolls(plan)] == [("roller", (19.0, 29.0))]


def test_who_is_named_for_helping_to_cut_in_does_so_where_one_could_do_it_too_but_later() -> None:
    """The bay from before with an hour to roll: done at 41 by one, at 29 by two."""
    roomy = minutes(pour_out=12.0, back_roll=60.0, wet_edge=70.0)
    roller = Person("roller", ("cut-in", "roll"), roll_m2_h=66.0, cut_in_m_h=35.0)
    bay = replace(one_bay([replace(MIXER, cut_in_m_h=35.0), roller]), areas=row_of([11.0], [14.0]))
    helped = replace(bay, crew=(replace(bay.crew[0], helps=("cut-in",)), roller))
    ends = [
        max(minute(plan, step)[1] for step in rolls(plan)) for plan in (plan_of(bay, roomy), plan_of(helped, roomy))
    ]
    assert ends == [41.0, 29.0]


def test_nobody_else_is_counted_on_for_more_than_the_slowest_who_may_come() -> None:
    """Three may roll at 60, 40 and 20 m²/h; with 60 goes 20 or 40: 12 m² / 80 m²/h = 9 minutes at the most."""
    crew = Crew(tuple(Person(f"person {rate}", (), roll_m2_h=float(rate)) for rate in (60, 40, 20)))
    piece = (FloorPiece("bay 1", 12.0, 0.0),)
    assert times_by_two(crew, "roll", piece, helping=False) == pytest.approx((540, 720, 720))


def test_two_who_are_quickest_roll_at_their_own_joined_rate_and_the_third_keeps_away() -> None:
    """12 m² at 80 and 60 m²/h together: 12 / 140 h, which is 309 s; at 40 m²/h nobody joins them."""
    crew = Crew(tuple(Person(f"person {rate:g}", (), 110.0, rate, 60.0, 35.0) for rate in (60.0, 40.0, 80.0)))
    piece = (FloorPiece("bay 1", 12.0, 0.0),)
    for helping in (False, True):
        assert times_by_two(crew, "roll", piece, helping, quickest=True) == (309, None, 309)


def test_who_is_as_quick_as_the_second_may_take_their_place_and_who_only_helps_is_never_alone() -> None:
    """12 m² at 80 and 60 m²/h take 309 s, at 60 and 60 m²/h 360 s; the helper may come with either of the others."""
    helper = Person("helper", ("mix",), 110.0, 60.0, 60.0, 35.0, helps=("roll",))
    crew = Crew((Person("one", (), 110.0, 80.0, 60.0, 35.0), Person("two", (), 110.0, 60.0, 60.0, 35.0), helper))
    piece = (FloorPiece("bay 1", 12.0, 0.0),)
    assert times_by_two(crew, "roll", piece, helping=False, quickest=True) == (309, 360, None)
    assert times_by_two(crew, "roll", piece, helping=True, quickest=True) == (309, 309, 360)


def test_any_two_may_be_named_and_the_one_who_only_helps_comes_second() -> None:
    """12 m² at 80 and 60 m²/h together take 309 s, at 60 and 40 m²/h 432 s, whoever is the first."""
    helper = Person("helper", ("mix",), 110.0, 40.0, 60.0, 35.0, helps=("roll",))
    able = [Person(f"person {rate:g}", (), 110.0, rate, 60.0, 35.0) for rate in (60.0, 80.0)]
    crew = Crew((helper, *able, Person("mixer", ("mix", "squeegee"), 110.0, 90.0)))
    assert pairs_for(crew, "roll") == ((1, 0), (1, 2), (2, 0))
    piece = (FloorPiece("bay 1", 12.0, 0.0),)
    assert times_by_two(crew, "roll", piece, helping=False, pair=(1, 2)) == (None, 309, None, None)
    assert times_by_two(crew, "roll", piece, helping=True, pair=(1, 2)) == (None, None, 309, None)
    assert times_by_two(crew, "roll", piece, helping=True, pair=(1, 0)) == (432, None, None, None)
