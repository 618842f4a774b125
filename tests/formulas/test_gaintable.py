"""What a clock gained, looked up: the same as added up anew, whatever was asked before."""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import accumulate, pairwise
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.polynomial.legendre import leggauss

from mixclock.formulas.cure import ripeness, time_of_ripeness
from mixclock.formulas.gaintable import BLOCK, gains
from mixclock.formulas.history import History, Moisture
from mixclock.formulas.rate_law import RateLaw, law_from_points, tau_s
from tests.examples import examples

LAW = law_from_points([(5.0, 9000.0), (10.0, 7000.0), (20.0, 4000.0), (30.0, 2500.0)], 47e3)
STEPPED = law_from_points([(float(temp_c), 9000.0 * math.exp(-0.05 * temp_c)) for temp_c in range(-20, 61)], 0.0)
NODES, WEIGHTS = leggauss(12)


def directly(
    law: RateLaw, history: History, start_s: float, end_s: float, moisture: Moisture | None = None, parts: int = 40
) -> float:
    """The integral by twelve Gauss points on each part of a stretch, cut where the law or the clamp bends."""
    wet = moisture.history if moisture else None
    knots = {start_s, end_s, *history.times_s, *(wet.times_s if wet else ())}
    total = 0.0
    for begin_s, until_s in pairwise(sorted(at_s for at_s in knots if start_s <= at_s <= end_s)):
        ends_c = history.after(begin_s), history.before(until_s)
        ends_m = (1.0, 1.0)
        if wet and moisture:
            ends_m = moisture.relative(wet.after(begin_s)), moisture.relative(wet.before(until_s))
        levels = [(temp_c, ends_c) for temp_c, _ in law.points]
        levels += [(bend, ends_m) for bend in (moisture.cuts if moisture else ())]
        shares = {0.0, 1.0, *(part / parts for part in range(1, parts))}
        shares |= {
            (level - low) / (high - low) for level, (low, high) in levels if min(low, high) < level < max(low, high)
        }
        for low, high in pairwise(sorted(share for share in shares if 0.0 <= share <= 1.0)):
            for node, weight in zip(NODES, WEIGHTS, strict=True):
                at = low + (high - low) * 0.5 * (1.0 + node)
                factor = (
                    moisture.factor_of(ends_m[0] + at * (ends_m[1] - ends_m[0]), moisture.exponent) if moisture else 1.0
                )
                rate = factor / tau_s(law, ends_c[0] + at * (ends_c[1] - ends_c[0]))
                total += 0.5 * weight * (high - low) * (until_s - begin_s) * rate
    return total


def readings(seed: int, count: int) -> History:
    """Some readings: now and then two at one instant, a minute apart or half a day; still, drifting or far apart."""
    dice = Random(seed)
    times = list(accumulate(dice.choice([0.0, 60.0, 600.0, 7200.0, 43200.0]) for _ in range(count)))
    values, temp_c = [], dice.uniform(5.0, 30.0)
    for _ in times:
        temp_c = min(45.0, max(-5.0, temp_c + dice.choice([0.0, 0.03, -0.05, 0.6, -0.9, 7.0, -6.0, 19.0])))
        values.append(temp_c)
    return History(tuple(times), tuple(values))


@examples(20)
@given(st.integers(0, 10**6), st.integers(1, 3 * BLOCK), st.sampled_from([LAW, STEPPED]), st.floats(-0.1, 1.1))
def test_what_a_clock_gained_is_what_a_fine_sum_makes_of_the_same_readings(
    seed: int, count: int, law: RateLaw, share: float
) -> None:
    history = readings(seed, count)
    start_s = history.times_s[0] + share * (history.times_s[-1] - history.times_s[0] + 600.0)
    end_s = start_s + Random(seed).choice([30.0, 3600.0, 2e5])
    expected = directly(law, history, start_s, end_s)
    assert ripeness(law, history, start_s, end_s) == pytest.approx(expected, rel=1e-8)
    assert time_of_ripeness(law, history, start_s, expected) == pytest.approx(
        end_s, abs=1e-8 * (end_s - start_s) + 1e-6
    )


@pytest.mark.parametrize("damps_g_m3", [(6.2, 5.8), (5.8, 6.2), (24.0, 26.0), (26.0, 24.0)])
def test_a_stretch_in_which_the_air_leaves_what_moisture_is_trusted_to_do_is_cut_there(
    damps_g_m3: tuple[float, float],
) -> None:
    hours = 2 * BLOCK  # so many that their sums are kept
    history = History(tuple(3600.0 * hour for hour in range(hours)), (20.0,) * hours)
    moisture = Moisture(History(history.times_s, damps_g_m3 * BLOCK), 10.0, 1.0)
    for start_s, end_s in ((0.0, history.times_s[-1]), (900.0, 5000.0)):
        expected = directly(LAW, history, start_s, end_s, moisture)
        assert ripeness(LAW, history, start_s, end_s, moisture=moisture) == pytest.approx(expected, rel=1e-9)


@examples(12)
@given(st.integers(0, 10**6), st.integers(1, 2 * BLOCK), st.sampled_from([0.3, 0.5, 1.0]), st.floats(-0.1, 1.1))
def test_a_damp_clock_gains_what_a_fine_sum_makes_of_the_same_readings_with_jumps_in_either(
    seed: int, count: int, exponent: float, share: float
) -> None:
    history, air = readings(seed, count), readings(seed + 1, max(1, count // 2))
    moisture = Moisture(History(air.times_s, tuple(0.5 * abs(value) + 0.1 for value in air.values)), 9.0, exponent)
    start_s = history.times_s[0] + share * (history.times_s[-1] - history.times_s[0] + 600.0)
    end_s = start_s + Random(seed).choice([30.0, 3600.0, 2e5])
    expected = directly(LAW, history, start_s, end_s, moisture)
    assert ripeness(LAW, history, start_s, end_s, moisture=moisture) == pytest.approx(expected, rel=1e-8)
    reached_s = time_of_ripeness(LAW, history, start_s, expected, moisture=moisture)
    assert reached_s == pytest.approx(end_s, abs=1e-8 * (end_s - start_s) + 1e-6)


@examples(30)
@given(st.integers(0, 10**6), st.integers(1, 3 * BLOCK))
def test_an_edge_is_the_same_to_its_last_digit_whatever_was_asked_before(seed: int, count: int) -> None:
    dice, history = Random(seed), readings(seed, count)
    asked = [(dice.uniform(-600.0, history.times_s[-1] + 600.0), dice.uniform(0.001, 40.0)) for _ in range(12)]
    alone = [_edge(History(history.times_s, history.values), *each) for each in asked]
    for each in dice.sample(asked, len(asked)):
        _edge(history, *each)
        ripeness(STEPPED, history, each[0], each[0] + 1e4)
    assert [_edge(history, *each) for each in asked] == alone


def _edge(history: History, start_s: float, wanted: float) -> float:
    return time_of_ripeness(STEPPED, history, start_s, wanted)


def test_the_daemon_and_the_board_may_ask_the_same_clock_at_once() -> None:
    """Sums that two threads go on with at once must not be taken twice."""
    history = readings(5, 20 * BLOCK)
    starts = [history.times_s[-1] * part / 400.0 for part in range(400)]
    alone = [_edge(History(history.times_s, history.values), start_s, 3.0) for start_s in starts]
    with ThreadPoolExecutor(4) as threads:
        for _ in range(3):
            shared = History(history.times_s, history.values)
            ask: Callable[[float], float] = lambda start_s, shared=shared: _edge(shared, start_s, 3.0)  # noqa: E731
            assert list(threads.map(ask, starts)) == alone


def test_readings_that_no_clock_reaches_are_not_added_up() -> None:
    """A floor that is read for months has a hundred thousand readings; a coat of this morning asks for today's."""
    history = readings(7, 40 * BLOCK)
    table = gains(LAW, history)
    last_s = history.times_s[-1]
    assert table.reached_s(last_s - 3600.0, 0.5) > last_s - 3600.0
    assert set(table._blocks) <= {38, 39}
    assert gains(LAW, history) is table
