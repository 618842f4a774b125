"""Etching acid."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.formulas import acid


@given(ratio=st.floats(0.0, 100.0))
def test_water_for_a_strength_gives_that_strength(ratio: float) -> None:
    strength = acid.diluted_acid_wt_pct(ratio)
    assert acid.water_for_strength(strength) == pytest.approx(ratio, rel=1e-9, abs=1e-9)


def test_more_water_never_makes_the_acid_stronger() -> None:
    strengths = [acid.diluted_acid_wt_pct(float(ratio)) for ratio in range(11)]
    assert strengths == sorted(strengths, reverse=True)
    assert strengths[0] == 31.45


def test_a_strength_over_the_bottle_s_own_is_refused() -> None:
    with pytest.raises(ValueError, match=r"between 1e-06 and 31.45 wt %"):
        acid.water_for_strength(35.0)


def test_baking_soda_for_pure_acid_follows_the_molar_masses() -> None:
    """36.461 g of HCl take 84.007 g of NaHCO3."""
    assert acid.bicarbonate_kg(1.0, 100.0, 1.0) == pytest.approx(84.007 / 36.461, rel=1e-12)
