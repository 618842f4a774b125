"""What a crew types, as a number in the unit that the rest of the program works in.

Each reader takes `bare`, the unit that a number without one is taken to have; without it such a number is refused.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from mixclock.units import spellings as kinds
from mixclock.units.errors import UnitError, quoted
from mixclock.units.spellings import Kind, Table
from mixclock.units.text import number_and_unit, pairs, settled, tidied

_ABSOLUTE_ZERO_C = -273.15
_PREFIX_WORDS = re.compile(
    r"\b(sq|square|cu|cubic|fl|fluid|us|imp|imperial|uk|deg|degrees?|lin|linear|metric|percent|%) (?=\S)"
)
_PER = re.compile(r"\s*/\s*|\s+(?:per|an?)\s+")


@dataclass(frozen=True)
class Amount:
    """How much material was stated: by volume or by weight, exactly one of them."""

    volume_l: float | None = None
    mass_kg: float | None = None

    def __post_init__(self) -> None:
        """Holds the promise of the class."""
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
    value, key = _degrees(text, kinds.TEMPERATURE, bare)
    zero = 273.15 if key.startswith("k") else 32.0 if key in kinds.US_SPELLINGS else 0.0
    found = (value - zero) * 5 / 9 if zero == 32.0 else value - zero
    if found < _ABSOLUTE_ZERO_C:
        raise UnitError(f"{quoted(text)} is below absolute zero: {kinds.TEMPERATURE.write}")
    return found


def temp_difference_k(text: str, *, bare: str | None = None) -> float:
    """A difference of two temperatures in K: 5 °F is 2.8 K, not −15 °C.

    >>> temp_difference_k("3 °C"), round(temp_difference_k("5 °F"), 3)
    (3.0, 2.778)
    """
    value, key = _degrees(text, kinds.DIFFERENCE, bare)
    return value * 5 / 9 if key in kinds.US_SPELLINGS else value


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
    unit = _unit_key(
        (pairs(plain) or [("", number_and_unit(plain, kinds.AMOUNT)[1])])[0][1] or _bare(plain, kinds.AMOUNT, bare)
    )
    if unit in ("oz", "ozs", "ounce", "ounces"):
        raise UnitError(f"{quoted(text)} is a weight or a volume: write fl oz for the volume, or the weight in lb")
    by_mass = unit in kinds.MASS_KG or (unit not in kinds.VOLUME_L and _is_mass(plain))
    value = read(text, kinds.MASS if by_mass else kinds.VOLUME, bare)
    if value == 0:
        raise UnitError(f"{quoted(text)} is no amount at all: {kinds.AMOUNT.write}")
    return Amount(mass_kg=value) if by_mass else Amount(volume_l=value)


def area_m2(text: str, *, bare: str | None = None) -> float:
    """An area in m², also as one side times the other.

    >>> area_m2("11.5 m2"), round(area_m2("12 x 10 ft"), 2)
    (11.5, 11.15)
    """
    plain = tidied(text, kinds.AREA)
    sides = re.split(r"\s*(?:[x×*]|\bby\b)\s*(?=[\d.])", plain)
    if len(sides) != 2:
        return read(text, kinds.AREA, bare)
    unit = re.sub(r"^[\d\s.,/-]+", "", sides[1])
    first = sides[0] if re.search(r"[^\d\s.,/-]", sides[0]) else f"{sides[0]} {unit}"
    return _checked(length_m(first) * length_m(sides[1]), kinds.AREA, plain)


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


def unit_keys(text: str) -> list[str]:
    """The units in a text as the table spells them, "ft²/gal" as two; for guessing what a crew thinks in.

    >>> unit_keys("150 sq ft/gal")
    ['sqft', 'gal']
    """
    plain = tidied(text, kinds.NUMBER)
    units = [unit for _, unit in pairs(plain)] or [number_and_unit(plain, kinds.NUMBER)[1]]
    return [_unit_key(half) for unit in units for half in _PER.split(unit)]


def read(text: str, kind: Kind, bare: str | None) -> float:
    """Any quantity that is a number times a factor, in one part ("6 L") or several ("2 lb 4 oz")."""
    plain = tidied(text, kind)
    parts = pairs(plain) if kind.table else []
    if parts:
        return _checked(_compound(parts, kind, plain), kind, plain)
    value, unit = number_and_unit(plain, kind)
    return _checked(_converted(value, unit or _bare(plain, kind, bare), kind, plain), kind, plain)


def _compound(parts: list[tuple[str, str]], kind: Kind, plain: str) -> float:
    """Adds up parts that get smaller; "30 min 1 h" and "1 h 90 min" are slips of the finger."""
    total, last = 0.0, math.inf
    for place, (digits, unit) in enumerate(parts):
        value, size = settled(digits, f" {unit}", kind), _converted(1.0, unit, kind, plain)
        if value * size >= last or (place < len(parts) - 1 and value != int(value)):
            raise UnitError(f"{quoted(plain)} does not add up part by part, large to small: {kind.write}")
        total, last = total + value * size, size
    return total


def _checked(value: float, kind: Kind, plain: str) -> float:
    if not math.isfinite(value):
        raise UnitError(f"{quoted(plain)} is beyond any number: {kind.write}")
    if value == 0 and not kind.zero:
        raise UnitError(f"{quoted(plain)} is nothing, where {kind.noun} belongs: {kind.write}")
    return value


def _degrees(text: str, kind: Kind, bare: str | None) -> tuple[float, str]:
    plain = tidied(text, kind)
    value, unit = number_and_unit(plain, kind)
    if _unit_key(unit) in ("", "°", "deg", "degree", "degrees"):
        unit = _bare(plain.removesuffix(unit), kind, bare)
    key = _unit_key(unit)
    if key not in kind.table:
        raise _not_this_kind(unit, kind, plain)
    return value, key


def _bare(plain: str, kind: Kind, bare: str | None) -> str:
    if bare is None:
        digits = plain.strip()
        first, second = kind.units
        raise UnitError(f"{digits} what? write {digits} {first} or {digits} {second}")
    return bare


def _unit_key(unit: str) -> str:
    """The unit as the table spells it: lower case, no dots, "sq. ft" as "sqft".

    >>> _unit_key("Sq. Ft."), _unit_key("m^2")
    ('sqft', 'm2')
    """
    key = " ".join(unit.lower().replace(".", "").replace("**", "").replace("^", "").split())
    key = re.sub(r"(?<=[a-z]) (?=[23]$)", "", key)
    return _PREFIX_WORDS.sub(r"\1", _PREFIX_WORDS.sub(r"\1", key))


def _converted(value: float, unit: str, kind: Kind, plain: str) -> float:
    """The value in the kind's own unit: from the table where it can, else by pint."""
    key = _unit_key(unit)
    if key in kind.table:
        return value * kind.table[key]
    if kind.over:
        found = _quotient(value, unit, kind, plain)
        if found is not None:
            return found
    if key in kind.puzzles:
        raise UnitError(f"{quoted(plain)} {kind.puzzles[key]}")
    return _by_pint(value, unit, kind, plain)


def _quotient(value: float, unit: str, kind: Kind, plain: str) -> float | None:
    halves = _PER.split(unit)
    if len(halves) != 2 or kind.over is None:
        return None
    upper, lower = kind.over
    below = re.match(r"(\d*)\s*(.*)", halves[1])
    count, under = (int(below[1] or 1), _unit_key(below[2])) if below else (1, "")
    over = _unit_key(halves[0])
    if under in kind.puzzles:
        raise UnitError(f"{quoted(plain)}: {kind.puzzles[under]}")
    if over in upper and under in lower and count:
        return value * upper[over] / (lower[under] * count)
    if kind.inverse_too and over in lower and under in upper and value and count:
        return upper[under] * count / (value * lower[over])
    return None


def _by_pint(value: float, unit: str, kind: Kind, plain: str) -> float:
    if not kind.pint_unit or _named_elsewhere(unit, kind):
        raise _not_this_kind(unit, kind, plain)
    from mixclock.units import uncommon

    try:
        return value * uncommon.factor(unit, kind.pint_unit)
    except LookupError:
        raise _not_this_kind(unit, kind, plain) from None


def _is_mass(plain: str) -> bool:
    try:
        read(plain, kinds.MASS, None)
    except UnitError:
        return False
    return True


def _named_elsewhere(unit: str, kind: Kind) -> Kind | None:
    """The other kind whose table holds this unit."""
    key = _unit_key(unit)
    halves = [_unit_key(half) for half in _PER.split(unit)]
    for other in kinds.KINDS:
        if other.table is not kind.table and key in other.table:
            return other
        if other is not kind and other.over and len(halves) == 2 and _held(halves, other.over):
            return other
    return None


def _held(halves: list[str], over: tuple[Table, Table]) -> bool:
    return halves[0] in over[0] and halves[1] in over[1]


def _not_this_kind(unit: str, kind: Kind, plain: str) -> UnitError:
    other = _named_elsewhere(unit, kind)
    if other is not None:
        return UnitError(f"{quoted(plain)} is {other.noun}, where {kind.noun} belongs: {kind.write}")
    near = _near(unit, kind)
    meant = f" (did you mean {near}?)" if near else ""
    return UnitError(
        f"{quoted(plain)} has {quoted(unit)}, which is no unit of {_without_article(kind.noun)}{meant}: {kind.write}"
    )


def _without_article(noun: str) -> str:
    return noun.partition(" ")[2]


def _near(unit: str, kind: Kind) -> str:
    import difflib

    known = [*kind.table] + (
        [f"{top}/{bottom}" for top in kind.over[0] for bottom in kind.over[1]] if kind.over else []
    )
    found = difflib.get_close_matches("/".join(_unit_key(half) for half in _PER.split(unit)), known, n=1, cutoff=0.6)
    return found[0] if found else ""
