"""Reads spans of time and times of day as people type them."""

from __future__ import annotations

import re
from datetime import date, datetime, time

from mixclock.units import spellings as kinds
from mixclock.units.converting import read
from mixclock.units.errors import UnitError, quoted
from mixclock.units.text import tidied
from mixclock.values import dataclass

_COLONS = r"(?i)(\d{1,3}):(\d\d)(?::(\d\d))?(?:\s*(h|hrs?|hours?|min|mins|minutes?))?"
_HOURS_AND = r"(?i)(\d{1,2})\s?h\s?([0-5]\d)"
_CLOCK = (
    r"(?i)"
    r"(?:(\d{4})-(\d\d?)-(\d\d?)(?:\s+|[tT]))?"
    r"(?:(\d{1,2})[:hH](\d\d)(?::(\d\d)(?:\.(\d{1,6}))?)?|(\d{1,2})(?=\s*[ap]\.?m))"
    r"\s*([ap]\.?m\.?)?\s*(?:(z)|([+-])(\d\d):?(\d\d))?"
)
_WRITE_TIME = "write 9:42 or 2026-04-13 08:00"


Day = date


@dataclass(frozen=True)
class TypedTime:
    """A time of day as somebody typed it. Its reader knows the zone, and the day if none was typed."""

    date: date | None
    hour: int
    minute: int
    second: int = 0
    microsecond: int = 0
    utc_offset_s: int | None = None

    def on(self, day: Day) -> datetime:
        """That hour of a day, in a given zone."""
        return datetime.combine(day, time(self.hour, self.minute, self.second, self.microsecond))


def span_s(text: str, *, bare: str | None = None) -> float:
    """A span of time in seconds.

    >>> span_s("1 h 30 min"), span_s("90s"), span_s("2 d"), span_s("1:30:00")
    (5400.0, 90.0, 172800.0, 5400.0)
    >>> span_s("1:30")
    Traceback (most recent call last):
    mixclock.units.errors.UnitError: '1:30' can be read as 1 h 30 min or as 1 min 30 s: write the one that is meant
    """
    plain = tidied(text, kinds.SPAN)
    if ":" in plain and (colons := re.fullmatch(_COLONS, plain)):
        return _with_colons(colons, plain)
    if plain[-1].isdigit() and (hours_and := re.fullmatch(_HOURS_AND, plain)):
        return int(hours_and[1]) * 3600.0 + int(hours_and[2]) * 60.0
    return read(text, kinds.SPAN, bare)


def _with_colons(found: re.Match[str], plain: str) -> float:
    first, second, third, unit = int(found[1]), int(found[2]), found[3], (found[4] or "").lower()
    if second > 59 or int(third or 0) > 59:
        raise UnitError(f"{quoted(plain)} has more than 59 behind a colon: {kinds.SPAN.write}")
    if third is not None:
        return first * 3600.0 + second * 60.0 + int(third)
    if not unit:
        readings = f"{first} h {second} min or as {first} min {second} s"
        raise UnitError(f"{quoted(plain)} can be read as {readings}: write the one that is meant")
    return (first * 60.0 + second) * (60.0 if unit.startswith("h") else 1.0)


def clock_time(text: str) -> TypedTime:
    """A time of day, with or without its date; the zone is the caller's.

    >>> clock_time("9:42")
    TypedTime(date=None, hour=9, minute=42, second=0, microsecond=0, utc_offset_s=None)
    >>> clock_time("2026-04-13 08:00").date
    datetime.date(2026, 4, 13)
    >>> clock_time("2:05 pm").hour
    14
    """
    plain = _plain_time(text)
    found = re.fullmatch(_CLOCK, plain)
    if found is None:
        raise UnitError(f"{quoted(text)} is no time of day: {_mended_time(plain)}")
    hour, minute, second = int(found[4] or found[8]), int(found[5] or 0), int(found[6] or 0)
    half = (found[9] or "")[:1].lower()
    if minute > 59 or second > 59 or hour > 23 or (half and not 1 <= hour <= 12):
        raise UnitError(f"{quoted(text)} is not on the clock, which runs from 0:00 to 23:59: {_WRITE_TIME}")
    hour = hour % 12 + (12 if half == "p" else 0) if half else hour
    micro = int((found[7] or "").ljust(6, "0"))
    return TypedTime(_date(found, text), hour, minute, second, micro, _offset_s(found, text))


def _plain_time(text: str) -> str:
    try:
        return tidied(text, kinds.SPAN)
    except UnitError:
        raise UnitError(f"no time of day can be read from {quoted(text)}: {_WRITE_TIME}") from None


def _mended_time(plain: str) -> str:
    undivided = re.fullmatch(r"(\d{1,2})[.,]?([0-5]\d)?", plain)
    if undivided and int(undivided[1]) < 24:
        return f"write {undivided[1]}:{undivided[2] or '00'} for that time"
    return _WRITE_TIME


def _date(found: re.Match[str], text: str) -> date | None:
    if found[1] is None:
        return None
    try:
        return date(int(found[1]), int(found[2]), int(found[3]))
    except ValueError:
        raise UnitError(f"{quoted(text)} is on a day that is not in the calendar: {_WRITE_TIME}") from None


def _offset_s(found: re.Match[str], text: str) -> int | None:
    if found[10]:
        return 0
    if found[11] is None:
        return None
    hours, minutes = int(found[12]), int(found[13])
    if hours > 14 or minutes > 59:
        raise UnitError(f"{quoted(text)} is further from UTC than any zone: leave the offset out, or write Z for UTC")
    return (hours * 3600 + minutes * 60) * (-1 if found[11] == "-" else 1)
