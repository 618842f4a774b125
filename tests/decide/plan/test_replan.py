"""Running late: the rest is planned from where things stand, and the plan's advice is called out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache

import pytest

from mixclock.decide.plan.days import planjson
from mixclock.decide.plan.days.advice import advice_by, bought_l
from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.planjson import plan_from, plan_text, plans_in
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.days.sincelast import changes_since
from mixclock.decide.plan.days.standpoint import StandpointReport, standpoint_of
from mixclock.decide.plan.floor.coverage import covered, measures
from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.plan.floor.setting import OpenStep
from mixclock.decide.plan.floor.sheettiming import SheetTiming
from mixclock.decide.plan.judge.explanation import explain
from mixclock.decide.plan.judge.replay import replay_of
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.decide.shapes import Alert
from mixclock.decide.tracks import Track
from mixclock.job.entry import Began, Combined, Did, JobStarted, Noted, Planned, Poured, Reading
from mixclock.job.progress import Standing
from mixclock.job.site import Person
from tests.decide.plan.floors import replan
from tests.decide.worlds import MODEL, SITE, Log, instant
from tests.frozen import machine_at

PLAIN_SITE = SITE.replace('flake = "0.4 kg/m2"', "wet_edge = false")
QUICK = Ways(Effort(200, 100), exact=False)


def shed() -> Log:
    """A mild morning, nothing mixed yet; bays that need no wet edge between them, and no flake."""
    log = Log()
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", PLAIN_SITE))
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    return log


def bench_of(log: Log, minutes: float) -> Bench:
    """What a plan rests on at an instant, the base coat alone."""
    standing = log.standing(minutes)
    site = replace(standing.site, coats=standing.site.coats[:1])
    timing, exact = SheetTiming(standing, MODEL), SheetTiming(standing, MODEL, 0)
    return Bench(site, standing.profiles, timing, exact, timing, instant(minutes))


@cache
def first_plan() -> Plan:
    """The plan of the morning, before anything is mixed."""
    plan = make_plan(bench_of(shed(), 0), QUICK)
    assert plan.feasible
    return plan


def planned(log: Log) -> Plan:
    """The plan of the morning, kept in the log as the command does it."""
    log.add(0, Planned(plan_text(first_plan())))
    return first_plan()


def lay(log: Log, plan: Plan, number: int, late_min: float = 0.0) -> None:
    """State a batch as it was planned, so much later."""
    batch = plan.batches[number - 1]
    mixed = (batch.mixed_at - instant(0)).total_seconds() / 60.0 + late_min
    log.add(mixed, Combined(batch.product, batch.areas, volume_l=batch.volume_l, material_c=20.0), by="mixer")
    log.add(mixed + 4, Poured(number))
    log.add(mixed + 12, Did("back-roll", number))
    log.add(mixed + 18, Did("broadcast", number))


def advice(standing: Standing, tracks: Sequence[Track], now: datetime) -> tuple[Alert, ...]:
    """What the plans in the log say at an instant."""
    return advice_by(standing, tracks, plans_in(standing.entries, standing.withdrawn), now)


def test_a_plan_comes_back_from_the_log_as_it_was() -> None:
    log = shed()
    plan = planned(log)
    assert plan_from(plan_text(plan)) == plan
    assert plans_in(log.entries) == (plan,)


def test_a_plan_that_was_first_read_on_a_held_clock_is_read_as_well_on_a_running_one() -> None:
    plan = first_plan()
    text = plan_text(plan)
    planjson._shape_of.cache_clear()
    plan_from.cache_clear()
    with machine_at(instant(0)):
        assert plan_from(text) == plan
    plan_from.cache_clear()
    assert plan_from(text) == plan
    planjson._shape_of.cache_clear()


def test_what_was_poured_is_kept_and_only_the_rest_is_planned() -> None:
    log = shed()
    plan = planned(log)
    lay(log, plan, 1)
    at = (log.entries[-1].happened - instant(0)).total_seconds() / 60.0
    bench = bench_of(log, at)
    rest = replan(log.standing(at), log.tracks(at), bench, QUICK, plan)
    assert rest.feasible, rest.obstacle
    assert rest.kept == (1,)
    assert all(batch.number > 1 and batch.mixed_at >= instant(at) for batch in rest.batches)
    left_m2 = sum(batch.size_m2 for batch in rest.batches)
    assert left_m2 < 36.0 - 0.8 * plan.batches[0].size_m2
    assert rest.changed


def test_a_bucket_that_stands_mixed_is_poured_before_another_is_begun() -> None:
    log = shed()
    plan = planned(log)
    batch = plan.batches[0]
    mixed = (batch.mixed_at - instant(0)).total_seconds() / 60.0
    log.add(mixed, Combined(batch.product, batch.areas, volume_l=batch.volume_l, material_c=20.0), by="mixer")
    stood = standpoint_of(log.standing(mixed + 2), log.tracks(mixed + 2), bench_of(log, mixed + 2), instant(mixed + 2))
    assert len(stood.standpoint.waiting) == 1
    assert stood.standpoint.next_number == 2


def test_with_one_more_person_a_live_batch_stays_with_those_who_have_it() -> None:
    log = shed()
    plan = planned(log)
    batch = plan.batches[0]
    mixed = (batch.mixed_at - instant(0)).total_seconds() / 60.0
    log.add(mixed, Combined(batch.product, batch.areas, volume_l=batch.volume_l, material_c=20.0), by="mixer")
    bench = bench_of(log, mixed + 2)
    stood = standpoint_of(log.standing(mixed + 2), log.tracks(mixed + 2), bench, instant(mixed + 2))
    more = replace(bench, site=replace(bench.site, crew=(*bench.site.crew, Person("one more"))))
    found = make_plan(more, QUICK, stood.standpoint)
    assert found.feasible, found.obstacle
    assert all(step.who != "one more" for step in found.steps if step.batch == 1)


def test_a_later_plan_says_what_changed_and_an_equal_one_that_nothing_did() -> None:
    log = shed()
    plan = planned(log)
    assert changes_since(plan, plan) == ("nothing has changed",)
    assert changes_since(None, plan) == ()
    later = make_plan(bench_of(log, 120), QUICK)
    assert changes_since(plan, later)


def test_the_next_batch_is_called_at_its_planned_hour_and_not_before() -> None:
    log = shed()
    plan = planned(log)
    start = (plan.batches[0].mixed_at - instant(0)).total_seconds() / 60.0
    assert [alert.id for alert in advice(log.standing(start - 1), log.tracks(start - 1), instant(start - 1))] == []
    called = advice(log.standing(start + 0.1), log.tracks(start + 0.1), instant(start + 0.1))
    assert [(alert.id, alert.step, alert.who) for alert in called] == [("plan.next-batch-1", "next-batch", "mixer")]


def test_a_batch_that_was_begun_is_called_no_more() -> None:
    log = shed()
    plan = planned(log)
    batch = plan.batches[0]
    start = (batch.mixed_at - instant(0)).total_seconds() / 60.0
    log.add(start, Combined(batch.product, batch.areas, volume_l=batch.volume_l, material_c=20.0))
    assert "plan.next-batch-1" not in [
        alert.id for alert in advice(log.standing(start + 1), log.tracks(start + 1), instant(start + 1))
    ]


def test_buckets_that_cover_less_than_planned_are_short_before_the_last_bay() -> None:
    log = shed()
    plan = planned(log)
    batch = plan.batches[0]
    start = (batch.mixed_at - instant(0)).total_seconds() / 60.0
    log.add(start, Combined(batch.product, batch.areas, volume_l=batch.volume_l, material_c=20.0))
    log.add(start + 4, Poured(1, covered_m2=0.6 * batch.size_m2))
    log.add(start + 12, Did("back-roll", 1))
    at = start + 13
    found = {alert.id: alert for alert in advice(log.standing(at), log.tracks(at), instant(at))}
    assert "plan.short" in found


def test_a_rough_bay_that_takes_what_was_planned_for_it_makes_no_floor_short() -> None:
    """12 m² at 300 µm and 200 µm for a rough slab: 6 L of the 6.32 L that its bucket holds; other bays take 3.79 L."""
    log = shed()
    rough = PLAIN_SITE.replace('name = "bay 1"', 'name = "bay 1"\ntexture = "rough"', 1)
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", rough))
    plan = make_plan(bench_of(log, 0), QUICK)
    assert plan.feasible
    log.add(0, Planned(plan_text(plan)))
    log.add(1, Combined("Shed base", ("bay 1",), volume_l=6.0 / 0.95, material_c=20.0), by="mixer")
    log.add(5, Poured(1, covered_m2=12.0))
    log.add(20, Did("back-roll", 1))
    assert "plan.short" not in {alert.id for alert in advice(log.standing(22), log.tracks(22), instant(22))}


def test_buckets_that_cover_what_was_planned_are_not_short() -> None:
    log = shed()
    plan = planned(log)
    lay(log, plan, 1)
    at = (log.entries[-1].happened - instant(0)).total_seconds() / 60.0
    assert "plan.short" not in {alert.id for alert in advice(log.standing(at), log.tracks(at), instant(at))}


def joined_shed() -> Log:
    """The shed as it is: flake thrown, bays joined wet, everything at 20 degrees."""
    log = Log()
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    return log


def stood_at(log: Log, minutes: float) -> StandpointReport:
    """Where the job stands at an instant."""
    return standpoint_of(log.standing(minutes), log.tracks(minutes), bench_of(log, minutes), instant(minutes))


def test_a_film_that_is_still_wet_keeps_its_deadlines_and_the_wet_edge_that_the_next_bay_must_meet() -> None:
    log = joined_shed()
    log.add(0, Combined("Shed base", ("bay 1",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(4, Poured(1))
    stood = stood_at(log, 6)
    assert stood.said == ()
    due = {wait.kind: by for _, wait, _, by in stood.standpoint.waiting}
    assert due == {
        "roll": log.window("back-roll", 6, "bay 1").closes.early,
        "broadcast": log.window("broadcast", 6, "bay 1").closes.early,
    }
    edge = log.window("wet-edge", 6, "bay 1").closes
    assert stood.standpoint.joined_by == {("base", "bay 2"): edge.early}
    assert stood.standpoint.left_m2["base", "bay 1"] == 0.0
    assert stood.standpoint.left_m2["base", "bay 2"] == 12.0


def test_a_bay_that_is_half_done_is_joined_itself_before_its_neighbour_is() -> None:
    log = joined_shed()
    log.add(0, Combined("Shed base", ("bay 1",), "base", 2.0, 2.1, mixing_s=180), by="mixer")
    log.add(4, Poured(1, covered_m2=6.0))
    stood = stood_at(log, 6).standpoint
    assert stood.left_m2["base", "bay 1"] == 6.0
    assert list(stood.joined_by) == [("base", "bay 1")]


def test_what_is_late_is_done_at_once_and_a_wet_edge_that_is_gone_is_taped() -> None:
    log = joined_shed()
    log.add(0, Combined("Shed base", ("bay 1",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(4, Poured(1))
    log.add(14, Did("back-roll", 1))
    stood = stood_at(log, 45)
    assert stood.said == (
        "broadcast of batch 1 is late: do it at once, throw only where it is wet",
        "the wet edge of bay 1 is gone: tape a straight line there",
    )
    assert [(wait.kind, by) for _, wait, _, by in stood.standpoint.waiting] == [("broadcast", None)]
    assert stood.standpoint.joined_by == {}


def test_who_is_on_a_step_needs_only_what_is_left_of_it() -> None:
    log = joined_shed()
    log.add(0, Combined("Shed base", ("bay 1",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(4, Poured(1))
    log.add(8, Began("back-roll", 1), by="roller")
    (wait,) = [wait for _, wait, _, _ in stood_at(log, 12).standpoint.waiting if wait.kind == "roll"]
    # 12 m² at 75 m² an hour are 576 s, of which 240 s are gone; the mixer does not roll
    assert wait.times == (None, 336)


@pytest.mark.parametrize(
    ("notes", "sanded"),
    [
        (((60, Noted("abraded: yes", "bay 1")),), ["bay 1"]),
        (((60, Noted("abraded: yes")),), ["bay 1", "bay 2"]),
        (((60, Noted("abraded: yes")), (90, Noted("abraded: no", "bay 2"))), ["bay 1"]),
        (((2, Noted("abraded: yes")),), []),  # what was sanded before the pour is under the film
        (((60, Noted("abraded: yes", batch=2)),), ["bay 2"]),
        (((60, Noted("the floor was abraded")),), []),
    ],
)
def test_a_film_counts_as_sanded_where_that_was_noted_after_its_pour(
    notes: Sequence[tuple[float, Noted]], sanded: list[str]
) -> None:
    log = joined_shed()
    for number, minutes in ((1, 4), (2, 24)):
        log.add(minutes - 3, Combined("Shed base", (f"bay {number}",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
        log.add(minutes, Poured(number))
    for minutes, note in notes:
        log.add(minutes, note)
    films = stood_at(log, 120).standpoint.films
    assert [film.areas[0] for film in films if film.sanded] == sanded


def test_what_a_bucket_was_stated_not_to_reach_is_still_to_be_done() -> None:
    """10.5 of 12 m² as stated: the rest is bare. Reckoned by the litres alone it would be within a hand's tolerance."""
    coat = joined_shed().standing().site.coats[0]
    for covered_m2, left_m2 in ((10.5, 1.5), (11.6, 0.0)):
        log = joined_shed()
        log.add(0, Combined("Shed base", ("bay 1",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
        log.add(4, Poured(1, covered_m2=covered_m2))
        assert covered(log.standing(), coat).left_m2(log.standing().site.areas[0]) == left_m2


def test_a_bay_that_the_crew_left_for_another_is_done_whatever_its_bucket_should_have_covered() -> None:
    log = joined_shed()
    log.add(0, Combined("Shed base", ("bay 1",), "base", 2.5, 2.7, mixing_s=180), by="mixer")
    log.add(4, Poured(1))
    coat = log.standing().site.coats[0]
    bay = log.standing().site.areas[0]
    assert covered(log.standing(), coat).left_m2(bay) > 0.0
    log.add(15, Combined("Shed base", ("bay 2",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(19, Poured(2))
    assert covered(log.standing(), coat).left_m2(bay) == 0.0
    # and 2.5 L on its 12 m² is what a square metre really took
    (measure,) = measures(log.standing(), coat)
    assert (measure.volume_l, measure.size_m2) == (2.5, 12.0)


def test_a_wet_edge_that_is_lost_is_freed_by_a_tape_and_more_hands_may_be_thought_of() -> None:
    """Half of the first bay is poured and begins to set before the next bucket can be there: a taped line ends it."""
    log = shed()
    wet = PLAIN_SITE.replace("wet_edge = false", "wet_edge = true")
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", wet))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=2.0, material_c=20.0), by="mixer")
    log.add(4, Poured(1))
    at = next(
        minute
        for minute in range(10, 240, 5)
        if not replan(log.standing(minute), log.tracks(minute), bench_of(log, minute), QUICK).feasible
    )
    bench = bench_of(log, at)
    standpoint = standpoint_of(log.standing(at), log.tracks(at), bench, instant(at)).standpoint
    stuck = make_plan(bench, QUICK, standpoint)
    assert stuck.obstacle is not None
    assert stuck.obstacle.constraint == "wet-edge"
    found = explain(bench, stuck, QUICK, standpoint)
    assert "taped joint" in {change.direction for change in found.changes}
    assert not any("without wet-edge alone" in line for line in found.warnings)


def test_what_was_mixed_before_the_first_plan_was_bought_as_well() -> None:
    log = shed()
    lay(log, first_plan(), 1)
    at = (log.entries[-1].happened - instant(0)).total_seconds() / 60.0
    rest = replan(log.standing(at), log.tracks(at), bench_of(log, at), QUICK)
    assert rest.kept == (1,)
    standing = log.standing(at)
    coat = standing.site.coats[0]
    whole_l = sum(batch.volume_l for batch in first_plan().batches if batch.coat == coat.name)
    assert bought_l(standing, coat, rest) >= 0.95 * whole_l
    assert all(alert.reason != "short" for alert in advice_by(standing, log.tracks(at), (rest,), instant(at)))


def flaked() -> Log:
    """Bays with flake on them, that need no wet edge between them."""
    log = Log()
    site = SITE.replace('flake = "0.4 kg/m2"', 'flake = "0.4 kg/m2"\nwet_edge = false')
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", site))
    return log


@pytest.mark.parametrize(
    "minute", [5, 17, *(pytest.param(other, marks=pytest.mark.long) for other in (8, 11, 14, 20, 23, 26))]
)
def test_flake_is_never_thrown_before_the_back_roll_of_a_batch_that_lies_already(minute: int) -> None:
    """Nobody rolls through flake. Poured at 4 min, planned again at some instant after it."""
    log = flaked()
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0), by="mixer")
    log.add(4, Poured(1))
    rest = replan(log.standing(minute), log.tracks(minute), bench_of(log, minute), QUICK)
    assert rest.feasible, rest.obstacle
    roll, flake = (next(step for step in rest.steps if (step.batch, step.kind) == (1, kind)) for kind in LIVE)
    assert flake.starts >= roll.starts + timedelta(minutes=5)
    assert flake.ends >= roll.ends + timedelta(minutes=1)


LIVE = ("roll", "broadcast")


def test_live_steps_keep_their_order_however_they_are_listed() -> None:
    """Both may do both: without an order the flake, which is listed first, would be thrown first."""
    at = bench_of(flaked(), 0)
    crew = (Person("one"), Person("two"))
    steps = [("base", OpenStep(kind, 1, ("bay 1",), (300, 300)), None, None) for kind in ("broadcast", "roll")]
    rest = make_plan(
        replace(at, site=replace(at.site, crew=crew)), QUICK, Standpoint(waiting=tuple(steps), next_number=2)
    )
    roll, flake = (next(step for step in rest.steps if (step.batch, step.kind) == (1, kind)) for kind in LIVE)
    assert flake.starts >= roll.starts + timedelta(minutes=5)
    assert flake.ends >= roll.ends + timedelta(minutes=1)


def test_days_are_played_with_a_live_batch_in_its_order_too() -> None:
    log = flaked()
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0), by="mixer")
    log.add(4, Poured(1))
    bench = bench_of(log, 6)
    rest = replan(log.standing(6), log.tracks(6), bench, QUICK)
    tasks = replay_of(rest, bench).tasks
    roll, flake = (next(task for task in tasks if (task.step.batch, task.step.kind) == (1, kind)) for kind in LIVE)
    assert {how for other, how, _ in flake.waits if tasks[other] is roll} == {"start", "tail"}


def test_steps_that_are_still_due_stay_in_a_plan_whose_rest_does_not_fit() -> None:
    """Ten minutes after the pour no bucket for bay 2 meets the wet edge any more: bay 1 is rolled and flaked."""
    log = Log()
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0), by="mixer")
    log.add(4, Poured(1))
    rest = replan(log.standing(14), log.tracks(14), bench_of(log, 14), QUICK)
    assert not rest.feasible
    assert [step.kind for step in rest.steps if step.batch == 1] == ["roll", "broadcast"]


def test_the_last_bucket_is_rolled_and_flaked_though_nothing_is_left_to_pour() -> None:
    log = flaked()
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1", "bay 2", "bay 3"), volume_l=12.0, material_c=20.0), by="mixer")
    log.add(4, Poured(1))
    rest = replan(log.standing(5), log.tracks(5), bench_of(log, 5), QUICK)
    assert rest.feasible
    assert [step.kind for step in rest.steps] == ["roll", "broadcast", "clean"]
    assert rest.batches == ()


def test_the_flake_of_the_next_bay_is_begun_while_it_sticks_on_the_strip_of_the_bay_that_lies() -> None:
    """Bay 1 is poured at 8:04 and flaked but for its strip at the joint. 8 m of edge to cut in on bay 2 put the flake
    of its buckets off: begun behind the last of them, it no longer stuck on that strip."""
    log = Log()
    site = SITE.replace("next_to", 'edge = "8 m"\nnext_to')
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", site))
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(4, Poured(1))
    log.add(9, Did("back-roll", 1))
    log.add(10, Did("broadcast", 1))
    (track,) = [each for each in log.tracks(13) if each.name == "broadcast"]
    assert track.closing is not None
    bench = bench_of(log, 13)
    stood = standpoint_of(log.standing(13), log.tracks(13), bench, instant(13)).standpoint
    plan = make_plan(bench, QUICK, stood)
    assert plan.feasible, plan.obstacle
    first = next(step for step in plan.steps if step.kind == "broadcast" and step.batch == plan.batches[0].number)
    assert first.starts <= track.closing.early
    assert first.note.startswith("flake the strip at the joint first")
    spread = next(step for step in plan.steps if step.kind == "squeegee")
    (wet,) = [each for each in log.tracks(13) if each.name == "wet-edge"]
    assert wet.closing is not None
    assert spread.window == "wet-edge"
    assert spread.by is not None, "whoever spreads it is told by when"
    assert 0.0 <= (wet.closing.early - spread.by).total_seconds() < 1.0, "a plan counts whole seconds"
    left_out = make_plan(replace(bench, ignore=frozenset({"broadcast"})), QUICK, stood)
    assert left_out.feasible, "a joint that is given up is no obstacle"
