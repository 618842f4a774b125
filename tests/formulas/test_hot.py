"""One rule for a hot bucket, from any mix."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.formulas.hot import hot_from_c


@pytest.mark.parametrize(
    ("mix_c", "hot_c"),
    [(5.0, 20.0), (20.0, 35.0), (25.0, 40.0), (26.0, 40.0), (28.0, 40.0), (30.0, 42.0), (32.0, 44.0), (38.0, 50.0)],
)
def test_hot_is_fifteen_over_a_cool_mix_forty_from_a_mild_one_and_twelve_over_a_warm_one(
    mix_c: float, hot_c: float
) -> None:
    assert hot_from_c(mix_c) == pytest.approx(hot_c)


@given(mix_c=st.floats(-10.0, 60.0), warmer=st.floats(0.0, 20.0))
def test_a_warmer_mix_is_never_called_hot_at_a_lower_temperature_nor_given_a_larger_rise(
    mix_c: float, warmer: float
) -> None:
    cool, warm = hot_from_c(mix_c), hot_from_c(mix_c + warmer)
    assert warm >= cool
    assert warm - (mix_c + warmer) <= cool - mix_c + 1e-9


def test_a_temperature_that_no_material_has_is_refused() -> None:
    for mix_c in (-60.1, 250.1):
        with pytest.raises(ValueError, match="between -60 and 250"):
            hot_from_c(mix_c)
