"""Why an edge falls where it does, and what had to be assumed, in short phrases."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from functools import lru_cache

from mixclock.decide.clocks import NOTHING_LEARNED, EdgeClock, LearnedFactor, clock_of
from mixclock.decide.slabdoubt import MEAN_DOUBT_K, STALE_AFTER, STALE_DOUBT_K, STALE_FOR_S
from mixclock.decide.weather import Course, Weather
from mixclock.formulas.history import History
from mixclock.formulas.rate_law import outside_sheet
from mixclock.job.profile import Family, SheetSpan
from mixclock.units import CrewUnits
from mixclock.values import dataclass


@dataclass(frozen=True)
class EdgeStory:
    """What the words about one edge rest on."""

    window: str
    span: SheetSpan
    family: Family
    clock: EdgeClock
    weather: Weather
    start_s: float
    likely_s: float


def edge_words(told: EdgeStory, units: CrewUnits) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The reasons and the assumptions of one edge."""
    because = [f"sheet: {sheet_words(told.span, units)}"]
    if not told.clock.depends:
        return tuple(because), ("the sheet gives no temperature: it stands still at any",)
    low_c, high_c = _extent(told.weather.slab.likely, told.start_s, told.likely_s)
    because.append(_temperature_words(told.weather, low_c, high_c, units))
    if told.clock.learned.observations:
        because.append(learned_words(told.clock.learned))
    if told.clock.learned.lot_factor != 1.0:
        because.append(f"a cup of its lot: {share_words(told.clock.learned.lot_factor)}")
    if told.clock.damp is not None:
        because.append("moisture in the air drives it")
    return tuple(because), (*_clock_doubts(told.clock, units), *_weather_doubts(told, low_c, high_c, units))


@lru_cache(maxsize=256)
def sheet_words(span: SheetSpan, units: CrewUnits) -> str:
    """The sheet's own figures, as a person would quote them."""
    said = []
    for point in span.points:
        at = "" if point.temp_c is None else f" at {units.write_temp(point.temp_c)}"
        damp = "" if point.rh_pct is None else f" and {point.rh_pct:.0f} %"
        said.append(f"{units.write_span(point.span_s)}{at}{damp}")
    return ", ".join(said)


def learned_words(learned: LearnedFactor) -> str:
    """What observations changed in a clock, in words."""
    times = "once" if learned.observations == 1 else f"{learned.observations} times"
    return f"seen {times} on the floor: {share_words(learned.factor / learned.lot_factor)}"


def share_words(factor: float) -> str:
    """How far a clock runs from its sheet's, in words.

    >>> share_words(0.76), share_words(1.1)
    ('24 % faster than the sheet', '10 % slower than the sheet')
    """
    return f"{abs(factor - 1.0) * 100.0:.0f} % {'slower' if factor > 1.0 else 'faster'} than the sheet"


def _temperature_words(weather: Weather, low_c: float, high_c: float, units: CrewUnits) -> str:
    low, high = units.write_temp(low_c), units.write_temp(high_c)
    return f"{'air' if weather.slab_source == 'air' else 'slab'} at {low if low == high else f'{low} to {high}'}"


def _clock_doubts(clock: EdgeClock, units: CrewUnits) -> list[str]:
    doubts = []
    if clock.undated:
        taken = units.write_temp(clock.stated_c[0])
        doubts.append(f"the sheet gives no temperature: taken at {taken}, to be safe; ask for it")
    if clock.damp is not None and clock.damp.low != clock.damp.high:
        doubts.append("the sheet gives one humidity: half the power of moisture assumed, none to full in the band")
    if clock.one_point:
        doubts.append("one point on the sheet: how temperature moves it is assumed for the family")
    return doubts


def _weather_doubts(told: EdgeStory, low_c: float, high_c: float, units: CrewUnits) -> list[str]:
    doubts = []
    as_printed = told.clock
    if as_printed.learned != NOTHING_LEARNED:
        as_printed = clock_of(told.window, told.span, told.family, NOTHING_LEARNED, told.clock.closing)
    law = as_printed.free
    if outside_sheet(law, low_c) or outside_sheet(law, high_c):
        doubts.append("outside the data sheet's temperatures")
    parting = max(told.clock.parting(temp_c) for temp_c in (low_c, high_c))
    if parting >= 0.01:
        doubts.append(f"away from the sheet's temperatures: its law may be {parting * 100:.0f} % off there")
    slab = told.weather.slab
    doubts.extend(slab.assumed)
    held_from_s = slab.last_reading.timestamp() + STALE_AFTER.total_seconds() if slab.last_reading else math.inf
    if not slab.assumed and told.likely_s > held_from_s:
        days = told.clock.limit and told.likely_s - told.start_s > STALE_FOR_S
        less = f", over days ±{units.write_margin(MEAN_DOUBT_K)}" if days else ""
        doubts.append(f"no slab reading for over 2 h by then: ±{units.write_difference(STALE_DOUBT_K)}{less}")
    doubts.extend(_course_doubts(told, slab, units))
    return doubts


def _course_doubts(told: EdgeStory, slab: Course, units: CrewUnits) -> Iterator[str]:
    """The doubts that sun, night and the manner of reading add, if they move this edge."""
    doubt, clock = slab.doubt, told.clock
    if doubt is None:
        return
    if clock.limit and doubt.spot_k and slab.last_reading is not None and not slab.assumed:
        spot = units.write_difference(doubt.spot_k)
        yield f"one slab reading stands for the place: ±{spot}; read it there, with --how contact"
    if clock.closing and _within(doubt.rise, told):
        yield "read in the morning: the sun may warm the slab since"
    if clock.limit and not clock.closing and _within(doubt.fall, told):
        yield "an unheated or unknown place may cool in the night"


def _within(moved: History | None, told: EdgeStory) -> bool:
    return moved is not None and moved.times_s[0] < told.likely_s and moved.times_s[-1] > told.start_s


def _extent(history: History, start_s: float, end_s: float) -> tuple[float, float]:
    """The lowest and the highest of a history between two instants."""
    from_s = history.known_from_s
    if start_s < from_s and history.past is not None:
        whole, until_s = history.past, min(end_s, from_s)
        before = whole.notes.told(
            f"{whole.label}[{start_s!r},{until_s!r}]", lambda: _extent(whole.whole, start_s, until_s)
        )
        after = _extent(history, from_s, end_s) if end_s > from_s else before
        return min(before[0], after[0]), max(before[1], after[1])
    first, last = bisect_right(history.times_s, start_s), bisect_left(history.times_s, end_s)
    values = [history.at(start_s), history.at(end_s), *history.values[first:last]]
    return min(values), max(values)
