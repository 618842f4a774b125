"""The moisture that a slab gives off, by the weight that calcium chloride gains: pounds per 1000 square feet in a
day."""

from __future__ import annotations

import re

from mixclock.units.errors import UnitError
from mixclock.units.reading import number

LB_G_M2_D = 453.59237 / 92.90304
"""A pound on 1000 ft² (92.90304 m²) in a day, in grams a square metre a day (exact by definition of both units)."""

_TYPED = re.compile(
    r"^(?P<number>[\d.,]+)\s*(?P<unit>lb|lbs|pounds?|g\s*/\s*m(?:2|²))\b"
    r"(?:\s*(?:/|per)\s*1[,.]?000\s*(?:ft2|ft²|sq\.?\s*ft)\.?)?(?:\s*(?:/|in|per)\s*(?:24\s*h|a?\s*day|d))*\s*$",
    re.IGNORECASE,
)


def is_vapour(text: str) -> bool:
    """Whether a moisture was typed by weight.

    >>> is_vapour("3.5 lb"), is_vapour("75 %")
    (True, False)
    """
    return _TYPED.match(text.strip()) is not None


def vapour_g_m2_d(text: str) -> float:
    """Grams a square metre a day from what was typed; raises `UnitError`.

    >>> round(vapour_g_m2_d("3 lb"), 1), round(vapour_g_m2_d("3.5 lb/1000 ft2/24 h"), 1), vapour_g_m2_d("15 g/m2")
    (14.6, 17.1, 15.0)
    """
    found = _TYPED.match(text.strip())
    if found is None:
        raise UnitError(f"'{text}' is no moisture by weight; expected such as 3.5 lb (per 1000 ft2 in 24 h)")
    value = number(found["number"])
    return value if found["unit"].casefold().startswith("g") else value * LB_G_M2_D


def write_vapour(g_m2_d: float, us: bool) -> str:
    """A moisture by weight as a crew says it.

    >>> write_vapour(17.0887, us=True), write_vapour(17.0887, us=False)
    ('3.5 lb', '17 g/m² a day')
    """
    return f"{g_m2_d / LB_G_M2_D:.3g} lb" if us else f"{g_m2_d:.0f} g/m² a day"
