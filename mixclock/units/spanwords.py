"""Spans of time in words, on a screen ("1 h 30 min") and in speech ("one hour and thirty minutes")."""

from __future__ import annotations

import math

_MINUTE, _HOUR, _DAY = 60, 3600, 86_400
# up to which span a person rounds to what: judgement
_STEPS = ((2 * _HOUR, _MINUTE), (10 * _HOUR, 5 * _MINUTE), (2 * _DAY, 30 * _MINUTE), (7 * _DAY, _HOUR))
_NARROW_STEPS = ((2 * _HOUR, _MINUTE), (10 * _HOUR, 5 * _MINUTE), (2 * _DAY, _HOUR), (10 * _DAY, _DAY // 10))
_ONES = (
    *("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"),
    *("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")


def write_span(s: float) -> str:
    """A span of time, to the nearest that a person would say.

    >>> write_span(720), write_span(5400), write_span(172800), write_span(40)
    ('12 min', '1 h 30 min', '2 days', 'under a minute')
    """
    return _written(_parts(_rounded_s(s, down=False)))


def write_remaining(s: float) -> str:
    """What is left of a span, never rounded up: nobody may believe to have longer than they have.

    >>> write_remaining(179.9), write_remaining(172790)
    ('2 min', '47 h 30 min')
    """
    return _written(_parts(_rounded_s(s, down=True)))


def write_narrow_span(s: float, *, up: bool) -> str:
    """A span of time in at most six letters, for a table: `up` for what opens, else never longer than it is.

    >>> [write_narrow_span(s, up=False) for s in (700, 6_280, 170_000, 210_000, 3_000_000)]
    ['11 min', '1 h 44', '47 h', '2.4 d', '34 d']
    >>> [write_narrow_span(s, up=True) for s in (700, 6_280, 170_000, 210_000, 3_000_000)]
    ['12 min', '1 h 45', '2 d', '2.5 d', '35 d']
    """
    if not math.isfinite(s) or s < 0:
        raise ValueError(f"a span of time is zero or more seconds, not {s}")
    step = next((step for limit, step in _NARROW_STEPS if s < limit), _DAY)
    rounded = (math.ceil if up else math.floor)(round(s / step, 6)) * step
    if rounded < _HOUR:
        return f"{rounded // _MINUTE} min"
    if rounded < 2 * _DAY:
        minutes = rounded % _HOUR // _MINUTE
        return f"{rounded // _HOUR} h {minutes:02}" if minutes else f"{rounded // _HOUR} h"
    return f"{rounded / _DAY:.1f}".removesuffix(".0") + " d"


def say_remaining(s: float) -> str:
    """What is left of a span as it is spoken, never rounded up.

    >>> say_remaining(119), say_remaining(30)
    ('one minute', 'less than a minute')
    """
    return _spoken(_parts(_rounded_s(s, down=True)))


def _rounded_s(s: float, *, down: bool) -> int:
    if not math.isfinite(s) or s < 0:
        raise ValueError(f"a span of time is zero or more seconds, not {s}")
    if s < _MINUTE:
        return 0
    step = next((step for limit, step in _STEPS if s < limit), _DAY)
    return math.floor(s / step if down else s / step + 0.5) * step


def _parts(s: int) -> tuple[int, int, int]:
    """Days, hours and minutes; up to two days all of it is in hours."""
    days = s // _DAY if s >= 2 * _DAY else 0
    rest = s - days * _DAY
    return days, rest // _HOUR, rest % _HOUR // _MINUTE


def _written(parts: tuple[int, int, int]) -> str:
    days, hours, minutes = parts
    shown = [f"{count} {unit}" for count, unit in ((days, "days"), (hours, "h"), (minutes, "min")) if count]
    return " ".join(shown) or "under a minute"


def _spoken(parts: tuple[int, int, int]) -> str:
    said = [
        f"{number_word(count)} {unit}{'' if count == 1 else 's'}"
        for count, unit in zip(parts, ("day", "hour", "minute"), strict=True)
        if count
    ]
    return " and ".join(said) or "less than a minute"


def number_word(count: int) -> str:
    """A count in words up to 99.

    >>> number_word(2), number_word(45), number_word(120)
    ('two', 'forty-five', '120')
    """
    if count < len(_ONES):
        return _ONES[count]
    if count > 99:
        return str(count)
    tens, ones = divmod(count, 10)
    return _TENS[tens] + (f"-{_ONES[ones]}" if ones else "")
