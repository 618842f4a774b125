"""A floor that is etched before it is coated: worked by hand, held against the checker, and what the checker sees."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import timedelta
from functools import cache

import pytest

from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.acid import dilution_of
from mixclock.decide.plan.floor.plans import Plan, PlannedStep
from mixclock.decide.plan.floor.takeoff import take_off
from mixclock.decide.plan.judge.chance import Spreads
from mixclock.decide.plan.judge.explanation import explain
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import Coat, Person, Vessel
from tests.decide.plan.chances import chance_of
from tests.decide.plan.checker import violations
from tests.decide.plan.etches import BASE_COAT, ETCH_COAT, PROFILES, SODA_COAT, etch_bench, etch_job, etched
from tests.decide.plan.floors import BEGINS, minutes

QUICK = Ways(Effort(400, 200))
WHOLE = (ETCH_COAT, SODA_COAT, replace(BASE_COAT, after="neutralise"))
PAIR = (Person("mixer", ("mix", "pour", "clean")), Person("second", ("prep", "squeegee", "roll", "cut-in")))


def clock(plan: Plan, *kinds: str) -> list[tuple[str, int | None, float, float]]:
    """Steps with their batch, from when to when in minutes."""
    minute = lambda at: (at - BEGINS).total_seconds() / 60.0  # noqa: E731
    return [
        (step.kind, step.batch, minute(step.starts), minute(step.ends)) for step in plan.steps if step.kind in kinds
    ]


def test_one_person_etches_in_parts_that_can_be_neutralised_in_time_as_worked_by_hand() -> None:
    """Worked by hand, in minutes. 20 m² alone; acid 120 m²/h, neutraliser 120 m²/h, rinse 60 m²/h; dwell 5 to 8.

    Whoever is alone lays all of a piece before neutralising its first strip, so that strip lies for as long as the pour
    takes: 20 m² take 10 and are too many for 8, two parts of 10 m² take 5 each. Then nobody waits for the dwell: from
    start to start are 5, and from end to end. The rinse may begin 5 after the neutraliser was begun, when it ends.

        0-5 neutraliser ready    5-8 measure 1   8-9 mix   9-14 acid   14-19 neutralise   19-29 rinse
                                29-32 measure 2 32-33 mix 33-38 acid   38-43 neutralise   43-53 rinse   53-63 clean

    All of it is work without a pause: no plan is done sooner than 63.
    """
    site = etched(ETCH_COAT)
    plan = make_plan(etch_bench(site), QUICK)
    assert plan.obstacle is None
    assert [piece.said for batch in plan.batches for piece in batch.pieces] == [
        "bay 1 (part 1 of 2)",
        "bay 1 (part 2 of 2)",
    ]
    assert plan.finish == BEGINS + timedelta(minutes=63)
    assert clock(plan, "ready")[0][2:] == (0.0, 5.0)
    for _, number, begins, ends in clock(plan, "pour"):
        (acid_off,) = (row for row in clock(plan, "neutralise") if row[1] == number)
        assert ends - begins == 5.0
        assert 5.0 <= acid_off[2] - begins <= 8.0, "the first strip"
        assert 5.0 <= acid_off[3] - ends <= 8.0, "the last strip"
    assert violations(plan, etch_job(site)) == []


def test_two_people_follow_each_other_over_the_whole_bay_as_worked_by_hand() -> None:
    """One lays, the other neutralises 5 minutes behind: 20 m² are one bucket, whatever the dwell.

    mixer   0-5 ready   5-8 measure   8-9 mix   9-19 acid                     44-54 clean
    second                                      14-24 neutralise  24-44 rinse
    """
    site = etched(ETCH_COAT, crew=PAIR)
    plan = make_plan(etch_bench(site), QUICK)
    assert plan.obstacle is None
    assert len(plan.batches) == 1
    assert clock(plan, "pour", "neutralise", "rinse") == [
        ("pour", 1, 9.0, 19.0),
        ("neutralise", 1, 14.0, 24.0),
        ("rinse", 1, 24.0, 44.0),
    ]
    assert plan.finish == BEGINS + timedelta(minutes=54)
    assert violations(plan, etch_job(site)) == []


def test_a_floor_of_360_square_feet_is_no_obstacle_to_one_person() -> None:
    # 360 ft² are 33.4 m²; at most 16 m² can be laid in the 8 minutes of the dwell: three parts of 11.1 m² (120 ft²)
    site = etched(ETCH_COAT, sizes=(360 * 0.3048**2,))
    plan = make_plan(etch_bench(site), QUICK)
    assert plan.obstacle is None
    assert [round(batch.size_m2, 1) for batch in plan.batches] == [11.1, 11.1, 11.1]
    assert violations(plan, etch_job(site)) == []


def test_many_bays_that_are_each_too_large_are_all_cut_where_that_saves_buckets_across_their_joints() -> None:
    # 160 m² and at most 16 m² to a bucket: ten, as long as a bucket may go on beyond the bay
    site = etched(ETCH_COAT, sizes=(20.0,) * 8)
    plan = make_plan(etch_bench(site), Ways(Effort(60, 40)))
    assert plan.obstacle is None
    assert len(plan.batches) == 10
    assert violations(plan, etch_job(site)) == []


@cache
def whole() -> Plan:
    """Etched by one person, neutralised with the job's own product, dried, coated."""
    return make_plan(etch_bench(etched(*WHOLE)), QUICK)


def test_the_neutraliser_of_the_job_file_is_mixed_first_and_goes_on_with_its_acid() -> None:
    """20 m² at 2 m²/L are 10 L of neutraliser: one bucket, batch 1; the acid's parts are batches 2 and 3."""
    plan = whole()
    assert plan.obstacle is None
    (soda, first, second, *_) = plan.batches
    assert (soda.number, soda.coat, soda.volume_l) == (1, "neutralise", pytest.approx(10.0))
    assert [batch.coat for batch in (first, second)] == ["etch", "etch"]
    assert clock(plan, "mix")[0] == ("mix", 1, 0.0, 5.0)
    neutralising = [step for step in plan.steps if step.kind == "neutralise"]
    assert {step.note for step in neutralising} == {"with batch 1"}
    assert soda.poured_at == max(step.ends for step in neutralising)
    assert violations(plan, etch_job(etched(*WHOLE))) == []


def test_of_two_sheets_the_stricter_says_when_to_rinse_and_when_it_is_dry() -> None:
    """The neutraliser works for 6 minutes, and is off within 20; the etch's own sheet says 5 and 30. Drying: 48 h."""
    plan = whole()
    for _, number, begins, _ in clock(plan, "neutralise"):
        (rinse,) = (row for row in clock(plan, "rinse") if row[1] == number)
        assert 6.0 <= rinse[2] - begins <= 20.0
    windows = {window.name: window for window in plan.batches[1].windows}
    rinsed = next(step.ends for step in plan.steps if (step.kind, step.batch) == ("rinse", 2))
    assert windows["dry"].opens == rinsed + timedelta(hours=48)
    base = min(batch.poured_at for batch in plan.batches if batch.coat == "base")
    assert base >= rinsed + timedelta(hours=48)


def test_each_bucket_of_neutraliser_is_no_more_than_its_vessel_holds() -> None:
    # 3 bays of 20 m² at 2 m²/L are 30 L; a pail of 20 L takes 16: one bay to a bucket and a half of the next
    site = replace(etched(*WHOLE, sizes=(20.0, 20.0, 20.0)), vessels=(Vessel("pail", 20.0),))
    plan = make_plan(etch_bench(site), Ways(Effort(60, 40)))
    soda = [batch for batch in plan.batches if batch.coat == "neutralise"]
    assert [batch.volume_l for batch in soda] == pytest.approx([15.0, 15.0])
    assert violations(plan, etch_job(site)) == []


def test_a_jug_of_acid_need_not_be_used_up_in_one_bucket() -> None:
    # 20 m² at 1.5 m²/L are 13.3 L of solution, 3.33 L of acid: two parts of 1.67 L each out of one jug of 4 L
    site = etched(replace(ETCH_COAT, kit_l=4.0))
    plan = make_plan(etch_bench(site), QUICK)
    assert plan.obstacle is None
    assert [batch.volume_l for batch in plan.batches] == pytest.approx([20 / 3, 20 / 3])
    kits = take_off(site, PROFILES, plan.batches).coats[0].kits
    assert kits is not None
    assert kits.bought == 1


def test_three_parts_of_water_to_one_of_acid_and_soda_for_all_of_it() -> None:
    # 6.667 L: 1.667 L of acid into 5 L of water; 1.667 L · 1.16 kg/L · 31 % = 0.599 kg HCl · 84.007/36.461 = 1.381 kg
    dilution = dilution_of(PROFILES["etch"], 20 / 3)
    assert dilution is not None
    assert (dilution.product_l, dilution.water_l) == pytest.approx((5 / 3, 5.0))
    assert dilution.soda_kg == pytest.approx(1.381, abs=0.001)


def test_a_rough_slab_takes_no_more_acid_than_its_spread_says() -> None:
    smooth, rough = etched(ETCH_COAT), etched(ETCH_COAT)
    rough = replace(rough, areas=(replace(rough.areas[0], texture="rough"),))
    taken = [take_off(site, PROFILES).coats[0].needed_l for site in (smooth, rough)]
    assert taken == pytest.approx([20 / 1.5] * 2)


def test_acid_that_has_to_come_off_before_it_has_worked_is_in_the_way_and_said() -> None:
    """On a hot slab the dwell shuts at 4 minutes and opens at 5: no piece is small enough and no crew large enough."""
    floor = etch_bench(etched(ETCH_COAT), Etch=minutes(dwell=4.0, rinse=30.0))
    plan = make_plan(floor, QUICK)
    assert plan.obstacle is not None
    assert plan.obstacle.constraint == "dwell"
    assert plan.obstacle.said == "etch on bay 1: the acid can't be neutralised before it has lain too long"
    assert explain(floor, plan, QUICK).changes == ()


def test_the_chance_of_an_etch_is_sure_where_nothing_varies_and_falls_where_steps_do() -> None:
    site = etched(ETCH_COAT)
    floor = etch_bench(site)
    plan = make_plan(floor, QUICK)
    still = Spreads(step_sigma=0.0, cure_sigma=0.0)
    assert chance_of(plan, floor, 200, spreads=still).holds == 1.0
    shaky = chance_of(plan, floor, 2000, spreads=Spreads(step_sigma=0.4, cure_sigma=0.0))
    assert shaky.holds < 0.9
    assert any("dwell" in name for name, _ in shaky.breaks)


def test_an_etch_is_the_same_in_whatever_order_the_file_lists_its_bays() -> None:
    site = etched(ETCH_COAT, sizes=(12.0, 9.0, 14.0))
    shuffled = replace(site, areas=tuple(reversed(site.areas)))
    assert make_plan(etch_bench(site), QUICK) == make_plan(etch_bench(shuffled), QUICK)


def moved(minutes: float) -> Callable[[PlannedStep], PlannedStep]:
    by = timedelta(minutes=minutes)
    return lambda step: replace(step, starts=step.starts + by, ends=step.ends + by)


def slower(minutes: float) -> Callable[[PlannedStep], PlannedStep]:
    return lambda step: replace(step, ends=step.ends + timedelta(minutes=minutes))


def at_once_after(kind: str) -> Callable[[PlannedStep], PlannedStep]:
    """A step that begins a minute before another of its batch is over."""

    def change(step: PlannedStep) -> PlannedStep:
        before = next(each for each in whole().steps if (each.kind, each.batch) == (kind, step.batch))
        starts = before.ends - timedelta(minutes=1)
        return replace(step, starts=starts, ends=starts + (step.ends - step.starts))

    return change


def with_step(plan: Plan, kind: str, batch: int, change: Callable[[PlannedStep], PlannedStep]) -> Plan:
    steps = tuple(change(step) if (step.kind, step.batch) == (kind, batch) else step for step in plan.steps)
    return replace(plan, steps=steps)


@pytest.mark.parametrize(
    ("seen", "kind", "batch", "change"),
    [
        ("dwell", "neutralise", 2, moved(4.0)),
        ("dwell", "neutralise", 3, slower(4.0)),
        ("neutralise", "neutralise", 2, moved(6.0)),
        ("dwell short", "neutralise", 2, moved(-1.0)),
        ("dwell short", "neutralise", 3, lambda step: replace(step, ends=step.starts + timedelta(minutes=2))),
        ("rinse", "rinse", 3, moved(32.0)),
        ("rinse short", "rinse", 2, at_once_after("neutralise")),
        ("sequence", "rinse", 2, at_once_after("pour")),
        ("not ready", "mix", 1, moved(20.0)),
        ("wet slab", "pour", 4, moved(-24 * 60.0)),
        ("wet slab", "rinse", 3, moved(24 * 60.0)),
    ],
)
def test_the_checker_sees_acid_that_lies_too_long_too_short_or_under_a_coat(
    seen: str, kind: str, batch: int, change: Callable[[PlannedStep], PlannedStep]
) -> None:
    assert whole().obstacle is None
    assert seen in kinds(with_step(whole(), kind, batch, change))


def test_the_checker_sees_acid_that_nobody_neutralises_and_a_bay_whose_neutraliser_was_not_mixed() -> None:
    left = tuple(step for step in whole().steps if (step.kind, step.batch) != ("neutralise", 3))
    assert "acid left" in kinds(replace(whole(), steps=left))
    assert "not ready" in kinds(replace(whole(), batches=whole().batches[1:]))
    assert kinds(whole()) == set()


def kinds(plan: Plan, coats: Sequence[Coat] = WHOLE) -> set[str]:
    """What the checker finds on the whole floor."""
    return {found.kind for found in violations(plan, etch_job(etched(*coats)))}
