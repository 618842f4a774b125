"""What a slab or a room went through."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.formulas.history import (
    History,
    Moisture,
    hottest_sustained_c,
    moisture_exponent,
)
from tests.formulas.histories import constant_history, history_of


@st.composite
def histories(draw: st.DrawFn, low: float = 0.0, high: float = 45.0) -> History:
    gaps = draw(st.lists(st.floats(1.0, 7200.0), min_size=1, max_size=8))
    values = draw(st.lists(st.floats(low, high), min_size=len(gaps), max_size=len(gaps)))
    times, now = [], draw(st.floats(-3600.0, 3600.0))
    for gap in gaps:
        times.append(now)
        now += gap
    return History(tuple(times), tuple(values))


def test_the_first_reading_is_held_before_it_and_the_last_after_it() -> None:
    history = History((0.0, 100.0), (10.0, 20.0))
    assert [history.at(time_s) for time_s in (-50.0, 0.0, 25.0, 100.0, 999.0)] == [10.0, 10.0, 12.5, 20.0, 20.0]


def test_a_heater_lit_at_an_instant_is_a_jump() -> None:
    history = History((0.0, 60.0, 60.0, 120.0), (10.0, 10.0, 20.0, 20.0))
    assert (history.before(60.0), history.at(60.0)) == (10.0, 20.0)


def test_readings_entered_out_of_order_are_put_in_order() -> None:
    assert history_of([(60.0, 21.0), (0.0, 20.0)]).times_s == (0.0, 60.0)


def test_a_history_moved_to_another_zero_says_the_same() -> None:
    history = History((0.0, 100.0), (10.0, 20.0))
    assert history.shifted(500.0).at(550.0) == history.at(50.0)


@pytest.mark.parametrize(
    ("times", "values", "words"),
    [
        ((), (), "at least one"),
        ((0.0, 1.0), (20.0,), "2 times and 1 values"),
        ((1.0, 0.0), (20.0, 21.0), "run backwards"),
        ((0.0,), (float("nan"),), "not a finite number"),
    ],
)
def test_readings_that_cannot_be_a_history_are_refused(
    times: tuple[float, ...], values: tuple[float, ...], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        History(times, values)


@given(history=histories(), span_s=st.floats(60.0, 7200.0))
def test_the_hottest_sustained_hour_is_what_a_minute_by_minute_log_would_show(history: History, span_s: float) -> None:
    """Against brute force on a grid of 1/60 of the span, whose window can miss the best by the steepest step."""
    start_s, end_s = history.times_s[0], history.times_s[0] + 4.0 * span_s
    step_s = span_s / 60.0
    grid = [start_s + step_s * index for index in range(241)]
    log = [history.at(time_s) for time_s in grid]
    brute_c = max(min(log[index : index + 61]) for index in range(181))
    found_c = hottest_sustained_c(history, start_s, end_s, span_s)
    steepest = max((abs(b - a) for a, b in pairwise(log)), default=0.0)
    assert found_c is not None
    assert brute_c - 2.0 * steepest - 1e-6 <= found_c <= brute_c + 2.0 * steepest + 1e-6


def test_a_hot_half_hour_is_no_sustained_hour() -> None:
    history = History((0.0, 3600.0, 3600.0, 5400.0, 5400.0, 9000.0), (20.0, 20.0, 45.0, 45.0, 22.0, 22.0))
    assert hottest_sustained_c(history, 0.0, 9000.0) == pytest.approx(22.0, abs=1e-6)
    assert hottest_sustained_c(history, 0.0, 9000.0, 1800.0) == pytest.approx(45.0, abs=1e-6)


def test_nothing_was_sustained_for_an_hour_before_an_hour_has_passed() -> None:
    assert hottest_sustained_c(constant_history(30.0), 0.0, 1800.0) is None
    assert hottest_sustained_c(constant_history(30.0), 0.0, 3600.0) == 30.0


def test_damp_air_speeds_a_moisture_driven_film_but_is_not_believed_beyond_a_limit() -> None:
    assert Moisture.factor_of(4.0, 0.5) == 2.0
    assert Moisture.factor_of(100.0, 0.5) == 2.5
    assert Moisture.factor_of(0.0, 0.5) == 0.6
    assert Moisture.factor_of(100.0, 0.0) == 1.0


@given(exponent=st.floats(0.05, 2.0), reference=st.floats(3.0, 20.0), times=st.floats(1.1, 3.0))
def test_two_humidities_on_the_sheet_give_back_the_power_that_made_them(
    exponent: float, reference: float, times: float
) -> None:
    humid, dry = (reference * times, 600.0 * times**-exponent), (reference, 600.0)
    assert moisture_exponent(humid, dry) == pytest.approx(exponent, rel=1e-6)


def test_two_equal_humidities_say_nothing_and_are_refused() -> None:
    with pytest.raises(ValueError, match="not more humid"):
        moisture_exponent((10.0, 600.0), (10.0, 700.0))


@pytest.mark.parametrize(("reference", "exponent"), [(0.0, 0.5), (10.0, 3.5), (10.0, -0.1)])
def test_a_humidity_rule_out_of_range_is_refused(reference: float, exponent: float) -> None:
    with pytest.raises(ValueError, match="humidity"):
        Moisture(constant_history(10.0), reference, exponent)
