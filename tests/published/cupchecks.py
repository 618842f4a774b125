"""Test cups beside what makers printed of gel and peak: what the rows of bucket.toml ask of the product's own cup."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from mixclock.formulas.cup import TestCup, cup_edges
from mixclock.formulas.ensemble import BucketLoad, SheetPot, edge_times
from mixclock.formulas.ensemble_members import calibrate_ensemble

SHEET_KG = 0.15


def outside_after_cup_min(
    sheet_min: float, cup_kg: float, cup_min: float, temp_c: float, mass_kg: float, published_min: float
) -> float:
    """By how much a published gel lies outside the band of its mass once a cup of the lot was seen to its end."""
    calibration = calibrate_ensemble(SheetPot(((temp_c, 60.0 * sheet_min),), SHEET_KG))
    cup = TestCup(BucketLoad(cup_kg, temp_c, temp_c), 60.0 * cup_min)
    band, _ = cup_edges(calibration, [cup], BucketLoad(mass_kg, temp_c, temp_c), hot_floor=False)
    late_min = band.late_s / 60.0 if band.late_s is not None else published_min
    return max(0.0, band.early_s / 60.0 - published_min, published_min - late_min)


def cup_gels_before_its_peak_min(sheet_min: float, cup_kg: float, temp_c: float, peak_min: float) -> float:
    """By how much a cup is likely to gel after its published peak; nothing where it gels before."""
    calibration = calibrate_ensemble(SheetPot(((temp_c, 60.0 * sheet_min),), SHEET_KG))
    gels_min = edge_times(calibration, BucketLoad(cup_kg, temp_c, temp_c)).likely_s / 60.0
    return max(0.0, gels_min - peak_min)


CUP_CHECKS: Mapping[str, Callable[..., float]] = {
    "outside_after_cup_min": outside_after_cup_min,
    "cup_gels_before_its_peak_min": cup_gels_before_its_peak_min,
}
