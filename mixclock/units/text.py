"""From the letters that were typed to a number and the text of its unit, with every comma settled."""

from __future__ import annotations

import math
import re

from mixclock.units.errors import UnitError, quoted
from mixclock.units.spellings import Kind

LONGEST = 80

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
        "\u2126": "?",
        "\uff05": "%",
        "\uff0c": ",",
        "\uff0e": ".",
        **{sign: f" {fraction}" for sign, fraction in _VULGAR},
    }
)
_RAISED = re.compile(r"(?<=[A-Za-zµ])\s?([²³])")
_NUMBER = r"\d+[ -]\d+/\d+|\d+/\d+|(?:\d[\d.,]*|[.,]\d[\d.,]*)(?:[eE][+-]?\d+)?"
_ONE = re.compile(rf"([+-]?)\s*({_NUMBER})\s*(.*)", re.DOTALL)
_PAIR = re.compile(rf"({_NUMBER})\s*((?![eE]\d)[^\d\s.,/^+-][^\d/^+-]*)")
_PLAIN = re.compile(r"(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d+)?")
_DECIMAL_COMMA = re.compile(r"(\d+),(\d+)(?:[eE][+-]?\d+)?")
_FRACTION = re.compile(r"(?:(\d+)[ -])?(\d+)/(\d+)")


def tidied(text: str, kind: Kind) -> str:
    """The text with every look-alike sign replaced by the plain one; refuses what is empty or endless."""
    plain = _RAISED.sub(lambda sign: "2" if sign[1] == "²" else "3", text.translate(_SAME))
    plain = "".join(str(int(letter)) if letter.isdecimal() else letter for letter in plain).strip()
    if not plain:
        raise UnitError(f"nothing is written where {kind.noun} belongs: {kind.write}")
    if len(plain) > LONGEST:
        raise UnitError(f"{quoted(text)} is too long for {kind.noun}: {kind.write}")
    return " ".join(plain.split())


def number_and_unit(plain: str, kind: Kind) -> tuple[float, str]:
    """Splits "72F" into 72 and "F"; the unit is empty where none was written."""
    found = _ONE.fullmatch(plain)
    if found is None:
        raise UnitError(f"{quoted(plain)} is not {kind.noun}: {kind.write}")
    sign, digits, unit = found.groups()
    if re.match(r"(?:-|to |\.\.)\s*[\d.,]", unit):
        raise UnitError(f"{quoted(plain)} gives two values where one belongs: {kind.write}")
    if re.match(r"[\d]", unit):
        raise _two_numbers(plain, digits, unit)
    value = settled(digits, f" {unit}".rstrip(), kind)
    if sign == "-" and value and not kind.negative:
        raise UnitError(f"{quoted(plain)} is below zero, which {kind.noun} cannot be: {kind.write}")
    return (-value if sign == "-" else value), unit


def pairs(plain: str) -> list[tuple[str, str]]:
    """Splits "1 h 30 min" into ("1", "h") and ("30", "min"); empty unless there are two or more."""
    found = list(_PAIR.finditer(plain))
    covered = "".join(pair[0] for pair in found)
    if len(found) < 2 or covered != plain:
        return []
    return [(pair[1], re.sub(r"(?:,|\band\b|&)*\s*$", "", pair[2].strip()).strip()) for pair in found]


def settled(digits: str, tail: str, kind: Kind) -> float:
    """The number that the digits mean; a comma that could mean two things is refused with both named.

    >>> from mixclock.units.spellings import VOLUME
    >>> settled("1,5", " L", VOLUME)
    1.5
    >>> settled("1,500", " L", VOLUME)
    Traceback (most recent call last):
    mixclock.units.errors.UnitError: '1,500 L' can be read as 1.5 L or as 1500 L: write which, without a comma
    """
    fraction = _FRACTION.fullmatch(digits)
    if fraction:
        return _fraction(fraction, digits + tail)
    comma = _DECIMAL_COMMA.fullmatch(digits)
    if comma and not _could_be_thousands(comma[1], comma[2]):
        digits = digits.replace(",", ".")
    if not _PLAIN.fullmatch(digits):
        raise _unclear(digits, tail, kind)
    value = float(digits)
    if not math.isfinite(value):
        raise UnitError(f"{quoted(digits + tail)} is beyond any number: {kind.write}")
    return value


def _could_be_thousands(before: str, after: str) -> bool:
    return len(after) == 3 and len(before) <= 3 and not before.startswith("0")


def _fraction(found: re.Match[str], shown: str) -> float:
    whole, top, bottom = int(found[1] or 0), int(found[2]), int(found[3])
    if bottom == 0 or top >= bottom:
        raise UnitError(f"{quoted(shown)} holds a fraction that is not one: write it like 1 1/2 or 1.5")
    return whole + top / bottom


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
    return UnitError(f"{shown} does not start with a number: {kind.write}")


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
