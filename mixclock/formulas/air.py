"""Moist air over a slab: dew point, margin and water content.

Saturation is the Hyland–Wexler formulation as printed in ASHRAE Handbook — Fundamentals 2017, chapter 1,
equations 5 (over ice) and 6 (over water). Dew and frost point are its inverse by Newton's method, so that both
agree with PsychroLib to rounding; a Magnus formula would be off by up to 0.3 K in hot air.
"""

import math
from functools import lru_cache

from mixclock.formulas.ranges import require_within

ZERO_C_IN_K = 273.15
TRIPLE_POINT_C = 0.01
WATER_VAPOUR_R_J_KG_K = 461.523  # specific gas constant of water vapour; 8.314462618 / 0.018015268 (IAPWS)

AIR_RANGE_C = (-20.0, 60.0)
RH_RANGE_PCT = (1.0, 100.0)
SLAB_RANGE_C = (-20.0, 80.0)
SATURATION_RANGE_C = (-100.0, 200.0)

# ASHRAE 2017 ch. 1, eq. 5 and 6: C1…C6 and C8…C12 with the logarithm's coefficient last
_OVER_ICE = (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019)
_OVER_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)


def saturation_pressure_pa(temp_c: float) -> float:
    r"""Pressure of saturated water vapour [Pa], over ice up to the triple point and over water above it.

    ln p = c1/T + c2 + c3·T + c4·T² + c5·T³ + c6·T⁴ + c7·ln T,   T in kelvin

    Args:
        temp_c: temperature [°C], -100 to 200.

    Returns:
        pressure [Pa].

    Raises:
        ValueError: outside -100…200 °C.

    >>> round(saturation_pressure_pa(25.0), 1)
    3169.2

    Source: ASHRAE Handbook — Fundamentals 2017 (SI), ch. 1, eq. 5 and 6 (Hyland and Wexler 1983).
    """
    require_within("temperature", temp_c, *SATURATION_RANGE_C, "°C")
    return math.exp(_log_saturation(temp_c + ZERO_C_IN_K))


def _coefficients(temp_k: float) -> tuple[float, ...]:
    return _OVER_ICE if temp_k <= TRIPLE_POINT_C + ZERO_C_IN_K else _OVER_WATER


def _log_saturation(temp_k: float) -> float:
    c1, c2, c3, c4, c5, c6, c7 = _coefficients(temp_k)
    return c1 / temp_k + c2 + temp_k * (c3 + temp_k * (c4 + temp_k * (c5 + temp_k * c6))) + c7 * math.log(temp_k)


def _log_saturation_slope(temp_k: float) -> float:
    c1, _, c3, c4, c5, c6, c7 = _coefficients(temp_k)
    return -c1 / temp_k**2 + c3 + temp_k * (2 * c4 + temp_k * (3 * c5 + temp_k * 4 * c6)) + c7 / temp_k


def vapour_pressure_pa(air_c: float, rh_pct: float) -> float:
    """Partial pressure of water vapour [Pa] = relative humidity × saturation pressure.

    Args:
        air_c: air temperature [°C], -20 to 60.
        rh_pct: relative humidity [%], 1 to 100.

    Returns:
        pressure [Pa].

    Raises:
        ValueError: outside those ranges.

    >>> round(vapour_pressure_pa(20.0, 60.0))
    1403

    Source: definition of relative humidity, ASHRAE 2017 ch. 1, eq. 12 (ideal gas).
    """
    require_within("air temperature", air_c, *AIR_RANGE_C, "°C")
    require_within("relative humidity", rh_pct, *RH_RANGE_PCT, "%")
    return rh_pct / 100.0 * saturation_pressure_pa(air_c)


@lru_cache(maxsize=1024)
def dew_point_c(air_c: float, rh_pct: float) -> float:
    """Temperature [°C] at which this air is saturated: dew point above 0.01 °C, frost point below it.

    p_sat(dew point) = rh · p_sat(air), solved for the dew point by Newton on ln p.

    Args:
        air_c: air temperature [°C], -20 to 60.
        rh_pct: relative humidity [%], 1 to 100.

    Returns:
        dew point [°C], never above air_c.

    Raises:
        ValueError: outside those ranges.

    >>> round(dew_point_c(30.0, 55.0), 1)
    20.0

    Source: inverse of ASHRAE 2017 ch. 1, eq. 5 and 6.
    """
    return min(air_c, _saturated_at_c(vapour_pressure_pa(air_c, rh_pct)))


def _saturated_at_c(pressure_pa: float) -> float:
    """Newton on ln p against 1/T, in which the curve is all but straight: after four steps no digit moves any more."""
    wanted = math.log(pressure_pa)
    temp_k = ZERO_C_IN_K
    for _ in range(5):
        slope_in_inverse = -_log_saturation_slope(temp_k) * temp_k**2
        temp_k = 1.0 / (1.0 / temp_k + (wanted - _log_saturation(temp_k)) / slope_in_inverse)
    return temp_k - ZERO_C_IN_K


def dew_margin_k(air_c: float, rh_pct: float, slab_c: float) -> float:
    """Slab temperature minus the dew point of the air above it [K]; at or below zero it is wet.

    Args:
        air_c: air temperature [°C], -20 to 60.
        rh_pct: relative humidity [%], 1 to 100.
        slab_c: surface temperature of the slab [°C], -20 to 80.

    Returns:
        margin [K]; custom asks for 3 K or more before and while coating.

    Raises:
        ValueError: outside those ranges.

    >>> round(dew_margin_k(16.0, 71.0, 13.0), 1)
    2.2

    Source: ISO 8502-4 (the calculation; the 3 K is customary).
    """
    require_within("slab temperature", slab_c, *SLAB_RANGE_C, "°C")
    return slab_c - dew_point_c(air_c, rh_pct)


def absolute_humidity_g_m3(temp_c: float, rh_pct: float) -> float:
    """Water in a cubic metre of air [g/m³] = e / (R_v·T).

    Args:
        temp_c: air temperature [°C], -20 to 60.
        rh_pct: relative humidity [%], 1 to 100.

    Returns:
        water vapour content [g/m³].

    Raises:
        ValueError: outside those ranges.

    >>> round(absolute_humidity_g_m3(20.0, 60.0), 2)
    10.37

    Source: ideal gas law with R_v = 461.523 J/kgK.
    """
    return 1000.0 * vapour_pressure_pa(temp_c, rh_pct) / (WATER_VAPOUR_R_J_KG_K * (temp_c + ZERO_C_IN_K))


def absolute_humidity_at_slab_g_m3(air_c: float, rh_pct: float, slab_c: float) -> float:
    """Water [g/m³] in the skin of air that lies on the slab, which has the slab's temperature.

    min(e, p_sat(slab)) / (R_v·T_slab): the vapour pressure is that of the room, held at saturation over a slab
    colder than the dew point.

    Args:
        air_c: air temperature [°C], -20 to 60.
        rh_pct: relative humidity [%], 1 to 100.
        slab_c: surface temperature of the slab [°C], -20 to 80.

    Returns:
        water vapour content at the slab [g/m³].

    Raises:
        ValueError: outside those ranges.

    >>> round(absolute_humidity_at_slab_g_m3(20.0, 60.0, 20.0), 2)
    10.37

    Source: ideal gas law; the saturation cap is judgement.
    """
    require_within("slab temperature", slab_c, *SLAB_RANGE_C, "°C")
    pressure_pa = min(vapour_pressure_pa(air_c, rh_pct), saturation_pressure_pa(slab_c))
    return 1000.0 * pressure_pa / (WATER_VAPOUR_R_J_KG_K * (slab_c + ZERO_C_IN_K))
