"""How a crew reads each kind of number: its unit, and how much of the program's own unit one of it is.

The record, the pictures and the page convert only by these. `spellings` holds the factors themselves.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from mixclock.units.spellings import AREA_M2, DEGREES_K, FILM_UM, LENGTH_M, MASS_KG, VOLUME_L


class Scale(NamedTuple):
    """A unit as people see it: how much of the program's own unit one of it is, and where its zero lies.

    >>> FAHRENHEIT.shown(20.0), FAHRENHEIT.back(68.0)
    (68.0, 20.0)
    """

    unit: str
    per: float = 1.0
    zero: float = 0.0
    digits: int | None = None

    def shown(self, value: float) -> float:
        """A number in the program's own unit as this scale shows it."""
        return value / self.per + self.zero

    def back(self, shown: float) -> float:
        """A number on this scale in the program's own unit."""
        return (shown - self.zero) * self.per


_FT, _FT2, _GAL, _LB = LENGTH_M["ft"], AREA_M2["ft2"], VOLUME_L["gal"], MASS_KG["lb"]
CELSIUS = Scale("°C")
FAHRENHEIT = Scale("°F", DEGREES_K["f"], 32.0, 0)

METRIC: Mapping[str, Scale] = MappingProxyType(
    {
        "c": CELSIUS,
        "k": Scale("°C apart"),
        "pct": Scale("%"),
        "l": Scale("L"),
        "small_l": Scale("mL", 0.001, digits=0),
        "kg": Scale("kg"),
        "um": Scale("µm"),
        "m2": Scale("m²"),
        "m": Scale("m"),
        "min": Scale("min"),
        "h": Scale("h"),
        "m2_h": Scale("m²/h"),
        "m_h": Scale("m/h"),
        "kg_m2": Scale("kg/m²"),
        "m2_l": Scale("m²/L"),
        "kg_l": Scale("kg/L"),
    }
)
"""The scales by the ending with which a name carries its unit."""

US: Mapping[str, Scale] = MappingProxyType(
    {
        **METRIC,
        "c": FAHRENHEIT,
        "k": Scale("°F apart", DEGREES_K["f"]),
        "l": Scale("gal", _GAL, digits=2),
        "small_l": Scale("fl oz", VOLUME_L["floz"], digits=0),
        "kg": Scale("lb", _LB),
        "um": Scale("mil", FILM_UM["mil"], digits=1),
        "m2": Scale("ft²", _FT2, digits=0),
        "m": Scale("ft", _FT),
        "m2_h": Scale("ft²/h", _FT2, digits=0),
        "m_h": Scale("ft/h", _FT, digits=0),
        "kg_m2": Scale("lb/ft²", _LB / _FT2, digits=3),
        "m2_l": Scale("ft²/gal", _FT2 / _GAL, digits=0),
        "kg_l": Scale("lb/gal", _LB / _GAL),
    }
)


def degrees_scale(letter: str | None) -> Scale:
    """The scale for the letter beside a temperature in a file: °F for an F, else °C.

    >>> round(degrees_scale("F").back(64.0), 2), degrees_scale(None).back(21.0)
    (17.78, 21.0)
    """
    return FAHRENHEIT if letter == "F" else CELSIUS


OZ_GAL_G_L = 1000.0 * MASS_KG["oz"] / _GAL
"""An ounce in a US gallon, in grams a litre (exact by definition of both units)."""
