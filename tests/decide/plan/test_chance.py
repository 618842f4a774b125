"""How likely a plan holds: beside exact answers where there are any."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime, time, timedelta

import numpy as np
import pytest
import scipy

from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.conditions import ExpectedConditions
from mixclock.decide.plan.floor.plans import Plan, PlannedStep
from mixclock.decide.plan.floor.timing import Span
from mixclock.decide.plan.judge.chance import USUAL, Spreads, days_counted, lived_days
from mixclock.decide.plan.judge.foreman import foreman_plan, on_days
from mixclock.decide.plan.judge.replay import Replay, Task, replay_of
from mixclock.decide.plan.judge.replaylimits import Limit
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from tests.decide.plan.chances import chance_of, simulate
from tests.decide.plan.floors import BEGINS, DAYS, PRODUCT, FixedTiming, bench, minutes, row_of

QUICK = Ways(Effort(300, 150))
DAYS_DRAWN = 200_000
CREW_OF_ONE = (Person("one", (), 110.0, 75.0, 60.0, 35.0),)
WHOLE_DAYS = Hours(DAYS, time(0, 1), time(23, 59))


def task(number: int, start_s: float, span_s: float) -> Task:
    """The step of one person that follows the one before."""
    at = BEGINS + timedelta(seconds=start_s)
    step = PlannedStep("roll", "one", at, at + timedelta(seconds=span_s), "base", number)
    return Task(step, 0, start_s, span_s, ((number - 1, "end", 0.0),) if number else ())


def limit(number: int, since: int | None, within_s: float, sigma: float = 0.0) -> Limit:
    """The step must end so long after another ended."""
    return Limit(number, False, since, False, within_s, sigma, sigma, (str(number),), f"step {number}")


def test_a_chain_of_independent_steps_holds_as_often_as_the_product_of_their_chances() -> None:
    # each step is a log-normal of 20 % and has its own limit from the end of the one before: Φ(ln(limit/span)/σ) each
    spans, limits = (600.0, 900.0, 300.0, 1200.0), (700.0, 1000.0, 420.0, 1300.0)
    starts = [sum(spans[:place]) for place in range(len(spans))]
    tasks = tuple(task(place, start, span) for place, (start, span) in enumerate(zip(starts, spans, strict=True)))
    bounds = tuple(limit(place, place - 1 if place else None, within) for place, within in enumerate(limits))
    found = simulate(Replay(tasks, bounds, 1), DAYS_DRAWN, seed=3)
    exact = math.prod(
        scipy.stats.norm.cdf(math.log(within / span) / 0.2) for span, within in zip(spans, limits, strict=True)
    )
    # four standard errors of a share of 200,000 days
    assert found.holds == pytest.approx(exact, abs=4 * math.sqrt(exact * (1 - exact) / DAYS_DRAWN))


def test_a_step_that_varies_against_a_clock_that_varies_is_one_normal_against_another() -> None:
    # P(span·e^(0.2 z1) < edge·e^(0.17 z2)) = Φ(ln(edge/span)/√(0.2² + 0.17²))
    tasks = (task(0, 0.0, 60.0), task(1, 60.0, 900.0))
    found = simulate(Replay(tasks, (limit(1, 0, 1000.0, 0.17),), 1), DAYS_DRAWN, seed=5)
    exact = scipy.stats.norm.cdf(math.log(1000.0 / 900.0) / math.hypot(0.2, 0.17))
    assert found.holds == pytest.approx(exact, abs=4 * math.sqrt(exact * (1 - exact) / DAYS_DRAWN))


def test_two_steps_before_one_deadline_are_the_sum_of_two_log_normals() -> None:
    # by quadrature (scipy): P(X + Y < d) = ∫ F_Y(d − x) f_X(x) dx
    tasks = (task(0, 0.0, 600.0), task(1, 600.0, 900.0))
    found = simulate(Replay(tasks, (limit(1, None, 1700.0),), 1), DAYS_DRAWN, seed=7)
    one, two = scipy.stats.lognorm(0.2, scale=600.0), scipy.stats.lognorm(0.2, scale=900.0)
    exact = scipy.integrate.quad(lambda x: two.cdf(1700.0 - x) * one.pdf(x), 0.0, 1700.0)[0]
    assert found.holds == pytest.approx(exact, abs=4 * math.sqrt(exact * (1 - exact) / DAYS_DRAWN))


def test_of_a_long_day_only_the_hours_that_some_limit_asks_for_are_kept() -> None:
    # three hundred steps in a row and one limit from the end of the first to the end of the last: two columns of six
    # hundred; with the bucket's stand in it the start of its mixing too
    tasks = tuple(task(place, 60.0 * place, 60.0) for place in range(300))
    last = limit(299, 0, 20_000.0)
    for one, starts in ((last, []), (replace(last, mixed=5, per_stood_s=0.5), [5])):
        lived = lived_days(Replay(tasks, (one,), 1), 100, 7, USUAL)
        assert [place for place, column in enumerate(lived.ends) if column is not None] == [0, 299]
        assert [place for place, column in enumerate(lived.starts) if column is not None] == starts
        assert 0.0 < days_counted(lived, 100, 7)[0].holds <= 1.0


class DampFrom:
    """A mild day that turns too damp for any resin at some instant."""

    def __init__(self, instant: datetime) -> None:
        self.instant = instant

    def at(self, instant: datetime) -> ExpectedConditions:
        """Half the humidity that is allowed, and from that instant on more than that."""
        return ExpectedConditions(20.0, 50.0 if instant < self.instant else 95.0, 20.0)


def test_a_film_that_is_still_rolled_when_the_damp_comes_breaks_the_day() -> None:
    """One person, one bucket, clocks that never shut: what the film takes is a sum of steps that vary by 20 % each,
    drawn here by numpy; part B goes in at its hour, or when it is measured out."""
    site = Site("Slip", "UTC", row_of((12.0,), (3.0,)), (Coat("base", PRODUCT, 300.0),), CREW_OF_ONE, (), WHOLE_DAYS)
    mild = bench(site, minutes(pour_out=500.0, back_roll=500.0, wet_edge=500.0))
    plan = make_plan(mild, QUICK)
    steps = [step for step in plan.steps if step.kind != "clean"]
    over = (steps[-1].ends - BEGINS).total_seconds()
    damp_s = math.ceil(over / 900.0) * 900.0  # the weather is looked at by the quarter of an hour
    damp = replace(mild, outlook=DampFrom(BEGINS + timedelta(seconds=damp_s)))
    dice = np.random.default_rng(20)
    free = np.zeros(DAYS_DRAWN)
    for step in steps:
        if step.kind in ("measure", "mix"):
            free = np.maximum(free, (step.starts - BEGINS).total_seconds())
        free = free + (step.ends - step.starts).total_seconds() * np.exp(0.2 * dice.standard_normal(DAYS_DRAWN))
    expected = float(np.mean(free <= damp_s))
    assert 0.2 < expected < 0.95, "else there is nothing to tell apart"
    found = chance_of(plan, damp, DAYS_DRAWN)
    assert found.windows_hold == pytest.approx(expected, abs=0.006)
    assert found.hours_hold == 1.0
    assert found.breaks[0][0].startswith("batch 1, bay 1: the weather, good until ")
    assert chance_of(plan, mild, DAYS_DRAWN).holds > 0.999


def test_a_day_without_any_spread_is_the_plan_itself() -> None:
    floor, plan = two_bays(45.0)
    assert chance_of(plan, floor, 50, spreads=Spreads(0.0, 0.0)).holds == 1.0


def two_bays(back_roll_min: float) -> tuple[Bench, Plan]:
    """Two bays for two people, with a back-roll window of so many minutes."""
    mixer = Person("mixer", ("mix", "pour", "squeegee", "clean"), squeegee_m2_h=110.0)
    roller = Person("roller", ("cut-in", "roll"), roll_m2_h=66.0, cut_in_m_h=35.0)
    coat = Coat("base", PRODUCT, 300.0, kit_l=4.0, split=True)
    pails = (Vessel("pail", 5.0), Vessel("second pail", 5.0))
    hours = Hours(DAYS, time(6), time(20))
    site = Site("Slip", "UTC", row_of((11.0, 11.0), (7.0, 7.0)), (coat,), (mixer, roller), pails, hours)
    floor = bench(site, minutes(pour_out=12.0, back_roll=back_roll_min, wet_edge=50.0))
    plan = make_plan(floor, QUICK)
    assert plan.feasible
    return floor, plan


def test_the_same_seed_lives_through_the_same_days_and_another_nearly_so() -> None:
    floor, plan = two_bays(40.0)
    first, again, other = (chance_of(plan, floor, 4000, seed=seed) for seed in (1, 1, 2))
    assert first == again
    assert other.holds == pytest.approx(first.holds, abs=0.05)


def test_a_wider_window_holds_more_often_and_the_tight_step_is_named() -> None:
    tight, wide = (chance_of(plan, floor, 4000) for floor, plan in (two_bays(33.0), two_bays(60.0)))
    assert tight.holds < wide.holds
    assert tight.breaks
    assert "back-roll" in tight.breaks[0][0]
    assert tight.holds + sum(share for _, share in tight.breaks) == pytest.approx(1.0, abs=0.01)


def test_more_spread_in_the_crew_s_steps_breaks_more_days() -> None:
    floor, plan = two_bays(40.0)
    calm, wild = (chance_of(plan, floor, 4000, spreads=Spreads(sigma)).holds for sigma in (0.05, 0.4))
    assert wild < calm


def test_a_day_that_is_played_again_keeps_the_order_of_the_plans_own_table() -> None:
    """By hand: the roller follows a minute behind the squeegee, the flake five behind the roller, each to its end."""
    closing = minutes(pour_out=30.0, back_roll=60.0, broadcast=90.0)
    pair = (Person("one", (), 110.0, 66.0, 60.0, 35.0), Person("two", (), 110.0, 66.0, 60.0, 35.0))
    coats = (Coat("base", PRODUCT, 300.0, flake_kg_m2=0.3),)
    floor = bench(
        Site("Slip", "UTC", row_of((8.0,), (4.0,)), coats, pair, (Vessel("pail", 20.0),), Hours(DAYS)), closing
    )
    plan = make_plan(floor, QUICK)
    assert plan.feasible
    tasks = replay_of(plan, floor).tasks
    at = {task.step.kind: place for place, task in enumerate(tasks)}
    waits = {kind: tasks[at[kind]].waits for kind in ("mix", "pour", "squeegee", "roll", "broadcast")}
    assert {(at["squeegee"], "start", 60.0), (at["squeegee"], "tail", 60.0)} <= set(waits["roll"])
    assert {(at["roll"], "start", 300.0), (at["roll"], "tail", 60.0)} <= set(waits["broadcast"])
    assert (at["mix"], "end", 0.0) in waits["pour"]
    assert (at["pour"], "end", 0.0) in waits["squeegee"]


def two_coats(recoat_shuts_h: float) -> tuple[Bench, Plan]:
    """One bay and two coats: the second from two hours after the first is poured, until so many."""
    alone = Person("one", (), 110.0, 66.0, 60.0, 35.0)
    coats = (Coat("base", PRODUCT, 300.0, wet_edge=False), Coat("top", PRODUCT, 100.0, after="base", wet_edge=False))
    site = Site(
        "Slip", "UTC", row_of((8.0,), (4.0,)), coats, (alone,), (Vessel("pail", 6.0),), Hours(DAYS, time(6), time(20))
    )
    closing = minutes(pour_out=30.0, back_roll=120.0, recoat=recoat_shuts_h * 60.0)
    floor = bench(site, closing, minutes(recoat=120.0))
    plan = make_plan(floor, QUICK)
    assert plan.feasible
    return floor, plan


def test_a_recoat_window_that_may_shut_early_is_named_as_that_and_not_as_the_bucket() -> None:
    # the second coat is poured 120 min after the first; the window shuts at 125 to 156 (early to likely) min
    floor, plan = two_coats(125.0 / 60.0)
    found = chance_of(plan, floor, 20_000)
    assert found.holds < 0.95
    assert found.breaks[0][0] == "batch 2, bay 1: recoat"


def test_a_bucket_for_the_next_coat_is_not_mixed_before_the_floor_is_open_to_it() -> None:
    # the floor opens 2 h after the first pour; mixing takes 3 min, so mixing waits for 1 h 57 min after that pour
    floor, plan = two_coats(20.0)
    tasks = replay_of(plan, floor).tasks
    (mix,) = [task for task in tasks if (task.step.kind, task.step.batch) == ("mix", 2)]
    (pour,) = [place for place, task in enumerate(tasks) if (task.step.kind, task.step.batch) == ("pour", 1)]
    assert (pour, "end", 7200.0 - 180.0) in mix.waits


def test_a_base_that_is_not_ready_at_its_hour_is_waited_for_and_breaks_a_day_only_by_its_end() -> None:
    """The floor opens 120 min after the first pour, at the latest edge 150: σ = ln(150/120)/1.2816.

    The plan pours at 150 and has some minutes left at the end of the day; steps take what they take. So the day holds
    where the floor opens by 150 and those: Φ(ln((150 + left)/120)/σ).
    """
    floor, _ = two_coats(20.0)
    assert isinstance(floor.timing, FixedTiming)
    opening = {(PRODUCT, "recoat"): Span(6000.0, 7200.0, 9000.0)}
    slow = FixedTiming(floor.timing.closing, opening)
    floor = replace(floor, timing=slow, exact=slow)
    finish = make_plan(floor, QUICK).finish
    assert finish is not None
    end = (finish + timedelta(minutes=6)).replace(second=0)
    left_min = (end - finish).total_seconds() / 60.0
    floor = replace(floor, site=replace(floor.site, hours=Hours(DAYS[:1], time(6), end.time())))
    found = chance_of(make_plan(floor, QUICK), floor, DAYS_DRAWN, spreads=Spreads(step_sigma=0.0))
    exact = scipy.stats.norm.cdf(math.log((150.0 + left_min) / 120.0) / (math.log(150.0 / 120.0) / 1.2816))
    assert found.holds == pytest.approx(exact, abs=4 * math.sqrt(exact * (1 - exact) / DAYS_DRAWN))
    assert [name for name, _ in found.breaks] == ["working hours"]


def test_to_be_sure_the_buckets_are_made_smaller_or_it_is_said_that_they_can_t() -> None:
    floor, plan = two_bays(33.0)
    plain = chance_of(plan, floor)
    sure = foreman_plan(floor, QUICK, wanted=on_days(0.95))
    assert sure.chance is not None
    assert sure.chance.holds >= plain.holds - 0.01
    assert sure.chance.holds >= 0.95 or any("were asked for" in warning for warning in sure.warnings)


def test_a_share_that_is_none_and_a_spread_that_is_none_are_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        on_days(1.0)
    with pytest.raises(ValueError, match="from 0 to 2"):
        replace(Spreads(), step_sigma=-0.1)
