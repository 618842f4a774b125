"""Recoat by the row of the hottest hour: one row of the sheet's table closes the window, not the clock over all
readings.

The rule is that of UFGS 09971 (federal recoat table): the row is that of the highest surface temperature that was
sustained for an hour or more between the coats. A stated temperature is the hottest of its row, so a surface between
two of them takes the warmer row. A surface colder than every row takes the coldest row. One hotter than every row
follows the sheet's own law.
"""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import pairwise

from mixclock.decide.clocks import SAME_TEMPERATURE_K
from mixclock.decide.edges import FAR_S, FoundEdge
from mixclock.decide.shapes import Edge
from mixclock.decide.weather import Weather
from mixclock.formulas.cure import time_of_ripeness
from mixclock.formulas.history import History, hottest_sustained_c
from mixclock.formulas.rate_law import RateLaw, tau_s
from mixclock.units import CrewUnits
from mixclock.values import replace

SUSTAINED_S = 3600.0


def hottest_hour_edge(found: FoundEdge, weather: Weather, units: CrewUnits) -> FoundEdge:
    """The closing edge by the hottest hour's row, if that is sooner. Early takes the warmer history, late the colder.

    A row counts from the end of its hour. A window may still be open when a hot hour ends whose row has already run
    out; it closes at that moment.
    """
    clock, start_s = found.clock, found.started.timestamp()
    rows_c = list(clock.stated_c)
    if not rows_c:
        return found
    colder, warmer = weather.slab.for_limits(start_s)
    early_s = _closes_s(clock.fast, rows_c, warmer, start_s)
    likely_s = _closes_s(clock.likely, rows_c, weather.slab.likely, start_s)
    late_s = _closes_s(clock.slow, rows_c, colder, start_s)
    # the coldest row already limits a cold record, so the law is not held level there a second time
    free_s = time_of_ripeness(clock.free, weather.slab.likely, start_s, start_ripeness=found.start_ripeness)
    by_record = max(found.edge.likely, _instant(min(free_s, start_s + FAR_S)))
    likely = min(by_record, _instant(likely_s))
    early = min(found.edge.early, _instant(early_s), likely)
    late = max(likely, min(found.edge.late or likely, _instant(late_s)))
    if (early, likely, late) == (found.edge.early, found.edge.likely, found.edge.late):
        return found
    closes_at = likely if likely < by_record else None
    hottest_c = hottest_sustained_c(weather.slab.likely, start_s, likely.timestamp(), SUSTAINED_S)
    said = f"hottest hour {units.write_temp(hottest_c)}: the sheet's row for it" if hottest_c is not None else ""
    because = (*found.because, said) if said else found.because
    return replace(found, edge=Edge(early, likely, late), closes_at=closes_at, because=because)


def _closes_s(law: RateLaw, rows_c: list[float], history: History, start_s: float) -> float:
    """When the window closes by its rows: the first instant after the time of the row that holds by then."""
    closes_s = start_s + tau_s(law, rows_c[0])
    for cooler_c, row_c in pairwise(rows_c):
        entered_s = _hour_over_s(history, cooler_c + SAME_TEMPERATURE_K, start_s, closes_s)
        if entered_s is None:
            return closes_s
        closes_s = min(closes_s, max(entered_s, start_s + tau_s(law, row_c)))
    entered_s = _hour_over_s(history, rows_c[-1] + SAME_TEMPERATURE_K, start_s, closes_s)
    hottest_c = hottest_sustained_c(history, start_s, closes_s, SUSTAINED_S)
    if entered_s is None or hottest_c is None:
        return closes_s
    return min(closes_s, max(entered_s, start_s + tau_s(law, hottest_c)))


def _hour_over_s(history: History, level_c: float, start_s: float, end_s: float) -> float | None:
    """When the first whole hour over a level ends, within a span; None if there is none."""
    history = history.back_to(start_s)
    knots = [start_s, *(at_s for at_s in history.times_s if start_s < at_s < end_s), end_s]
    since_s: float | None = None
    for begin_s, stop_s in pairwise(knots):
        first_c, last_c = history.after(begin_s), history.before(stop_s)
        crossing_s = begin_s + (stop_s - begin_s) * _share(level_c, first_c, last_c)
        if first_c > level_c:
            since_s = begin_s if since_s is None else since_s
        else:
            since_s = crossing_s if last_c > level_c else None
        over_until_s = stop_s if last_c > level_c else crossing_s
        if since_s is not None and over_until_s - since_s >= SUSTAINED_S:
            return since_s + SUSTAINED_S
        if last_c <= level_c:
            since_s = None
    return None


def _share(level_c: float, first_c: float, last_c: float) -> float:
    """How far along a stretch the temperature crosses a level, if it does."""
    return 0.0 if first_c == last_c else min(1.0, max(0.0, (level_c - first_c) / (last_c - first_c)))


def _instant(at_s: float) -> datetime:
    return datetime.fromtimestamp(int(at_s * 1e3) / 1e3, UTC)
