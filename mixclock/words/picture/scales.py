"""Axes of the pictures: temperature, mass and time, in the units of the crew."""

from __future__ import annotations

import math
from collections.abc import Sequence

from mixclock.units import CrewUnits
from mixclock.values import dataclass
from mixclock.words.picture.drawing import Drawing

MINUTE_S, HOUR_S, DAY_S = 60.0, 3600.0, 86400.0
ROUND_SPANS_S = (
    *(MINUTE_S * count for count in (1, 2, 3, 5, 7, 10, 15, 20, 30, 45)),
    *(HOUR_S * count for count in (1, 1.5, 2, 3, 4, 6, 8, 12, 16, 24, 36)),
    *(DAY_S * count for count in (2, 3, 4, 5, 7, 10, 14, 21, 30, 45, 60, 90, 120, 180, 360)),
)
MOST_MARKS = 6


@dataclass(frozen=True)
class Axis:
    """From one value to another along a stretch of the paper, evenly or by ratios."""

    low: float
    high: float
    start: float
    end: float
    ratios: bool = False

    def at(self, value: float) -> float:
        """Where a value lies; one outside the scale lies at its end."""
        low, high, value = (math.log(each) if self.ratios else each for each in (self.low, self.high, value))
        share = (value - low) / (high - low)
        return self.start + min(1.0, max(0.0, share)) * (self.end - self.start)


@dataclass(frozen=True)
class Mark:
    """A value with its words on an axis."""

    value: float
    said: str


@dataclass(frozen=True)
class Panel:
    """One frame with its two axes and what is marked on them."""

    across: Axis
    up: Axis
    across_marks: Sequence[Mark]
    up_marks: Sequence[Mark]

    def point(self, across: float, up: float) -> tuple[float, float]:
        """Where two values meet."""
        return self.across.at(across), self.up.at(up)

    def draw(self, drawing: Drawing) -> None:
        """The grid with its words, the frame on top."""
        left, right, bottom, top = self.across.start, self.across.end, self.up.start, self.up.end
        for mark in self.up_marks:
            y = self.up.at(mark.value)
            drawing.line((left, y), (right, y), "grid")
            drawing.text((left - 5, y + 4), mark.said, "scale")
        for mark in self.across_marks:
            x = self.across.at(mark.value)
            drawing.line((x, bottom), (x, bottom + 4), "frame")
            drawing.text((x, bottom + 16), mark.said, "tick")
        drawing.box(left, top, right - left, bottom - top, "frame")


def span_axis(spans_s: Sequence[float], bottom: float, top: float) -> tuple[Axis, list[Mark]]:
    """Time going up by ratios, over all spans, with round times marked."""
    low, high = 0.85 * min(spans_s), 1.15 * max(spans_s)
    inside = [span_s for span_s in ROUND_SPANS_S if low <= span_s <= high]
    every = max(1, math.ceil(len(inside) / MOST_MARKS))
    return Axis(low, high, bottom, top, ratios=True), [Mark(span_s, span_said(span_s)) for span_s in inside[::every]]


def span_said(span_s: float) -> str:
    """A round span, short.

    >>> span_said(900.0), span_said(5400.0), span_said(129600.0), span_said(604800.0)
    ('15 min', '1.5 h', '36 h', '7 d')
    """
    if span_s < HOUR_S:
        return f"{span_s / MINUTE_S:g} min"
    return f"{span_s / HOUR_S:g} h" if span_s < 2 * DAY_S else f"{span_s / DAY_S:g} d"


def temperature_axis(
    low_c: float, high_c: float, left: float, right: float, units: CrewUnits
) -> tuple[Axis, list[Mark]]:
    """Temperature going across, in the crew's degrees."""
    scale, step = units.scale("c"), 20.0 if units.is_us else 10.0
    first, last = math.ceil(scale.shown(low_c) / step - 1e-9), math.floor(scale.shown(high_c) / step + 1e-9)
    rounds = [scale.back(index * step) for index in range(first, last + 1)]
    return Axis(low_c, high_c, left, right), [Mark(temp_c, units.write_temp(temp_c)) for temp_c in rounds]


def mass_axis(low_kg: float, high_kg: float, left: float, right: float, units: CrewUnits) -> tuple[Axis, list[Mark]]:
    """Mass going across by ratios, in the crew's weights."""
    rounds = (0.25, 1.0, 5.0, 20.0) if units.is_us else (0.1, 0.5, 2.0, 10.0)
    inside = [mass for mass in map(units.scale("kg").back, rounds) if low_kg <= mass <= high_kg]
    return Axis(low_kg, high_kg, left, right, ratios=True), [Mark(mass, units.write_mass(mass)) for mass in inside]
