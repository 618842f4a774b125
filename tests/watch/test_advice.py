"""What the plan advises reaches the crew like every other alert."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.plan.days.planjson import plan_text
from mixclock.decide.plan.floor.plans import FloorPiece, Plan, PlannedBatch, PlannedStep
from mixclock.job.entry import Planned, Withdrawn
from tests.days.clockwork import Day
from tests.days.shed import BASE, TOP, site

MODEL = bucket_model()


def written_plan(day: Day) -> Plan:
    """One bucket, planned for 40 minutes after the day begins (by hand: the search is not what is tested here)."""
    mix_at = day.begins + timedelta(minutes=40)
    poured = mix_at + timedelta(minutes=4)
    batch = PlannedBatch(
        number=1,
        coat="base",
        product="Shed base",
        pieces=(FloorPiece("bay 1", 11.5, 3.45),),
        volume_l=3.45,
        mass_kg=3.7,
        needed_l=3.45,
        kits=None,
        a_l=2.3,
        b_l=1.15,
        a_kg=None,
        b_kg=None,
        mixed_at=mix_at,
        poured_at=poured,
        pour_by=poured,
        vessel="pail",
        set_by="area",
    )
    steps = (
        PlannedStep("mix", "mixer", mix_at, poured, "base", 1, ("bay 1",)),
        PlannedStep("pour", "mixer", poured, poured + timedelta(minutes=1), "base", 1, ("bay 1",)),
    )
    return Plan(day.job, day.begins, (batch,), steps)


@pytest.fixture
def day_and_plan() -> tuple[Day, Plan]:
    """A day with a plan in its log."""
    day = Day(site(bays=2), [BASE, TOP], model=MODEL)
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    plan = written_plan(day)
    day.book.append(day.job, Planned(plan_text(plan)))
    day.look()
    return day, plan


def test_the_next_batch_is_called_out_when_the_plan_has_it_and_to_whom(day_and_plan: tuple[Day, Plan]) -> None:
    day, plan = day_and_plan
    first = plan.steps[0]
    while day.clock.now() < first.starts:
        day.clock.set(min(first.starts, day.clock.now() + timedelta(seconds=30)))
        day.look()
    day.clock.advance(0.4)
    day.look()
    (entry,) = day.raised("plan.next-batch-1")
    assert entry.happened - first.starts <= timedelta(seconds=2)
    assert entry.facts.who == first.who
    assert "start batch 1 now" in entry.facts.text
    assert "L of the base" in entry.facts.text


def test_a_plan_that_was_withdrawn_advises_nothing(day_and_plan: tuple[Day, Plan]) -> None:
    day, plan = day_and_plan
    day.clock.set(plan.steps[0].starts + timedelta(minutes=1))
    day.look()
    job = day.ticker.watched[day.job]
    number = next(entry.number for entry in day.book.log if isinstance(entry.facts, Planned))
    assert any(alert.id.startswith("plan.") for alert in job.alerts(day.clock.now()))
    day.book.append(day.job, Withdrawn(number))
    day.look()
    assert not any(alert.id.startswith("plan.") for alert in job.alerts(day.clock.now()))


def three_bays(day: Day) -> Plan:
    """One bucket of 3.5 L a bay, a batch every 12 minutes, the first at once."""
    batches, steps = [], []
    for number in (1, 2, 3):
        mix_at = day.begins + timedelta(minutes=12 * number)
        first = written_plan(day)
        poured = mix_at + timedelta(minutes=4)
        bay = (f"bay {number}",)
        batches.append(
            replace(
                first.batches[0],
                number=number,
                pieces=(FloorPiece(bay[0], 11.5, 3.45),),
                mixed_at=mix_at,
                poured_at=poured,
            )
        )
        steps += [
            PlannedStep("mix", "mixer", mix_at, mix_at + timedelta(minutes=3), "base", number, bay),
            PlannedStep("pour", "mixer", mix_at + timedelta(minutes=3), poured, "base", number, bay),
            PlannedStep("squeegee", "mixer", poured, poured + timedelta(minutes=6), "base", number, bay),
            PlannedStep(
                "roll", "roller", poured + timedelta(minutes=2), poured + timedelta(minutes=11), "base", number, bay
            ),
        ]
    return Plan(day.job, day.begins, tuple(batches), tuple(steps))


@pytest.fixture
def long_day() -> tuple[Day, Plan]:
    """A day of three bays that are joined wet, with a plan in its log."""
    day = Day(site(bays=3), [BASE, TOP], model=MODEL)
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    plan = three_bays(day)
    day.book.append(day.job, Planned(plan_text(plan)))
    return day, plan


def pass_time(day: Day, until: datetime) -> None:
    """Look every 20 s."""
    while day.clock.now() < until:
        day.clock.set(min(until, day.clock.now() + timedelta(seconds=20)))
        day.look()


def lay_first(day: Day, plan: Plan, covered_m2: float | None = None) -> None:
    """The first bucket as planned, rolled in time."""
    first = plan.batches[0]
    day.until(first.mixed_at)
    day.say("mixing", by="mixer", product="Shed base", coat="base", areas=["bay 1"], volume_l=3.45)
    day.until(first.poured_at)
    day.say("poured", by="mixer", batch=1, **({"covered_m2": covered_m2} if covered_m2 else {}))
    day.look()


def test_a_bucket_that_went_less_far_than_planned_is_called_out_as_short_once(long_day: tuple[Day, Plan]) -> None:
    day, plan = long_day
    lay_first(day, plan, covered_m2=9.0)
    pass_time(day, plan.batches[0].poured_at + timedelta(minutes=5))
    (entry,) = day.raised("plan.short")
    # 3.45 L did 9 m²: 34.5 m² take 13.2 L and 10.35 L were planned, so 2.9 L are missing, and they run out in bay 3
    assert entry.facts.area == "bay 3"
    assert "2.9 L short" in entry.facts.text


def test_a_bucket_that_went_as_far_as_planned_says_nothing(long_day: tuple[Day, Plan]) -> None:
    day, plan = long_day
    lay_first(day, plan, covered_m2=11.5)
    pass_time(day, plan.batches[0].poured_at + timedelta(minutes=5))
    assert not day.raised("plan.short")


def test_the_next_batch_waits_for_the_roller_who_is_behind_and_is_called_when_that_is_stated(
    long_day: tuple[Day, Plan],
) -> None:
    day, plan = long_day
    lay_first(day, plan)
    pass_time(day, plan.batches[1].mixed_at + timedelta(minutes=1))
    assert not day.raised("plan.next-batch-2")
    day.say("rolled", by="roller", batch=1)
    day.look()
    (entry,) = day.raised("plan.next-batch-2")
    assert "start batch 2 now" in entry.facts.text


def test_the_plan_never_calls_for_a_kit_that_the_wet_edge_forbids_to_open(long_day: tuple[Day, Plan]) -> None:
    day, plan = long_day
    lay_first(day, plan)
    pass_time(day, plan.batches[0].poured_at + timedelta(minutes=60))
    forbidden = [entry for entry in day.raised() if "don't open the next kit" in entry.facts.text]
    assert forbidden
    after = [entry for entry in day.raised("plan.next-batch-2") if entry.happened >= forbidden[0].happened]
    assert after == []
    job = day.ticker.watched[day.job]
    assert not any(alert.id == "plan.next-batch-2" for alert in job.alerts(day.clock.now()))
