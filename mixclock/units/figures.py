"""Numbers as a person reads them: decimal places or significant figures, never in powers of ten."""

from __future__ import annotations

import math


def rounded(value: float, places: int = 0) -> str:
    """Decimal places without trailing noughts and without a minus before nought.

    >>> rounded(6.04, 1), rounded(-0.2), rounded(1200.0)
    ('6', '0', '1200')
    """
    text = f"{value:.{places}f}"
    if places:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def significant(value: float, figures: int) -> str:
    """Significant figures, never in powers of ten.

    >>> significant(157.0, 2), significant(0.0823, 2), significant(0.0, 2)
    ('160', '0.082', '0')
    """
    if value == 0:
        return "0"
    places = figures - 1 - math.floor(math.log10(abs(value)))
    return rounded(round(value, places), max(places, 0))


def in_figures(value: float, figures: int) -> str:
    """A volume as it is spoken of (two figures: from 1 on to a tenth) or as it is measured out (three).

    >>> in_figures(12.34, 2), in_figures(0.1234, 2), in_figures(12.34, 3)
    ('12.3', '0.12', '12.3')
    """
    if abs(value) < 1.0 or figures > 2:
        return significant(value, figures)
    return rounded(value, 1 if abs(value) < 100.0 else 0)


def past(value: float, limit: float) -> str:
    """A number that is past a limit, to 1; to a tenth where it would else be written like the limit.

    >>> past(85.3, 85.0), past(9.98, 10.0), past(88.2, 85.0)
    ('85.3', '9.9', '88')
    """
    if rounded(value) != rounded(limit) or value == limit:
        return rounded(value)
    away = math.ceil if value > limit else math.floor
    return rounded(away(round(value * 10, 6)) / 10, 1)


def tenth_below(value: float) -> str:
    """A number to a tenth, rounded down.

    >>> tenth_below(2.99)
    '2.9'
    """
    return f"{math.floor(round(value * 10, 6)) / 10:.1f}"
