"""What the plan advises reaches the crew like every other alert."""

from __future__ import annotations

from datetime import timedelta

import pytest
from days.clockwork import Day
from days.shed import BASE, TOP, site

from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.plan.planjson import plan_text
from mixclock.decide.plan.shapes import Piece, Plan, PlannedBatch, PlannedStep
from mixclock.job.entry import Planned, Withdrawn

MODEL = bucket_model()


def written_plan(day: Day) -> Plan:
    """One bucket, planned for 40 minutes after the day begins (by hand: the search is not what is tested here)."""
    mix_at = day.begins + timedelta(minutes=40)
    poured = mix_at + timedelta(minutes=4)
    batch = PlannedBatch(
        number=1,
        coat="base",
        product="Shed base",
        pieces=(Piece("bay 1", 11.5, 3.45),),
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
