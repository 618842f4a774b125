"""Why an edge falls where it does, and what had to be assumed, in short phrases."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from functools import lru_cache

from mixclock.decide.clocks import NOTHING_LEARNED, Clock, Learned, clock_of
from mixclock.decide.weather import STALE_AFTER, Weather
from mixclock.formulas.history import History
from mixclock.formulas.rate_law import outside_sheet
from mixclock.job.profile import Family, SheetSpan
from mixclock.units import CrewUnits


@dataclass(frozen=True)
class EdgeTold:
    """What the words about one edge rest on."""

    window: str
    span: SheetSpan
    family: Family
    clock: Clock
    weather: Weather
    start_s: float
    likely_s: float


def edge_words(told: EdgeTold, units: CrewUnits) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The reasons and the assumptions of one edge."""
    because = [f"sheet: {sheet_words(told.span, units)}"]
    if not told.clock.depends:
        return tuple(because), ("the sheet gives no temperature: the same at any",)
    low_c, high_c = _extent(told.weather.slab.likely, told.start_s, told.likely_s)
    because.append(_temperature_words(told.weather, low_c, high_c, units))
    if told.clock.learned.observations:
        because.append(learned_words(told.clock.learned))
    if told.clock.damp is not None:
        because.append("moisture in the air drives it")
    return tuple(because), (*_clock_doubts(told.clock), *_weather_doubts(told, low_c, high_c))


@lru_cache(maxsize=256)
def sheet_words(span: SheetSpan, units: CrewUnits) -> str:
    """The sheet's own figures, as a person would quote them."""
    said = []
    for point in span.points:
        at = "" if point.temp_c is None else f" at {units.write_temp(point.temp_c)}"
        damp = "" if point.rh_pct is None else f" and {point.rh_pct:.0f} %"
        said.append(f"{units.write_span(point.span_s)}{at}{damp}")
    return ", ".join(said)


def learned_words(learned: Learned) -> str:
    """What observations did to a clock."""
    share = abs(learned.factor - 1.0) * 100.0
    sense = "slower" if learned.factor > 1.0 else "faster"
    times = "once" if learned.observations == 1 else f"{learned.observations} times"
    return f"seen {times} on the floor: {share:.0f} % {sense} than the sheet"


def _temperature_words(weather: Weather, low_c: float, high_c: float, units: CrewUnits) -> str:
    low, high = units.write_temp(low_c), units.write_temp(high_c)
    return f"{'air' if weather.slab_source == 'air' else 'slab'} at {low if low == high else f'{low} to {high}'}"


def _clock_doubts(clock: Clock) -> list[str]:
    doubts = []
    if clock.damp is not None and clock.damp.low != clock.damp.high:
        doubts.append("the sheet gives one humidity: half the power of moisture assumed, none to full in the band")
    if clock.one_point:
        doubts.append("one point on the sheet: how temperature moves it is assumed for the family")
    if clock.hardness and not clock.learned.observations:
        doubts.append("hardness is uncertain by a factor of 1.6 either way")
    return doubts


def _weather_doubts(told: EdgeTold, low_c: float, high_c: float) -> list[str]:
    doubts = []
    law = clock_of(told.window, told.span, told.family, NOTHING_LEARNED).likely
    if outside_sheet(law, low_c) or outside_sheet(law, high_c):
        doubts.append("outside the data sheet's temperatures")
    slab = told.weather.slab
    doubts.extend(slab.assumed)
    held_from_s = slab.last_reading.timestamp() + STALE_AFTER.total_seconds() if slab.last_reading else math.inf
    if not slab.assumed and told.likely_s > held_from_s:
        doubts.append("no slab reading for over 2 h by then: ±3 °C")
    return doubts


def _extent(history: History, start_s: float, end_s: float) -> tuple[float, float]:
    first, last = bisect_right(history.times_s, start_s), bisect_left(history.times_s, end_s)
    values = [history.at(start_s), history.at(end_s), *history.values[first:last]]
    return min(values), max(values)
