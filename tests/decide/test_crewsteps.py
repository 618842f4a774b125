"""How long ahead a crew is warned of a step."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from mixclock.decide.crewsteps import due_of
from mixclock.job.sitereading import read_site
from tests.boatshed import areas_of

MIXED = datetime(2026, 4, 13, 10, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("leads", "warned_min"),
    [
        ("", 20.0),  # a fifth of 25 minutes ahead
        ('leads = { pour-out = "12 min" }', 13.0),
        ('leads = { pour-out = "30 s" }', 24.5),
        ('leads = { pour-out = "1 h" }', 0.0),  # longer than the bucket lives: at once
        ('leads = { back-roll = "12 min" }', 20.0),  # of another step
    ],
)
def test_a_crew_that_wants_to_hear_sooner_does(leads: str, warned_min: float) -> None:
    due = due_of(
        read_site(areas_of('name = "bay 1"\nsize = "20 m2"', head=f"{leads}\n")),
        "pour-out",
        MIXED,
        MIXED + timedelta(minutes=25),
        timedelta(),
    )
    assert due.heads_up == (MIXED + timedelta(minutes=warned_min),)
    assert due.latest_start == MIXED + timedelta(minutes=25), "the deadline itself is the sheet's, not the crew's"
