"""Turns what a crew types into a number in the unit that the rest of the program uses.

Each reader takes `bare`, the unit to assume for a number without one. Without `bare` such a number is refused.
"""

from __future__ import annotations

import contextlib
import re

from mixclock.units import spellings as kinds
from mixclock.units.converting import bare_unit, checked, converted, degrees, not_this_kind, read, unit_key
from mixclock.units.errors import UnitError, quoted
from mixclock.units.scales import degrees_scale
from mixclock.units.spellings import Kind
from mixclock.units.text import number_and_unit, pairs, tidied
from mixclock.values import dataclass

_ABSOLUTE_ZERO_C = -273.15
_SIDES = r"\s*(?:[x×*]|\bby\b)\s*(?=[\d.])"


@dataclass(frozen=True)
class Amount:
    """How much material was stated: by volume or by weight, exactly one of them."""

    volume_l: float | None = None
    mass_kg: float | None = None

    def __post_init__(self) -> None:
        """Check the promise of the class."""
        if (self.volume_l is None) == (self.mass_kg is None):
            raise ValueError("an amount is either a volume or a weight")


def temp_c(text: str, *, bare: str | None = None) -> float:
    """A temperature in °C.

    >>> round(temp_c("72F"), 2), temp_c("−3 °C"), temp_c("22", bare="°C")
    (22.22, -3.0, 22.0)
    >>> temp_c("22")
    Traceback (most recent call last):
    mixclock.units.errors.UnitError: 22 what? write 22 °C or 22 °F
    """
    value, key = degrees(text, kinds.TEMPERATURE, bare)
    found = (
        value - 273.15 if key.startswith("k") else degrees_scale("F" if key in kinds.US_SPELLINGS else "C").back(value)
    )
    if found < _ABSOLUTE_ZERO_C:
        raise UnitError(f"{quoted(text)} is below absolute zero: {kinds.TEMPERATURE.write}")
    return found


def temp_difference_k(text: str, *, bare: str | None = None) -> float:
    """A difference of two temperatures in K: 5 °F is 2.8 K, not −15 °C.

    >>> temp_difference_k("3 °C"), round(temp_difference_k("5 °F"), 3)
    (3.0, 2.778)
    """
    value, key = degrees(text, kinds.DIFFERENCE, bare)
    return value * kinds.DEGREES_K[key]


def volume_l(text: str, *, bare: str | None = None) -> float:
    """A volume in litres; gallons, quarts, pints and fluid ounces are US ones.

    >>> volume_l("1,5 L"), round(volume_l("1 1/2 gal"), 3)
    (1.5, 5.678)
    """
    return read(text, kinds.VOLUME, bare)


def mass_kg(text: str, *, bare: str | None = None) -> float:
    """A weight in kg.

    >>> mass_kg("850 g"), round(mass_kg("2 lb 4 oz"), 4)
    (0.85, 1.0206)
    """
    return read(text, kinds.MASS, bare)


def amount(text: str, *, bare: str | None = None) -> Amount:
    """A volume or a weight, whichever was typed.

    >>> amount("6 L"), amount("12 kg")
    (Amount(volume_l=6.0, mass_kg=None), Amount(volume_l=None, mass_kg=12.0))
    """
    plain = tidied(text, kinds.AMOUNT)
    parts = pairs(plain)
    unit = parts[0][1] if parts else number_and_unit(plain, kinds.AMOUNT)[1] or bare_unit(plain, kinds.AMOUNT, bare)
    if unit_key(unit) in kinds.AMOUNT.puzzles:
        raise UnitError(f"{quoted(plain)}: {kinds.AMOUNT.puzzles[unit_key(unit)]}")
    kind = _volume_or_mass(unit, plain)
    value = read(text, kind, bare)
    if value == 0:
        raise UnitError(f"{quoted(plain)} is nothing, where an amount belongs: {kinds.AMOUNT.write}")
    return Amount(mass_kg=value) if kind is kinds.MASS else Amount(volume_l=value)


def area_m2(text: str, *, bare: str | None = None) -> float:
    """An area in m², also as one side times the other.

    >>> area_m2("11.5 m2"), round(area_m2("12 x 10 ft"), 2)
    (11.5, 11.15)
    """
    plain = tidied(text, kinds.AREA)
    sides = sides_of(plain)
    if len(sides) != 2:
        return read(text, kinds.AREA, bare)
    one_m, other_m = two_lengths_m(*sides)
    return checked(one_m * other_m, kinds.AREA, plain)


def sides_of(text: str) -> list[str]:
    """The sides of a floor given as one times the other. If the text is no product, it stands alone."""
    return re.split(_SIDES, text)


def two_lengths_m(one: str, other: str) -> tuple[float, float]:
    """Two lengths in m. The first may leave its unit to the second.

    >>> two_lengths_m("3", "4 m")
    (3.0, 4.0)
    """
    unit = re.sub(r"^[\d\s.,/-]+", "", other)
    if not unit:
        raise UnitError(f"{one.strip()} x {other.strip()} what? write {one.strip()} x {other.strip()} m or ft")
    first = one if re.search(r"[^\d\s.,/-]", one) else f"{one} {unit}"
    return length_m(first), length_m(other)


def length_m(text: str, *, bare: str | None = None) -> float:
    """A length in m.

    >>> length_m("9 m"), length_m("28 cm"), round(length_m("6 ft 4 in"), 4)
    (9.0, 0.28, 1.9304)
    """
    return read(text, kinds.LENGTH, bare)


def film_um(text: str, *, bare: str | None = None) -> float:
    """A film thickness in µm; a mil is a thousandth of an inch.

    >>> film_um("200 µm"), film_um("0.2 mm"), round(film_um("8 mil"), 1)
    (200.0, 200.0, 203.2)
    """
    return read(text, kinds.FILM, bare)


def spread_m2_l(text: str, *, bare: str | None = None) -> float:
    """A spread rate in m²/L; a consumption in L/m² is turned over.

    >>> spread_m2_l("8 m²/L"), spread_m2_l("0.25 L/m²"), round(spread_m2_l("160 ft²/gal"), 2)
    (8.0, 4.0, 3.93)
    """
    return read(text, kinds.SPREAD, bare)


def density_kg_l(text: str, *, bare: str | None = None) -> float:
    """A density in kg/L.

    >>> density_kg_l("1.13 kg/L"), density_kg_l("1130 kg/m3"), round(density_kg_l("9.4 lb/gal"), 3)
    (1.13, 1.13, 1.126)
    """
    return read(text, kinds.DENSITY, bare)


def rate_m2_h(text: str, *, bare: str | None = None) -> float:
    """How fast a crew covers floor, in m²/h.

    >>> rate_m2_h("110 m2/h"), round(rate_m2_h("1200 ft²/h"), 1)
    (110.0, 111.5)
    """
    return read(text, kinds.RATE_AREA, bare)


def rate_m_h(text: str, *, bare: str | None = None) -> float:
    """How fast a crew cuts in along edges, in m/h.

    >>> rate_m_h("35 m/h")
    35.0
    """
    return read(text, kinds.RATE_LENGTH, bare)


def mass_per_area_kg_m2(text: str, *, bare: str | None = None) -> float:
    """How much flake or sand goes on a floor, in kg/m².

    >>> mass_per_area_kg_m2("400 g/m²"), round(mass_per_area_kg_m2("10 lb per 100 ft²"), 3)
    (0.4, 0.488)
    """
    return read(text, kinds.MASS_PER_AREA, bare)


def strength_mpa(text: str, *, bare: str | None = None) -> float:
    """A strength in MPa, which is a newton on each mm².

    >>> strength_mpa("1.6 MPa"), strength_mpa("1.6 N/mm²"), round(strength_mpa("200 psi"), 2)
    (1.6, 1.6, 1.38)
    """
    return read(text, kinds.STRENGTH, bare)


def pct(text: str, *, most: float = 100.0) -> float:
    """A percentage; the sign may be left out.

    >>> pct("62 %"), pct("62")
    (62.0, 62.0)
    """
    value = read(text, kinds.SHARE, "%")
    if value > most:
        raise UnitError(f"{quoted(text)} is over {most:g} %: write a percentage from 0 to {most:g}")
    return value


def number(text: str) -> float:
    """A plain number without a unit, its comma settled.

    >>> number("1,5"), number("-2")
    (1.5, -2.0)
    """
    plain = tidied(text, kinds.NUMBER)
    value, unit = number_and_unit(plain, kinds.NUMBER)
    if unit:
        raise UnitError(f"{quoted(text)} has {quoted(unit)} behind a plain number: write the number alone")
    return value


def _volume_or_mass(unit: str, plain: str) -> Kind:
    for kind in (kinds.VOLUME, kinds.MASS):
        if unit_key(unit) in kind.table:
            return kind
    for kind in (kinds.VOLUME, kinds.MASS):
        with contextlib.suppress(UnitError):
            converted(1.0, unit, kind, plain)
            return kind
    raise not_this_kind(unit, kinds.AMOUNT, plain)
