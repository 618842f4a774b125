"""Etching acid."""

from __future__ import annotations

import pytest

from mixclock.formulas import acid


def test_more_water_never_makes_the_acid_stronger() -> None:
    strengths = [acid.diluted_acid_wt_pct(float(ratio)) for ratio in range(11)]
    assert strengths == sorted(strengths, reverse=True)
    assert strengths[0] == 31.45


def test_baking_soda_for_pure_acid_follows_the_molar_masses() -> None:
    """36.461 g of HCl take 84.007 g of NaHCO3."""
    assert acid.bicarbonate_kg(1.0, 100.0, 1.0) == pytest.approx(84.007 / 36.461, rel=1e-12)
