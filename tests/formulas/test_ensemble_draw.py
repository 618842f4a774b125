"""The resins that a sheet allows."""

from __future__ import annotations

import numpy as np
import pytest
import scipy

from mixclock.formulas.ensemble_draw import ENERGY_J_MOL, SheetPot, draw, even_points, normal, triangular

SHARES = np.linspace(0.001, 0.999, 999)


def test_the_normal_quantiles_are_scipy_s() -> None:
    """1e-8: the rational form is good to 1.2e-9."""
    assert normal(SHARES) == pytest.approx(scipy.stats.norm.ppf(SHARES), abs=1e-8)


@pytest.mark.parametrize(("low", "peak", "high"), [(0.05, 0.136, 0.25), (0.4, 0.4, 1.0), (130.0, 170.0, 200.0)])
def test_the_triangular_quantiles_are_scipy_s(low: float, peak: float, high: float) -> None:
    theirs = scipy.stats.triang.ppf(SHARES, (peak - low) / (high - low), loc=low, scale=high - low)
    assert triangular(SHARES, low, peak, high) == pytest.approx(theirs, rel=1e-9)


def test_each_range_is_covered_evenly_and_no_two_parameters_move_together() -> None:
    """0.2: with 128 members chance alone gives 0.18 now and then (2 σ)."""
    points = even_points(128, 9)
    for row in points:
        assert np.sort(row) == pytest.approx((np.arange(128) + 0.5) / 128)
    assert np.abs(np.corrcoef(points) - np.eye(9)).max() < 0.2


def test_the_members_stay_inside_what_is_known_of_resins() -> None:
    drawn = draw(SheetPot(((25.0, 1800.0),), body="filled"), 512)
    assert ENERGY_J_MOL[0] < min(drawn.energy_j_mol) < max(drawn.energy_j_mol) < ENERGY_J_MOL[2]
    assert np.median(drawn.energy_j_mol) == pytest.approx(47e3, rel=0.02)
    assert 60.0 < min(drawn.rise_k) < max(drawn.rise_k) < 140.0


def test_a_stated_time_scatters_by_twelve_percent() -> None:
    """Quantiles 10 and 90 of a log-normal with σ 0.12; 2 % for 512 members."""
    low, high = np.quantile(draw(SheetPot(((25.0, 1800.0),)), 512).sheet_factor, (0.1, 0.9))
    assert low == pytest.approx(np.exp(-0.12 * 1.2816), rel=0.02)
    assert high == pytest.approx(np.exp(0.12 * 1.2816), rel=0.02)


def test_several_stated_times_scatter_mostly_together() -> None:
    factors = draw(SheetPot(((10.0, 4200.0), (20.0, 2400.0), (30.0, 1200.0))), 512).sheet_factor
    assert np.std(np.log(factors), axis=1) == pytest.approx(0.12, rel=0.1)
    assert np.corrcoef(np.log(factors))[0, 1] > 0.6


@pytest.mark.parametrize("size", [0, 8, 10000])
def test_an_ensemble_too_small_or_too_large_is_refused(size: int) -> None:
    with pytest.raises(ValueError, match="between 16 and 4096 members"):
        draw(SheetPot(((25.0, 1800.0),)), size)
