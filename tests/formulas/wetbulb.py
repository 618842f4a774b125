"""A whirling psychrometer's two thermometers as a dew point, for the figures that inspectors publish in that form."""

from __future__ import annotations

from mixclock.formulas.air import AIR_RANGE_C, dew_point_c, saturation_pressure_pa
from mixclock.formulas.ranges import require_within

STANDARD_PRESSURE_PA = 101_325.0
VAPOUR_TO_DRY_AIR_MASS = 0.621945


def dew_point_from_wet_bulb_c(dry_c: float, wet_c: float) -> float:
    """Dew point [°C] from a whirling psychrometer's two thermometers, at sea level.

    W = ((2501 − 2.326·wet)·W_s(wet) − 1.006·(dry − wet)) / (2501 + 1.86·dry − 4.186·wet), e = p·W/(0.621945 + W),
    and over an ice-covered bulb the like with 2830 − 0.24·wet and 2830 + 1.86·dry − 2.1·wet.

    Args:
        dry_c: dry bulb [°C], -20 to 60.
        wet_c: wet bulb [°C], at most dry_c.

    Returns:
        dew point [°C].

    Raises:
        ValueError: outside the range, wet above dry, or bulbs so far apart that no air is that dry.

    >>> round(dew_point_from_wet_bulb_c(21.0, 17.0), 1)
    14.7

    Source: ASHRAE 2017 ch. 1, eq. 20, 33 and 35.
    """
    require_within("dry bulb", dry_c, *AIR_RANGE_C, "°C")
    require_within("wet bulb", wet_c, AIR_RANGE_C[0], dry_c, "°C")
    ratio = _humidity_ratio(dry_c, wet_c)
    if ratio <= 1e-7:
        raise ValueError(f"wet bulb {wet_c:g} °C is too far under dry bulb {dry_c:g} °C; wet the wick and read again")
    vapour_pa = STANDARD_PRESSURE_PA * ratio / (VAPOUR_TO_DRY_AIR_MASS + ratio)
    return dew_point_c(dry_c, min(100.0, 100.0 * vapour_pa / saturation_pressure_pa(dry_c)))


def _humidity_ratio(dry_c: float, wet_c: float) -> float:
    saturated_pa = saturation_pressure_pa(wet_c)
    at_wet = VAPOUR_TO_DRY_AIR_MASS * saturated_pa / (STANDARD_PRESSURE_PA - saturated_pa)
    if wet_c >= 0.0:
        heat = (2501.0 - 2.326 * wet_c) * at_wet - 1.006 * (dry_c - wet_c)
        return heat / (2501.0 + 1.86 * dry_c - 4.186 * wet_c)
    heat = (2830.0 - 0.24 * wet_c) * at_wet - 1.006 * (dry_c - wet_c)
    return heat / (2830.0 + 1.86 * dry_c - 2.1 * wet_c)
