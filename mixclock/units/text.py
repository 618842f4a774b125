"""Turns typed letters into a number and the text of its unit, with the meaning of every comma settled."""

from __future__ import annotations

import math
import re

from mixclock.units.errors import UnitError, quoted
from mixclock.units.spellings import Kind

_LONGEST = 80

_VULGAR = (
    *(("½", "1/2"), ("¼", "1/4"), ("¾", "3/4"), ("⅓", "1/3"), ("⅔", "2/3")),
    *(("⅛", "1/8"), ("⅜", "3/8"), ("⅝", "5/8"), ("⅞", "7/8")),
)
_SAME = str.maketrans(
    {
        **dict.fromkeys("\u2212\u2010\u2011\u2012\u2013\ufe63\uff0d", "-"),
        **dict.fromkeys("\u00a0\u202f\u2007\u2009\u200a\u2002\u2003\u2005\u2006\u2008\u3000\t", " "),
        **dict.fromkeys("\u200b\ufeff\u2060", ""),
        **dict.fromkeys("\u00ba\u02da", "°"),  # the ordinal sign and the ring stand on keyboards where ° does not
        **dict.fromkeys("\u2032\u2019\u02b9", "'"),
        **dict.fromkeys("\u2033\u201d\u201c", '"'),
        **dict.fromkeys("\u2044\u2215", "/"),
        "\u03bc": "µ",
        "\u339b": "µm",
        "\u33a1": "m2",
        "\u339c": "mm",
        "\u339d": "cm",
        "\u2103": "°C",
        "\u2109": "°F",
        "\u2113": "L",
        "\uff05": "%",
        "\uff0c": ",",
        "\uff0e": ".",
        **{sign: f" {fraction}" for sign, fraction in _VULGAR},
    }
)
_DASH = "[-\u2010\u2011\u2012\u2013\u2212]"
_INCHES = r"""\d[\d ./\u2044½¼¾⅛⅜⅝⅞]*(?:["\u2033\u201d]| ?in)"""
_INCHES_ON = rf"(?:(?<=['\u2032\u2019])|(?<=ft)){_DASH}(?={_INCHES})"
_RAISED = r"(?<=[A-Za-zµ])\s?([²³])"
_NUMBER = r"\d+[ -]\d+/\d+|\d+/\d+|(?:\d[\d.,]*|[.,]\d[\d.,]*)(?:[eE][+-]?\d+)?"
_ONE = rf"([+-]?)\s*({_NUMBER})\s*(.*)"
_PAIR = rf"({_NUMBER})\s*((?![eE]\d)[^\d\s.,/^+-][^\d/^+-]*)"
_PLAIN = r"(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d+)?"
_DECIMAL_COMMA = r"(\d+),(\d+)(?:[eE][+-]?\d+)?"
_RANGE = r"(?:(?:[^\d\s]+ )?(?:-|(?:to|or|till) )|\.\.)\s*[\d.,]"
_RANGE_WORDS = ("to", "-", "or", "till")
_FRACTION = r"(?:(\d+)[ -])?(\d+)/(\d+)"


def tidied(text: str, kind: Kind) -> str:
    """The text with every look-alike sign replaced by the plain one; refuses what is empty or endless."""
    if len(text) > _LONGEST:
        raise UnitError(f"{quoted(text[:_LONGEST])} is too long for {kind.noun}: {kind.write}")
    plain = inches_joined(text).translate(_SAME)
    if "²" in plain or "³" in plain:
        plain = re.sub(_RAISED, lambda sign: "2" if sign[1] == "²" else "3", plain)
    plain = " ".join("".join(str(int(letter)) if letter.isdecimal() else letter for letter in plain).split())
    if not plain:
        raise UnitError(f"nothing is written where {kind.noun} belongs: {kind.write}")
    return plain


def inches_joined(text: str) -> str:
    """The text with no dash between feet and their inches, as drawings have it: it takes nothing off.

    >>> inches_joined("20'-6\\" x 9ft-3in")
    '20\\' 6" x 9ft 3in'
    """
    return re.sub(_INCHES_ON, " ", text)


def number_and_unit(plain: str, kind: Kind) -> tuple[float, str]:
    """Splits "72F" into 72 and "F"; the unit is empty where none was written."""
    found = re.fullmatch(_ONE, plain)
    if found is None:
        raise UnitError(f"{quoted(plain)} is not {kind.noun}: {kind.write}")
    sign, digits, unit = found.groups()
    if _more_numbers(unit):
        _refuse_second_number(plain, digits, unit, kind)
    value = settled(digits, f" {unit}".rstrip(), kind)
    if sign == "-" and value and not kind.negative:
        raise UnitError(f"{quoted(plain)} is below zero, which {kind.noun} cannot be: {kind.write}")
    return (-value if sign == "-" else value), unit


def pairs(plain: str) -> list[tuple[str, str]]:
    """Splits "1 h 30 min" into ("1", "h") and ("30", "min"); empty unless there are two or more."""
    if not _more_numbers(plain.lstrip("0123456789.,+-")):
        return []
    found = list(re.finditer(_PAIR, plain))
    covered = "".join(pair[0] for pair in found)
    parts = [(pair[1], re.sub(r"(?:,|\band\b|&|\s)+$", "", pair[2])) for pair in found]
    if (
        len(parts) < 2
        or covered != plain
        or any(unit.split()[-1:] == [word] for _, unit in parts for word in _RANGE_WORDS)
    ):
        return []
    return parts


def settled(digits: str, tail: str, kind: Kind) -> float:
    """The number that the digits mean. A comma that could mean two things is refused, and the refusal names both.

    >>> from mixclock.units.spellings import VOLUME
    >>> settled("1,5", " L", VOLUME)
    1.5
    >>> settled("1,500", " L", VOLUME)
    Traceback (most recent call last):
    mixclock.units.errors.UnitError: '1,500 L' can be read as 1.5 L or as 1500 L: write which, without a comma
    """
    if "/" in digits:
        return _fraction(digits, tail)
    point = digits
    if "," in digits:
        comma = re.fullmatch(_DECIMAL_COMMA, digits)
        if comma and not _could_be_thousands(comma[1], comma[2]):
            point = digits.replace(",", ".")
    if not re.fullmatch(_PLAIN, point):
        raise _unclear(digits, tail, kind)
    value = float(point)
    if not math.isfinite(value):
        raise UnitError(f"{quoted(digits + tail)} is beyond any number: {kind.write}")
    return value


def _could_be_thousands(before: str, after: str) -> bool:
    return len(after) == 3 and len(before) <= 3 and not before.startswith("0")


def _fraction(digits: str, tail: str) -> float:
    found = re.fullmatch(_FRACTION, digits)
    whole, top, bottom = (int(part or 0) for part in found.groups()) if found else (0, 0, 0)
    if top >= bottom:
        raise UnitError(f"{quoted(digits + tail)} holds a fraction that is not one: write it like 1 1/2 or 1.5")
    return whole + top / bottom


def _more_numbers(rest: str) -> bool:
    return any(letter.isdigit() for letter in rest)


def _refuse_second_number(plain: str, digits: str, unit: str, kind: Kind) -> None:
    if re.match(_RANGE, unit):
        raise UnitError(f"{quoted(plain)} gives two values where one belongs: {kind.write}")
    if unit[0].isdigit():
        raise _two_numbers(plain, digits, unit)


def _two_numbers(plain: str, digits: str, unit: str) -> UnitError:
    thousands = re.match(r"((?:\d{3} ?)+)(?![\d.,/])\s*(.*)", unit)
    if thousands and re.fullmatch(r"\d{1,3}", digits):
        mended = f"{digits}{thousands[1].replace(' ', '')} {thousands[2]}".strip()
        return UnitError(f"{quoted(plain)} has a gap in its number: write {mended}")
    return UnitError(f"{quoted(plain)} holds two numbers side by side: write one number and its unit")


def _unclear(digits: str, tail: str, kind: Kind) -> UnitError:
    shown = quoted(digits + tail)
    readings = _readings(digits)
    if len(readings) == 1:
        return UnitError(f"{shown} has signs between its thousands: write {readings[0]}{tail}")
    if readings:
        first, second = (f"{reading}{tail}" for reading in readings)
        return UnitError(f"{shown} can be read as {first} or as {second}: write which, without a comma")
    return UnitError(f"{shown} has a stray point or comma in its number: {kind.write}")


def _readings(digits: str) -> list[str]:
    """Every number that a text with commas could mean, the likelier first."""
    if re.fullmatch(r"\d{1,3},\d{3}", digits):
        return [f"{float(digits.replace(',', '.')):g}", digits.replace(",", "")]
    if re.fullmatch(r"\d{1,3}\.\d{3},\d+", digits):
        before, after = digits.split(",")
        return [f"{before.replace('.', '')}.{after}", f"{before}{after}"]
    if re.fullmatch(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?", digits):
        return [digits.replace(",", "")]
    if re.fullmatch(r"\d{1,3}(?:\.\d{3}){2,}(?:,\d+)?", digits):
        return [digits.replace(".", "").replace(",", ".")]
    return []
