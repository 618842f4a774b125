"""Air over a slab, against PsychroLib, which we did not make."""

from __future__ import annotations

import math

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.formulas import air
from tests.formulas.wetbulb import dew_point_from_wet_bulb_c

psychrolib.SetUnitSystem(psychrolib.SI)

AIR_C = st.floats(-20.0, 60.0)
RH_PCT = st.floats(1.0, 100.0)


@given(temp_c=st.floats(-90.0, 190.0))
def test_saturation_agrees_with_psychrolib_from_deep_frost_to_steam(temp_c: float) -> None:
    """1e-9: both use the same equations, so only rounding may differ."""
    assert air.saturation_pressure_pa(temp_c) == pytest.approx(psychrolib.GetSatVapPres(temp_c), rel=1e-9)


@given(air_c=AIR_C, rh_pct=RH_PCT)
def test_the_dew_point_agrees_with_psychrolib_in_any_weather(air_c: float, rh_pct: float) -> None:
    """0.002 K: PsychroLib stops its own iteration at 0.001 K."""
    theirs = psychrolib.GetTDewPointFromRelHum(air_c, rh_pct / 100.0)
    assert air.dew_point_c(air_c, rh_pct) == pytest.approx(theirs, abs=0.002)


@given(dry_c=st.floats(0.0, 50.0), gap_k=st.floats(0.0, 6.0))
def test_a_whirled_wet_bulb_gives_the_dew_point_that_psychrolib_gives(dry_c: float, gap_k: float) -> None:
    """0.05 K: PsychroLib goes through the humidity ratio with constants rounded alike, and holds it above 1e-7."""
    wet_c = dry_c - gap_k
    theirs = psychrolib.GetTDewPointFromTWetBulb(dry_c, wet_c, 101325.0)
    assert dew_point_from_wet_bulb_c(dry_c, wet_c) == pytest.approx(theirs, abs=0.05)


@given(air_c=AIR_C, rh_pct=RH_PCT)
def test_air_is_never_drier_than_its_dew_point_says(air_c: float, rh_pct: float) -> None:
    """Saturated at the dew point: 1e-6 of pressure is 2e-5 K, far inside what a probe reads."""
    dew_c = air.dew_point_c(air_c, rh_pct)
    assert dew_c <= air_c
    held_pa = air.vapour_pressure_pa(air_c, rh_pct)
    assert air.saturation_pressure_pa(dew_c) == pytest.approx(held_pa, rel=2e-5)


@given(air_c=AIR_C, drier=RH_PCT, damper=RH_PCT)
def test_damper_air_never_gives_the_slab_more_margin(air_c: float, drier: float, damper: float) -> None:
    drier, damper = sorted((drier, damper))
    assert air.dew_margin_k(air_c, damper, 15.0) <= air.dew_margin_k(air_c, drier, 15.0) + 1e-9


def test_a_slab_colder_than_the_dew_point_holds_no_more_than_saturated_air() -> None:
    at_slab = air.absolute_humidity_at_slab_g_m3(25.0, 90.0, 10.0)
    assert at_slab == pytest.approx(air.absolute_humidity_g_m3(10.0, 100.0), rel=1e-12)


@pytest.mark.parametrize("air_c", [-20.1, 60.1, float("nan"), float("inf")])
def test_weather_that_no_floor_is_coated_in_is_refused_with_range_and_unit(air_c: float) -> None:
    with pytest.raises(ValueError, match="between -20 and 60 °C"):
        air.dew_point_c(air_c, 50.0)


@pytest.mark.parametrize("rh_pct", [0.0, 100.1, float("nan")])
def test_a_humidity_that_cannot_be_is_refused_with_range_and_unit(rh_pct: float) -> None:
    with pytest.raises(ValueError, match="between 1 and 100 %"):
        air.dew_margin_k(20.0, rh_pct, 15.0)


def test_a_wet_bulb_warmer_than_the_dry_one_is_refused() -> None:
    with pytest.raises(ValueError, match="wet bulb is 21"):
        dew_point_from_wet_bulb_c(20.0, 21.0)


def test_a_dried_out_wick_is_said_to_be_one() -> None:
    with pytest.raises(ValueError, match="wet the wick"):
        dew_point_from_wet_bulb_c(40.0, 10.0)


@pytest.mark.parametrize(
    ("air_c", "rh_pct", "slab_c"), [(20.0, 50.0, 80.1), (20.0, 50.0, -20.1), (60.1, 50.0, 20.0), (-20.1, 50.0, 20.0)]
)
def test_no_slab_and_no_air_lies_outside_the_promised_range(air_c: float, rh_pct: float, slab_c: float) -> None:
    for ask in (air.dew_margin_k, air.absolute_humidity_at_slab_g_m3):
        with pytest.raises(ValueError, match="temperature"):
            ask(air_c, rh_pct, slab_c)


@pytest.mark.parametrize("temp_c", [-100.1, 200.1])
def test_no_vapour_is_promised_outside_minus_100_to_200_degrees(temp_c: float) -> None:
    with pytest.raises(ValueError, match="temperature"):
        air.saturation_pressure_pa(temp_c)
    assert air.saturation_pressure_pa(-100.0) < air.saturation_pressure_pa(200.0)


@pytest.mark.parametrize("temp_c", [-60.0, -20.0, -0.5, 5.0, 20.0, 40.0, 90.0])
def test_the_slope_by_which_a_dew_point_is_searched_is_that_of_the_pressure(temp_c: float) -> None:
    """By a difference quotient over 2 mK. Searched by a wrong slope the dew point takes longer, and may not come."""
    low, high = (math.log(air.saturation_pressure_pa(temp_c + step)) for step in (-1e-3, 1e-3))
    assert air._log_saturation_slope(temp_c + 273.15) == pytest.approx((high - low) / 2e-3, rel=1e-7)
