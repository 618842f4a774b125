"""A test cup of a lot, held against resins that are wider than the ensemble."""

from __future__ import annotations

import statistics
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pytest

from mixclock.formulas.bucket import BucketShape
from mixclock.formulas.cup import TestCup, after_cup, cup_edges
from mixclock.formulas.ensemble import BucketLoad, Edges, SheetPot, edge_times
from mixclock.formulas.ensemble_members import calibrate_ensemble
from tests.formulas.truths import (
    BODY,
    END,
    FAMILIES,
    STATED_C,
    draw_resins,
    end_times_s,
    height_as_wide_m,
)

SHEET = SheetPot(((25.0, 1800.0),), mass_kg=0.15)


@dataclass(frozen=True)
class Tried:
    """One bucket before and after a cup of its lot, beside its truth."""

    before: Edges
    after: Edges
    true_s: float

    @property
    def inside(self) -> bool:
        """Whether the truth lies in the band after the cup."""
        return self.after.early_s <= self.true_s and (self.after.late_s is None or self.true_s <= self.after.late_s)


def tried(each: int, seed: int) -> Iterator[Tried]:
    """Buckets of 1 to 20 kg whose lot was tried in a cup of 100 to 200 g; its end is seen within 6 %."""
    rng = np.random.default_rng(seed)
    for family, spec in FAMILIES.items():
        resins, tables = draw_resins(rng, each, family), STATED_C[spec["points"]]
        stated_c = np.array(tables)[rng.integers(0, len(tables), each)]
        sheet_kg = rng.choice([0.1, 0.15, 0.2, 0.5, 1.0], each)
        sheet_m = height_as_wide_m(sheet_kg, 2.0 ** rng.uniform(-1.0, 1.0, each))
        off = np.exp(0.15 * rng.standard_normal(each))
        stated_s = np.array([off * end_times_s(resins, sheet_kg, sheet_m, column, column) for column in stated_c.T])
        mass_kg = np.exp(rng.uniform(np.log(1.0), np.log(20.0), each))
        across_m = height_as_wide_m(mass_kg, 2.0 ** rng.uniform(-1.0, 1.0, each))
        air_c = rng.uniform(16.0, 30.0, each)
        material_c = np.clip(air_c + 2.0 * rng.standard_normal(each), 12.0, 34.0)
        true_s = end_times_s(resins, mass_kg, across_m, material_c, air_c)
        cup_kg, cup_c = rng.uniform(0.1, 0.2, each), rng.uniform(18.0, 26.0, each)
        cup_m = height_as_wide_m(cup_kg, 2.0 ** rng.uniform(-0.5, 0.5, each))
        seen_s = end_times_s(resins, cup_kg, cup_m, cup_c, cup_c) * np.exp(0.06 * rng.standard_normal(each))
        for i in range(each):
            points = tuple(zip(stated_c[i].tolist(), stated_s[:, i].tolist(), strict=True))
            sheet = SheetPot(points, float(sheet_kg[i]), END.get(family, "gel"), BODY.get(family, "unfilled"))  # type: ignore[arg-type]
            calibration = calibrate_ensemble(sheet)
            bucket = BucketLoad(
                float(mass_kg[i]), float(material_c[i]), float(air_c[i]), BucketShape(float(across_m[i]))
            )
            warm = float(cup_c[i])
            cup = TestCup(BucketLoad(float(cup_kg[i]), warm, warm, BucketShape(float(cup_m[i]))), float(seen_s[i]))
            yield Tried(
                edge_times(calibration, bucket),
                cup_edges(calibration, [cup], bucket, hot_floor=False)[0],
                float(true_s[i]),
            )


@pytest.mark.long
def test_after_a_cup_the_band_holds_the_truth_of_three_hundred_buckets_and_is_little_over_half_as_wide() -> None:
    """The band of the law: what a crew is told is held to the moment at which the mass is hot as well."""
    every = list(tried(50, 20260415))
    assert len(every) == 300
    assert sum(one.inside for one in every) / len(every) >= 0.85
    widths = [
        (one.after.late_s - one.after.early_s) / (one.before.late_s - one.before.early_s)
        for one in every
        if one.after.late_s is not None and one.before.late_s is not None
    ]
    assert len(widths) > 150
    assert statistics.median(widths) <= 0.6


def cup(end_s: float, readings: tuple[tuple[float, float], ...] = ()) -> TestCup:
    return TestCup(BucketLoad(0.15, 25.0, 25.0, None, readings), end_s)


def test_a_fast_cup_shortens_a_bucket_by_itself() -> None:
    calibration, bucket = calibrate_ensemble(SHEET), BucketLoad(6.0, 25.0, 25.0)
    before, (after, factor) = edge_times(calibration, bucket), cup_edges(calibration, [cup(1200.0)], bucket)
    assert factor < 0.8
    assert after.likely_s == pytest.approx(before.likely_s * factor, rel=0.01)


def test_a_slow_cup_lengthens_nothing_until_another_agrees() -> None:
    calibration, bucket = calibrate_ensemble(SHEET), BucketLoad(6.0, 25.0, 25.0)
    before = edge_times(calibration, bucket)
    alone, factor = cup_edges(calibration, [cup(2500.0)], bucket)
    assert factor > 1.1
    assert alone.likely_s == before.likely_s
    both, _ = cup_edges(calibration, [cup(2500.0), cup(2600.0)], bucket)
    assert both.likely_s > before.likely_s * 1.15
    apart, _ = cup_edges(calibration, [cup(2500.0), cup(1700.0)], bucket)
    assert apart.likely_s <= before.likely_s * 1.0001


def test_a_cup_lifts_nothing_of_what_practice_holds_back() -> None:
    calibration, bucket = calibrate_ensemble(SHEET), BucketLoad(9.0, 21.0, 21.0)
    held, _ = cup_edges(calibration, [cup(2500.0), cup(2500.0)], bucket, practice=True)
    assert held.early_s == pytest.approx(600.0)


def test_a_cup_that_grew_hotter_than_the_model_thinks_speaks_for_the_livelier_resins() -> None:
    calibration = calibrate_ensemble(SHEET)
    tried = after_cup(calibration, cup(1800.0, ((900.0, 40.0), (1300.0, 62.0))))
    assert tried.misfit is not None
    weights = np.exp(min(tried.misfit) - np.array(tried.misfit))
    lively = np.average(calibration.drawn.rise_k, weights=weights)
    assert lively > np.mean(calibration.drawn.rise_k)


def test_a_cup_of_another_mass_is_refused() -> None:
    for mass_kg in (0.09, 0.21):
        with pytest.raises(ValueError, match=r"between 0\.1 and 0\.2 kg"):
            TestCup(BucketLoad(mass_kg, 20.0, 20.0), 1800.0)
    with pytest.raises(ValueError, match="above 0 s"):
        cup(0.0)
