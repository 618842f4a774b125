"""Turns the text of a quantity into a number in its kind's own unit, or complains if that is impossible."""

from __future__ import annotations

import math
import re

from mixclock.units import spellings as kinds
from mixclock.units.errors import UnitError, quoted
from mixclock.units.spellings import Kind
from mixclock.units.text import number_and_unit, pairs, settled, tidied

# patterns are kept as text, so that a command compiles only those that it uses
_PER = r"\s*/\s*|\s+(?:per|an?)\s+"
_JOINED_WORDS = (
    r"(?:\b(sq|square|cu|cubic|fl|fluid|us|imp|imperial|uk|deg|degrees?|lin|linear|metric|percent)|([°%])) (?=\S)"
)
_CLOSE = 0.7  # how alike a spelling must be before it is offered: judgement
_WHOLE = 1 - 1e-9  # twelve inches make a foot, whatever the last bit of a float says


def read(text: str, kind: Kind, bare: str | None) -> float:
    """Any quantity that is a number times a factor, in one part ("6 L") or several ("2 lb 4 oz")."""
    plain = tidied(text, kind)
    parts = pairs(plain) if kind.table else []
    if parts:
        return checked(_compound(parts, kind, plain), kind, plain)
    value, unit = number_and_unit(plain, kind)
    return checked(converted(value, unit or bare_unit(plain, kind, bare), kind, plain), kind, plain)


def converted(value: float, unit: str, kind: Kind, plain: str) -> float:
    """The value in the kind's own unit: from the table if it has the unit, else by pint."""
    key = unit_key(unit)
    if key in kind.table:
        return value * kind.table[key]
    found = _quotient(value, unit, kind, plain)
    if found is not None:
        return found
    if key in kind.puzzles:
        raise UnitError(f"{quoted(plain)}: {kind.puzzles[key]}")
    return _by_pint(value, unit, kind, plain)


def checked(value: float, kind: Kind, plain: str) -> float:
    """The value itself. It refuses what is beyond any number, and zero where zero makes no sense."""
    if not math.isfinite(value):
        raise UnitError(f"{quoted(plain)} is beyond any number: {kind.write}")
    if value == 0 and not kind.zero:
        raise UnitError(f"{quoted(plain)} is nothing, where {kind.noun} belongs: {kind.write}")
    return value


def degrees(text: str, kind: Kind, bare: str | None) -> tuple[float, str]:
    """The number of degrees and the spelling of their scale. A temperature needs more than a factor."""
    plain = tidied(text, kind)
    value, unit = number_and_unit(plain, kind)
    if unit_key(unit) in ("", "°", "deg", "degree", "degrees"):
        unit = bare_unit(plain.removesuffix(unit), kind, bare)
    key = unit_key(unit)
    if key not in kind.table:
        raise not_this_kind(unit, kind, plain)
    return value, key


def bare_unit(plain: str, kind: Kind, bare: str | None) -> str:
    """The unit to assume for a number without one, if the caller knows it."""
    if bare is None:
        digits = plain.strip()
        first, second = kind.units
        raise UnitError(f"{digits} what? write {digits} {first} or {digits} {second}")
    return tidied(bare, kind)


def unit_key(unit: str) -> str:
    """The unit as the table spells it: lower case, no dots, "sq. ft" as "sqft".

    >>> unit_key("Sq. Ft."), unit_key("m^2"), unit_key("° F")
    ('sqft', 'm2', '°f')
    """
    key = " ".join(unit.lower().replace(".", "").replace("**", "").replace("^", "").split())
    if " " not in key:
        return key
    while key != (joined := re.sub(_JOINED_WORDS, r"\1\2", key)):
        key = joined
    return key


def unit_keys(text: str) -> list[str]:
    """The units in a text as the table spells them, "ft²/gal" as two. They help to guess which units a crew thinks in.

    >>> unit_keys("150 sq ft/gal")
    ['sqft', 'gal']
    """
    plain = tidied(text, kinds.NUMBER)
    units = [unit for _, unit in pairs(plain)] or [number_and_unit(plain, kinds.NUMBER)[1]]
    return [key for unit in units for key in _halves(unit)]


def not_this_kind(unit: str, kind: Kind, plain: str) -> UnitError:
    """The complaint about a unit of another kind or an unknown one, with the nearest spelling of this kind."""
    other = _named_elsewhere(unit, kind)
    if other is not None:
        return UnitError(f"{quoted(plain)} is {other.noun}, where {kind.noun} belongs: {kind.write}")
    near = _near(unit, kind)
    meant = f" (did you mean {near}?)" if near else ""
    return UnitError(f"{quoted(plain)} has {quoted(unit)}, which is no unit for {kind.noun}{meant}: {kind.write}")


def _compound(parts: list[tuple[str, str]], kind: Kind, plain: str) -> float:
    """Adds up parts that get smaller; "30 min 1 h" and "1 h 90 min" are slips of the finger."""
    total, last = 0.0, math.inf
    for place, (digits, unit) in enumerate(parts):
        value, size = settled(digits, f" {unit}", kind), converted(1.0, unit, kind, plain)
        if value * size >= last * _WHOLE or (place < len(parts) - 1 and value != int(value)):
            raise UnitError(f"{quoted(plain)} does not add up part by part, large to small: {kind.write}")
        total, last = total + value * size, size
    return total


def _halves(unit: str) -> list[str]:
    return [unit_key(half) for half in re.split(_PER, unit)]


def _quotient(value: float, unit: str, kind: Kind, plain: str) -> float | None:
    """The value of "8 m²/L" or "10 lb per 100 ft²"; None if the table does not know both halves."""
    halves = _halves(unit)
    if kind.over is None or len(halves) != 2:
        return None
    upper, lower = kind.over
    count, under = _counted(halves[1])
    if under in kind.puzzles:
        raise UnitError(f"{quoted(plain)}: {kind.puzzles[under]}")
    if halves[0] in upper and under in lower:
        return value * upper[halves[0]] / (lower[under] * count)
    if kind.inverse_too and halves[0] in lower and under in upper:
        consumed = value * lower[halves[0]]
        return upper[under] * count / consumed if consumed else 0.0
    return None


def _counted(half: str) -> tuple[int, str]:
    """Splits "100 ft2" into 100 and "ft2"; a unit alone counts as one of it."""
    found = re.fullmatch(r"([1-9]\d{0,5})\s*([^\d\s].*)", half)
    return (int(found[1]), unit_key(found[2])) if found else (1, half)


def _by_pint(value: float, unit: str, kind: Kind, plain: str) -> float:
    if not kind.pint_unit or _named_elsewhere(unit, kind):
        raise not_this_kind(unit, kind, plain)
    from mixclock.units import uncommon

    try:
        return value * uncommon.factor(unit, kind.pint_unit)
    except LookupError:
        raise not_this_kind(unit, kind, plain) from None


def _named_elsewhere(unit: str, kind: Kind) -> Kind | None:
    """The other kind whose table holds this unit."""
    key, halves = unit_key(unit), _halves(unit)
    for other in kinds.KINDS:
        if other.table is not kind.table and key in other.table:
            return other
        if other is not kind and other.over and len(halves) == 2:
            over, under = other.over
            if halves[0] in over and _counted(halves[1])[1] in under:
                return other
    return None


def _near(unit: str, kind: Kind) -> str:
    """The nearest spelling in the table, for each half of a quotient by itself; empty if none is near."""
    import difflib

    tables, halves = kind.over or (kind.table,), _halves(unit)
    if len(halves) != len(tables):
        return ""
    found = [
        difflib.get_close_matches(half, list(table), n=1, cutoff=_CLOSE)
        for half, table in zip(halves, tables, strict=True)
    ]
    return "/".join(near[0] for near in found) if all(found) else ""
