"""When a mass counts as hot. Model, alarm and record use this one rule; a warmer mix never has a lower limit.

A mix up to 25 °C is hot at 15 K over the mix, one up to 28 °C at 40 °C, and a warmer one at 12 K over the mix. A warmer
mix never gains time by it. From a 25 °C start the mass passes 40 °C at 63 % of its life (the bucket model).
"""

from __future__ import annotations

from mixclock.formulas.ranges import require_within

HOT_C, HOT_RISE_K, WARM_MIX_C = 40.0, 15.0, 28.0
MIX_RANGE_C = (-60.0, 250.0)


def hot_from_c(material_c: float) -> float:
    """The temperature at which a mass is hot [°C]: min(T + 15, max(40, T + 12)) for a mix of T.

    Args:
        material_c: temperature of the material at mixing [°C], -60 to 250.

    Returns:
        temperature [°C].

    Raises:
        ValueError: outside that range.

    >>> hot_from_c(20.0), hot_from_c(26.0), hot_from_c(32.0)
    (35.0, 40.0, 44.0)

    Source: judgement; a maker's pot life of a container ends at 40 °C (glossaries, read).
    """
    require_within("material temperature", material_c, *MIX_RANGE_C, "°C")
    return min(material_c + HOT_RISE_K, max(HOT_C, material_c + HOT_C - WARM_MIX_C))
