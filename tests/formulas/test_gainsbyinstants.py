"""What a clock gains between any two instants of a hard day, and when it has gained so much: beside a fine sum.

The day has what a sum may go wrong at: air that stands, creeps, drifts, runs and jumps, a law that bends at a
temperature which readings cross, meet and leave, air that leaves what moisture is trusted to do; so many readings that
their sums are kept in three blocks. The instants lie at readings, between them, at jumps, before the first and after
the last. The fine sum is that of `test_gaintable`: twelve Gauss points on each part of a stretch.
"""

from __future__ import annotations

from itertools import accumulate, cycle, islice, pairwise

import pytest
import scipy

from mixclock.formulas.cure import ripeness, time_of_ripeness
from mixclock.formulas.gaintable import BLOCK
from mixclock.formulas.history import History, Moisture, Past
from mixclock.formulas.past import ForgottenError, Notes
from mixclock.formulas.rate_law import RateLaw, law_from_points, tau_s
from tests.formulas.test_gaintable import directly

STEEPEST = law_from_points([(20.0, 4000.0)], 110e3)
"""The steepest that a sheet is believed to be: the shares by which a sum may err are promised for it."""
BENT = law_from_points([(5.0, 20000.0), (20.0, 4000.0), (30.0, 2500.0)], 47e3)

DAY = (
    (600, 20.0), (600, 20.0), (600, 20.00008), (600, 19.9999), (600, 20.0), (600, 20.05), (600, 19.97), (600, 20.03),
    (600, 20.0), (600, 20.12), (600, 20.0), (0, 18.0), (600, 18.12), (600, 18.23), (600, 18.11), (600, 17.6),
    (600, 18.6), (600, 17.65), (600, 18.1), (600, 19.7), (600, 20.3), (600, 19.5), (600, 20.0), (3600, 27.0),
    (3600, 3.0), (7200, 33.0), (0, 21.0), (600, 20.5), (3600, 20.0), (60, 19.94),
)  # fmt: skip
"""After so many seconds it is so warm; then again from the beginning."""
DAMP = (
    10.0, 10.0, 10.5, 9.8, 10.0, 13.0, 5.9, 6.1, 6.0, 5.7, 24.0, 24.5, 24.6, 25.5, 24.8, 25.3, 6.2, 5.9, 6.1, 15.0,
    14.0, 12.0, 12.0, 12.5, 12.0, 12.6, 3.7, 4.9, 3.7, 4.9,
)  # fmt: skip
"""Grams of water in a cubic metre, at the same times; moisture is trusted from 6 to 25."""
READINGS = 2 * BLOCK + 20


def the_day() -> History:
    """Readings of five days."""
    steps = list(islice(cycle(DAY), READINGS))
    times_s = accumulate((float(after_s) for after_s, _ in steps[1:]), initial=0.0)
    return History(tuple(times_s), tuple(temp_c for _, temp_c in steps))


def instants_of(history: History) -> list[float]:
    """The first readings and between them, those about the borders of blocks, and beyond both ends."""
    times_s = history.times_s
    places = [
        *range(len(DAY) + 2),
        *range(BLOCK - 2, BLOCK + 2),
        *range(2 * BLOCK - 2, 2 * BLOCK + 2),
        len(times_s) - 2,
    ]
    within = {
        times_s[place] + share * (times_s[place + 1] - times_s[place]) for place in places for share in (0.0, 0.3)
    }
    return sorted({-400.0, *within, times_s[-1], times_s[-1] + 700.0})


@pytest.mark.parametrize(
    ("law", "exponent"), [(STEEPEST, None), (BENT, None), (STEEPEST, 1.0), (BENT, 1.0), (BENT, 0.5)]
)
def test_from_any_instant_to_any_other_a_clock_gains_what_a_fine_sum_says_and_is_then_where_it_says(
    law: RateLaw, exponent: float | None
) -> None:
    """Within three parts in ten thousand million, as is promised for the steepest sheet."""
    history = the_day()
    wet = History(history.times_s, tuple(islice(cycle(DAMP), READINGS)))
    instants = instants_of(history)
    moisture = None if exponent is None else Moisture(wet, 10.0, exponent)
    gained = [0.0, *accumulate(directly(law, history, *ends, moisture, parts=8) for ends in pairwise(instants))]
    asked = 0
    for start, start_s in enumerate(instants):
        air, water = the_day(), None if exponent is None else Moisture(wet, 10.0, exponent)
        far = (*range(start + 5, len(instants), 11), len(instants) - 1)
        for end in (*range(start + 1, min(start + 5, len(instants))), *(end for end in far if end > start)):
            end_s, more = instants[end], gained[end] - gained[start]
            reached_s = time_of_ripeness(law, air, start_s, more, moisture=water)
            assert reached_s == pytest.approx(end_s, abs=3e-10 * (end_s - start_s) + 1e-7), (start_s, end_s)
            assert ripeness(law, air, start_s, end_s, moisture=water) == pytest.approx(more, rel=3e-10), (
                start_s,
                end_s,
            )
            asked += 1
    assert asked > 400


@pytest.mark.parametrize("readings", [12, BLOCK, BLOCK + 5, 3 * BLOCK])
@pytest.mark.parametrize("exponent", [None, 0.5])
def test_a_later_question_goes_on_where_an_earlier_one_left_off(readings: int, exponent: float | None) -> None:
    """At 20 °C and at the sheet's humidity 4000 s are one, so a quarter is 1000 s, whatever was asked before."""
    times_s = tuple(600.0 * place for place in range(readings))
    moisture = None if exponent is None else Moisture(History(times_s, (10.0,) * readings), 10.0, exponent)
    for later in (*range(1, 10), readings - 2):
        history = History(times_s, (20.0,) * readings)
        for start_s in (0.0, 600.0 * later, 600.0 * later + 60.0, times_s[-1]):
            for wanted in (0.25, 3.0, 40.0):
                reached_s = time_of_ripeness(BENT, history, start_s, wanted, moisture=moisture)
                assert reached_s == pytest.approx(start_s + 4000.0 * wanted, abs=1e-6)


@pytest.mark.parametrize("change_k", [0.05, 0.12, 0.13, 0.149, 0.5, 1.0, 1.4])
def test_air_that_goes_up_and_down_by_so_little_is_added_up_within_two_parts_in_ten_thousand_million(
    change_k: float,
) -> None:
    """Every stretch errs to the same side, so nothing evens out: each for itself must be that good."""
    readings = 2 * BLOCK + 1
    history = History(
        tuple(600.0 * place for place in range(readings)),
        tuple(20.0 + (change_k if place % 2 else 0.0) for place in range(readings)),
    )
    of_one, _ = scipy.integrate.quad(
        lambda share: 600.0 / tau_s(STEEPEST, 20.0 + share * change_k), 0.0, 1.0, epsabs=0.0, epsrel=1e-13
    )
    found = ripeness(STEEPEST, history, 0.0, history.times_s[-1])
    assert found == pytest.approx((readings - 1) * of_one, rel=2e-10)


@pytest.mark.parametrize("exponent", [None, 1.0])
@pytest.mark.parametrize(("first_c", "last_c"), [(12.0, 26.0), (26.0, 12.0)])
def test_before_the_first_reading_and_after_the_last_a_clock_runs_as_at_that_reading(
    first_c: float, last_c: float, exponent: float | None
) -> None:
    """The law bends between the two. The air held 8 g/m³ before the first and 15 after the last, of 10 on the sheet."""
    history = History((0.0, 600.0), (first_c, last_c))
    wet = History((0.0, 0.0, 600.0, 600.0), (8.0, 9.0, 14.0, 15.0))
    moisture = None if exponent is None else Moisture(wet, 10.0, exponent)
    for begin_s, temp_c, damp in ((-1500.0, first_c, 0.8), (600.0, last_c, 1.5)):
        gained = 1500.0 / tau_s(BENT, temp_c) * (1.0 if exponent is None else damp)
        assert ripeness(BENT, history, begin_s, begin_s + 1500.0, moisture=moisture) == pytest.approx(gained, rel=1e-12)
        reached_s = time_of_ripeness(BENT, history, begin_s, 0.5 * gained, moisture=moisture)
        assert reached_s == pytest.approx(begin_s + 750.0, abs=1e-6)


@pytest.mark.parametrize("forgets", ["air", "water"])
def test_a_damp_clock_goes_by_what_is_at_hand_of_both_and_asks_for_nothing_older(forgets: str) -> None:
    """At 20 °C 4000 s are one, and half as much water again lets it go half as fast again."""

    def forgotten() -> History:
        raise ForgottenError

    past = Past(forgets, Notes(), forgotten, forgets)
    short, whole = (1000.0, 2500.0), (0.0, 500.0, 3000.0)
    air = History(short, (20.0,) * 2, past) if forgets == "air" else History(whole, (20.0,) * 3)
    water = History(short, (15.0,) * 2, past) if forgets == "water" else History(whole, (15.0,) * 3)
    moisture = Moisture(water, 10.0, 1.0)
    assert ripeness(BENT, air, 1200.0, 2000.0, moisture=moisture) == pytest.approx(1.5 * 800.0 / 4000.0, rel=1e-12)
    assert time_of_ripeness(BENT, air, 1200.0, 0.3, moisture=moisture) == pytest.approx(2000.0, abs=1e-6)
    assert set(moisture.damp_courses[id(air)].times_s) == {1000.0, 2500.0, 3000.0}


@pytest.mark.parametrize("exponent", [None, 1.0])
@pytest.mark.parametrize("factor", [1.0, 1.25])
def test_a_clock_that_began_before_the_readings_at_hand_has_gained_what_was_noted_of_it(
    factor: float, exponent: float | None
) -> None:
    """800 s at 20 °C, where 4000 s are one, and then at 30 °C, where 2500 s are: a fifth, and two fifths by 2000 s.

    The product takes so many times as long as its sheet says; the water is the sheet's, so moisture changes nothing.
    """
    times_s, notes, is_whole = (0.0, 1000.0, 1000.0, 5000.0), Notes(), [True]

    def history_of(name: str, values: tuple[float, ...]) -> History:
        def make() -> History:
            if not is_whole:
                raise ForgottenError
            return History(times_s, values)

        return History(times_s[2:], values[2:], Past(name, notes, make, name))

    for _ in ("whole", "forgotten"):  # then nothing older is at hand than what was noted
        air, water = history_of("slab", (20.0, 20.0, 30.0, 30.0)), history_of("water", (10.0,) * 4)
        moisture = None if exponent is None else Moisture(water, 10.0, exponent)
        for end_s, gained in ((700.0, 0.125), (1000.0, 0.2), (2000.0, 0.6)):
            found = ripeness(BENT, air, 200.0, end_s, factor, moisture)
            assert found == pytest.approx(gained / factor, rel=1e-12), end_s
            reached_s = time_of_ripeness(BENT, air, 200.0, gained / factor + 0.3, 0.3, factor, moisture)
            assert reached_s == pytest.approx(end_s, abs=1e-6)
        notes = Notes(notes.asked)
        is_whole.clear()
