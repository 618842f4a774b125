"""What is to spare in a plan is given to every window, not to the tightest alone; the sums by hand."""

from __future__ import annotations

import pytest

from mixclock.decide.plan.floor.plans import Plan
from mixclock.job.site import Person
from tests.decide.plan.floors import BEGINS, minutes
from tests.decide.plan.test_together import one_bay, plan_of

MIXER = Person("mixer", ("mix", "pour", "squeegee", "clean"), squeegee_m2_h=110.0)
SLOW_ROLLER = Person("roller", ("roll",), roll_m2_h=22.0)


def ends(plan: Plan, kind: str) -> list[float]:
    """When the steps of a kind end, in minutes."""
    return [(step.ends - BEGINS).total_seconds() / 60.0 for step in plan.steps if step.kind == kind]


def test_a_bucket_is_poured_halfway_between_the_edge_that_it_meets_and_the_roller_who_is_late() -> None:
    """By hand, in minutes: bay 1 is poured until 7 and rolled from 8 to 38 (11 m² at 22 m²/h); bay 2 is rolled next,
    from 38 to 68. Its squeegee meets the edge of bay 1 by 7 + 40 = 47, and who pours until P rolls by P + 60.
    So 47 - P are left at the edge and P - 8 at the roll: 19.5 each if P is 27.5, though it could be poured by 20.
    No bucket has more than 12 minutes to be poured out, mixing and all, so the least to spare says nothing of that."""
    plan = plan_of(one_bay([MIXER, SLOW_ROLLER], bays=2), minutes(pour_out=12.0, back_roll=60.0, wet_edge=40.0))
    assert ends(plan, "roll") == [38.0, 68.0]
    assert ends(plan, "pour") == [7.0, pytest.approx(27.5, abs=0.6)]


def test_what_is_to_spare_for_one_costs_nobody_an_end_of_the_day() -> None:
    """Bay 2 is rolled until 68 whenever it is poured; one bay alone until 38, with 30 of its 60 minutes to spare."""
    shuts = minutes(pour_out=12.0, back_roll=60.0, wet_edge=40.0)
    alone = plan_of(one_bay([MIXER, SLOW_ROLLER]), shuts)
    assert (ends(alone, "pour"), ends(alone, "roll")) == ([7.0], [38.0])
