"""The daemon sees what befell the machine between two looks."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from mixclock.outside.clock import FakeClock
from mixclock.watch.clockeye import ClockEye


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(datetime(2026, 4, 13, 8, 0, tzinfo=UTC))


def test_time_that_passes_is_no_event(clock: FakeClock) -> None:
    eye = ClockEye(clock)
    clock.advance(0.4)
    assert eye.look() == []


def test_a_lid_that_was_shut_is_a_sleep_of_that_length(clock: FakeClock) -> None:
    eye = ClockEye(clock)
    clock.suspend(1800.0)
    (event,) = eye.look()
    assert (event.event, event.gap_s) == ("slept", 1800.0)
    assert "30 min" in event.detail
    assert eye.look() == []


@pytest.mark.parametrize(("step_s", "way"), [(3600.0, "forward"), (-90.0, "back")])
def test_a_clock_that_was_set_is_a_step_and_no_sleep(clock: FakeClock, step_s: float, way: str) -> None:
    eye = ClockEye(clock)
    clock.advance(0.4)
    clock.step(step_s)
    (event,) = eye.look()
    assert (event.event, event.gap_s) == ("stepped", step_s)
    assert way in event.detail


def test_a_machine_too_busy_to_look_is_a_stall(clock: FakeClock) -> None:
    eye = ClockEye(clock)
    clock.advance(12.0)
    (event,) = eye.look()
    assert event.event == "stalled"


def test_sleep_and_a_set_clock_at_once_are_told_apart(clock: FakeClock) -> None:
    eye = ClockEye(clock)
    clock.suspend(600.0)
    clock.step(-30.0)
    assert [(event.event, event.gap_s) for event in eye.look()] == [("slept", 600.0), ("stepped", -30.0)]
