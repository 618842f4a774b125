"""What a clock gains while the temperature climbs: the same as integrated anew, and turned round without loss."""

from __future__ import annotations

import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from mixclock.formulas.climb import Climb, climb_of
from mixclock.formulas.rate_law import RateLaw, law_from_points, tau_s
from tests.examples import examples

LAWS = (
    law_from_points([(20.0, 2400.0)], 47e3),
    law_from_points([(20.0, 2400.0)], 300e3),  # the steepest that is allowed
    law_from_points([(20.0, 2400.0)], 0.0),
    law_from_points([(5.0, 9000.0), (10.0, 7000.0), (20.0, 4000.0), (30.0, 2500.0)], 47e3),
    law_from_points([(12.3, 2400.0), (20.0, 2600.0), (20.4, 2590.0)], 47e3),  # slower in the warmth
)


@examples(60)
@given(st.sampled_from(LAWS), st.floats(-20.0, 60.0), st.floats(-12.0, 12.0))
def test_what_a_clock_gains_on_its_way_up_or_down_is_what_scipy_integrates(
    law: RateLaw, begin_c: float, change_k: float
) -> None:
    end_c = begin_c + change_k
    bends = [temp_c for temp_c, _ in law.points if min(begin_c, end_c) < temp_c < max(begin_c, end_c)]
    expected = scipy.integrate.quad(
        lambda temp_c: 1.0 / tau_s(law, temp_c), begin_c, end_c, epsabs=0, epsrel=1e-12, points=bends
    )[0]
    climb = Climb(law, min(begin_c, end_c), max(begin_c, end_c) + 1e-9)
    last_digit = 1e-15 * max(abs(climb.at(begin_c)), abs(climb.at(end_c)))  # in the cold the sum outweighs a difference
    assert climb.at(end_c) - climb.at(begin_c) == pytest.approx(expected, rel=1e-10, abs=last_digit)


@examples(60)
@given(st.sampled_from(LAWS), st.floats(-20.0, 60.0))
def test_a_gain_is_turned_round_into_the_temperature_at_which_it_was_reached(law: RateLaw, temp_c: float) -> None:
    climb = Climb(law, -20.0, 60.0)
    last_digit_k = 1e-15 * abs(climb.at(temp_c)) * tau_s(law, temp_c)
    assert climb.temp_of(climb.at(temp_c)) == pytest.approx(temp_c, abs=1e-10 + last_digit_k)


@examples(40)
@given(
    st.sampled_from(LAWS),
    st.tuples(st.floats(-30.0, 70.0), st.floats(-30.0, 70.0)),
    st.floats(0.0, 1.0),
)
def test_a_reading_colder_or_warmer_than_all_before_it_moves_no_earlier_gain(
    law: RateLaw, range_c: tuple[float, float], share: float
) -> None:
    low_c, high_c = min(range_c), max(range_c) + 0.1
    temp_c = min(high_c, low_c + share * (high_c - low_c))
    narrow, wide = climb_of(law, low_c, high_c), Climb(law, -40.0, 80.0)
    assert narrow.at(temp_c) == wide.at(temp_c)
    assert narrow.temp_of(narrow.at(temp_c)) == wide.temp_of(wide.at(temp_c))
