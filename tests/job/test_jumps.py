"""Which readings are asked about: far from the one before, soon after it, at the same place."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from mixclock.job.jumps import Jump, jumps
from mixclock.job.readings import Sample

TEN = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)


def asked(*read: tuple[float, float, str | None]) -> tuple[Jump, ...]:
    return jumps([Sample(TEN + timedelta(minutes=at), value, area=area) for at, value, area in read], "slab")


def test_a_slab_that_jumps_by_more_than_fifteen_kelvin_is_asked_about() -> None:
    (jump,) = asked((0, 15.0, None), (119, 30.1, None))
    assert (jump.before.value, jump.after.value, jump.alone) == (15.0, 30.1, False)


@pytest.mark.parametrize(
    "read",
    [
        ((0, 15.0, None), (60, 30.0, None)),  # fifteen and no more
        ((0, 15.0, None), (121, 40.0, None)),  # a floor in the sun has had its time
        ((0, 15.0, "bay 1"), (5, 40.0, "bay 2")),  # another place
        ((0, 15.0, None), (5, 40.0, None), (8, 39.0, None)),  # confirmed
    ],
)
def test_what_a_floor_may_do_is_not_asked_about(read: tuple[tuple[float, float, str | None], ...]) -> None:
    assert asked(*read) == ()


def test_a_reading_that_the_next_one_leaves_alone_is_still_asked_about() -> None:
    (jump,) = asked((0, 15.0, None), (5, 40.0, None), (8, 16.0, None))
    assert (jump.after.value, jump.alone) == (40.0, True)


def test_a_second_jump_answers_nothing() -> None:
    assert [jump.after.value for jump in asked((0, 15.0, None), (5, 40.0, None), (8, -5.0, None))] == [40.0, -5.0]
