"""Figures of our own, published by nobody: what the model said first, and a clock beside an independent integral."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import scipy

from mixclock.formulas import acid
from mixclock.formulas.bucket import BucketShape
from mixclock.formulas.rate_law import law_from_points, tau_s
from tests.formulas.oneresin import Resin, calibrate, course, isothermal_time_s, pot_life_s, time_to_temperature_s
from tests.published.test_published import cup_to_film_min, pot_life_min

FIGURES = Path(__file__).with_name("ownfigures.toml")


def integral_min(temp_c: float) -> float:
    """Kinetics with two activation energies held at one temperature to a conversion of 0.577, by scipy's quadrature.

    The constants: doi 10.1016/j.tca.2015.11.014, table 5, quoted second-hand; the times are ours.
    """
    gas, temp_k, m, n = 8.314462618, temp_c + 273.15, 0.39845, 1.5361
    k1, k2 = 35982.0 * math.exp(-54960.0 / gas / temp_k), 3574.1 * math.exp(-44289.0 / gas / temp_k)
    return scipy.integrate.quad(lambda a: 1.0 / ((k1 + k2 * a**m) * (1.0 - a) ** n), 0.0, 0.577, epsrel=1e-9)[0] / 60.0


@pytest.mark.parametrize("temp_c", [10.0, 15.0, 25.0, 40.0, 60.0])
def test_a_clock_that_knows_two_temperatures_follows_an_integral_of_two_energies_within_5_pct(temp_c: float) -> None:
    law = law_from_points([(at_c, integral_min(at_c)) for at_c in (20.0, 30.0)], 47e3)
    assert tau_s(law, temp_c) == pytest.approx(integral_min(temp_c), rel=0.05)


def hot_share(sheet_min: float, mass_kg: float) -> float:
    resin = calibrate(Resin(), 0.15, 25.0, 60.0 * sheet_min)
    hot_s = time_to_temperature_s(resin, BucketShape(), mass_kg, 25.0, 25.0, 40.0)
    assert hot_s is not None
    return hot_s / pot_life_s(resin, BucketShape(), mass_kg, 25.0, 25.0)


def floor_ripeness(sheet_min: float, mass_kg: float, share: float) -> float:
    resin = calibrate(Resin(), 0.15, 25.0, 60.0 * sheet_min)
    past = course(resin, BucketShape(), mass_kg, 25.0, 25.0)
    poured_s = share * pot_life_s(resin, BucketShape(), mass_kg, 25.0, 25.0)
    later = int((past.times_s >= poured_s).argmax())
    part = (poured_s - past.times_s[later - 1]) / (past.times_s[later] - past.times_s[later - 1])
    alpha = past.conversions[later - 1] + part * (past.conversions[later] - past.conversions[later - 1])
    return isothermal_time_s(resin, 25.0, float(alpha)) / isothermal_time_s(resin, 25.0)


CHECKS: dict[str, Callable[..., float]] = {
    "pot_life_min": pot_life_min,
    "film_gel_min": cup_to_film_min,
    "hot_share": hot_share,
    "floor_ripeness": floor_ripeness,
    "diluted_acid_wt_pct": acid.diluted_acid_wt_pct,
    "bicarbonate_kg": acid.bicarbonate_kg,
}


@pytest.mark.parametrize("row", tomllib.loads(FIGURES.read_text(encoding="utf-8"))["rows"])
def test_what_was_worked_out_once_is_still_what_the_formulas_say(row: dict[str, Any]) -> None:
    found = CHECKS[row["check"]](**row["conditions"])
    allowed = row["tolerance"] * (abs(row["value"]) if row["kind"] == "relative" else 1.0)
    assert abs(found - row["value"]) <= allowed, f"{found:.6g}; our own figure, published by nobody: {row['value']}"
