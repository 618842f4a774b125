"""What a docstring promises to refuse is refused, just outside its range, in a line that names the range."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from mixclock.formulas import acid, air, coverage, cure, history, mix, rate_law
from mixclock.formulas.bucket import BucketShape, check_bucket, usual_across_m
from mixclock.formulas.ensemble import BucketLoad, SheetPot
from mixclock.formulas.ensemble_members import calibrate_ensemble
from mixclock.formulas.history import History, Moisture
from tests.formulas.histories import constant_history, equivalent_age_s
from tests.formulas.oneresin import Resin
from tests.formulas.wetbulb import dew_point_from_wet_bulb_c

LAW = rate_law.law_from_points([(20.0, 2400.0)], 47e3)
HELD = constant_history(20.0)
REFUSED: tuple[tuple[str, Callable[..., Any], tuple[Any, ...]], ...] = (
    ("a law of no point", rate_law.law_from_points, ([], 47e3)),
    ("colder than -60", rate_law.law_from_points, ([(-60.1, 60.0)], 47e3)),
    ("hotter than 250", rate_law.law_from_points, ([(250.1, 60.0)], 47e3)),
    ("a time of nothing", rate_law.law_from_points, ([(20.0, 0.0)], 47e3)),
    ("a temperature twice", rate_law.law_from_points, ([(20.0, 60.0), (20.0, 50.0)], 47e3)),
    ("an energy under 0", rate_law.law_from_points, ([(20.0, 60.0)], -1.0)),
    ("an energy over 300", rate_law.law_from_points, ([(20.0, 60.0)], 300.1e3)),
    ("a slope of one point", rate_law.fitted_energy_j_mol, ([(20.0, 60.0)],)),
    ("a span of nothing", rate_law.constant_law, (0.0,)),
    ("τ under -60", rate_law.tau_s, (LAW, -60.1)),
    ("τ over 250", rate_law.tau_s, (LAW, 250.1)),
    ("a factor of 0", cure.ripeness, (LAW, HELD, 0.0, 1.0, 0.0)),
    ("a time by a factor of 0", cure.time_of_ripeness, (LAW, HELD, 0.0, 1.0, 0.0, 0.0)),
    ("a target without end", cure.time_of_ripeness, (LAW, HELD, 0.0, math.inf)),
    ("a target over a thousand million", cure.time_of_ripeness, (LAW, HELD, 0.0, 1.1e9)),
    ("a target as far under nothing", cure.time_of_ripeness, (LAW, HELD, 0.0, -1.1e9)),
    ("an age by no energy", equivalent_age_s, (HELD, 0.0, 1.0, 20.0, 0.0)),
    ("an age by too much", equivalent_age_s, (HELD, 0.0, 1.0, 20.0, 36001.0)),
    ("an age at -61", equivalent_age_s, (HELD, 0.0, 1.0, -61.0)),
    ("a history of nothing", History, ((), ())),
    ("a history that runs back", History, ((1.0, 0.0), (20.0, 20.0))),
    ("a history of nan", History, ((0.0,), (math.nan,))),
    ("moisture by no reference", Moisture, (HELD, 0.0, 1.0)),
    ("an exponent under 0", Moisture, (HELD, 10.0, -0.1)),
    ("an exponent over 3", Moisture, (HELD, 10.0, 3.1)),
    ("300.1 g/m³", Moisture, (constant_history(300.1), 10.0, 1.0)),
    ("equal humidities", history.moisture_exponent, ((10.0, 60.0), (10.0, 60.0))),
    ("a dry time of 0", history.moisture_exponent, ((12.0, 60.0), (10.0, 0.0))),
    ("an hour of nothing", history.hottest_sustained_c, (HELD, 0.0, 1.0, 0.0)),
    ("air over 60", air.dew_point_c, (60.1, 50.0)),
    ("air under its range", air.dew_point_c, (air.AIR_RANGE_C[0] - 0.1, 50.0)),
    ("humidity over 100", air.dew_point_c, (20.0, 100.1)),
    ("a wet bulb over the dry", dew_point_from_wet_bulb_c, (20.0, 20.1)),
    ("a film of nothing", coverage.spread_m2_l, (0.0,)),
    ("solids over 100", coverage.wet_um_for_dry, (100.0, 100.1)),
    ("solids under 1", coverage.wet_um_for_dry, (100.0, 0.9)),
    ("waste over nine tenths", coverage.with_waste_l, (1.0, 0.91)),
    ("water without end", acid.diluted_acid_wt_pct, (1000.1,)),
    ("a ratio of 0", mix.parts_for_volume, (1.0, 0.0)),
    ("a sheet of a gram less than a gram", SheetPot, (((25.0, 1800.0),), 0.9e-3)),
    ("a sheet over a tonne", SheetPot, (((25.0, 1800.0),), 1001.0)),
    ("a sheet of no point", SheetPot, ((),)),
    ("a sheet of half a second", SheetPot, (((25.0, 0.5),),)),
    ("a sheet slower where warmer", SheetPot, (((20.0, 600.0), (30.0, 700.0)),)),
    ("15 members", calibrate_ensemble, (SheetPot(((25.0, 1800.0),)), 15)),
    ("4097 members", calibrate_ensemble, (SheetPot(((25.0, 1800.0),)), 4097)),
    ("a bucket of nothing", BucketLoad, (0.0, 20.0, 20.0)),
    ("material of 61", BucketLoad, (1.0, 60.1, 20.0)),
    ("a reading before the mix", BucketLoad, (1.0, 20.0, 20.0, None, ((-1.0, 20.0),))),
    ("a reading of 401", BucketLoad, (1.0, 20.0, 20.0, None, ((1.0, 401.0),))),
    ("an energy over 200", Resin, (200.1e3,)),
    ("a vessel narrower than a hair", BucketShape, (0.99e-4,)),
    ("a vessel of ten metres", BucketShape, (10.1,)),
    ("air over what is breathed", check_bucket, (1.0, 20.0, 70.1)),
    ("a vessel of no width", BucketShape, (0.0,)),
    ("a resin like cork", BucketShape, (0.3, 0.29)),
    ("a resin of over 5 kg/L", BucketShape, (0.3, 5.1)),
    ("a resin that heats like metal", BucketShape, (0.3, 1.1, 199.0)),
    ("a resin that heats slower than any", BucketShape, (0.3, 1.1, 6001.0)),
    ("a pail of cork", usual_across_m, (20.0, 0.29)),
    ("a pail of over 5 kg/L", usual_across_m, (20.0, 5.1)),
)


@pytest.mark.parametrize(("what", "ask", "given"), REFUSED, ids=[what for what, _, _ in REFUSED])
def test_what_lies_outside_a_promised_range_is_refused(
    what: str, ask: Callable[..., Any], given: tuple[Any, ...]
) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        ask(*given)


def test_the_ends_of_the_ranges_themselves_are_taken() -> None:
    assert rate_law.tau_s(LAW, -60.0) > rate_law.tau_s(LAW, 250.0) > 0.0
    assert equivalent_age_s(HELD, 0.0, 1.0, 20.0, 36000.0) == pytest.approx(1.0)
    assert coverage.wet_um_for_dry(100.0, 1.0) == pytest.approx(10_000.0)
    assert calibrate_ensemble(SheetPot(((25.0, 1800.0),)), 16).size == 16
    assert (BucketShape(1e-4).diameter_m(1.0), BucketShape(10.0).diameter_m(1.0)) == (1e-4, 10.0)


def test_the_lightest_and_the_heaviest_resin_that_are_promised_are_taken() -> None:
    # as high as wide: 4m/πρ is 0.0849 m³ for 20 kg at 0.3 kg/L and 0.00509 m³ at 5 kg/L; the cubic roots by hand
    assert usual_across_m(20.0, 0.3) == pytest.approx(0.4395, abs=1e-4)
    assert usual_across_m(20.0, 5.0) == pytest.approx(0.1720, abs=1e-4)
    for density, capacity in ((0.3, 200.0), (5.0, 6000.0)):
        assert BucketShape(0.3, density, capacity).diameter_m(20.0) == 0.3
