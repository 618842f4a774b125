"""Recoat by the row of the hottest hour, against a log that is looked at every minute."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.decide.edges import FoundEdge, edge_of, ripeness_at
from mixclock.decide.hottesthour import hottest_hour_edge
from mixclock.decide.weather import Course, Weather, steady
from mixclock.formulas.cure import time_of_ripeness
from mixclock.formulas.history import History, hottest_sustained_c
from mixclock.job.profilereading import read_profile
from mixclock.units import METRIC_CREW, US_CREW
from tests.examples import examples

START = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
ROWS = ((20.0, 10.0), (26.0, 6.0), (32.0, 3.0), (38.0, 1.5))
TEXT = """
name = "Row polyurethane"
family = "polyurethane"
source = "invented"
[mix]
ratio_by_volume = [1, 1]
[windows.recoat]
after = "poured"
closes = { "20 °C" = "10 h", "26 °C" = "6 h", "32 °C" = "3 h", "38 °C" = "90 min" }
rule = "hottest hour"
"""
PROFILE = read_profile(TEXT)

days = st.lists(st.tuples(st.floats(0.2, 3.0), st.floats(16.0, 37.5)), min_size=1, max_size=7)


def day(readings: list[tuple[float, float]], doubt_k: float = 0.0) -> Weather:
    """A slab that was read so many hours apart, as warm as it was read."""
    times, at_s = [], START.timestamp()
    for apart_h, _ in readings:
        times.append(at_s)
        at_s += 3600.0 * apart_h
    likely = History(tuple(times), tuple(slab_c for _, slab_c in readings))
    low, high = (History(likely.times_s, tuple(c + off for c in likely.values)) for off in (-doubt_k, doubt_k))
    return Weather(Course(likely, low, high), steady(20.0).air, steady(20.0).humidity)


def edges(conditions: Weather) -> tuple[FoundEdge, FoundEdge]:
    """The edge by the record integrated, and by the hottest hour."""
    rule = PROFILE.window("recoat")
    assert rule is not None
    assert rule.closes is not None
    assert rule.hottest_hour
    found = edge_of("recoat", rule.closes, PROFILE, conditions, START, closing=True)
    return found, hottest_hour_edge(found, conditions, METRIC_CREW)


def minute_by_minute_h(conditions: Weather) -> float:
    """The first minute at which the time of the row of the hottest hour until then is past."""
    start_s = START.timestamp()
    for minute in range(1, 11 * 60):
        hottest_c = hottest_sustained_c(conditions.slab.likely, start_s, start_s + 60.0 * minute)
        row_h = next(hours for row_c, hours in ROWS if hottest_c is None or hottest_c <= row_c + 0.01)
        if minute >= 60.0 * row_h:
            return minute / 60.0
    raise AssertionError("no row closes")


def record_h(found: FoundEdge, conditions: Weather) -> float:
    """When the record integrated closes it, by the sheet's own law: the rows hold the cold, not the law."""
    closes_s = time_of_ripeness(found.clock.free, conditions.slab.likely, START.timestamp())
    return (closes_s - START.timestamp()) / 3600.0


@examples(60, deadline=None)
@given(readings=days)
def test_a_window_closes_when_a_log_looked_at_every_minute_would_close_it(readings: list[tuple[float, float]]) -> None:
    integrated, by_row = edges(day(readings))
    closes_h = (by_row.edge.likely - START).total_seconds() / 3600.0
    expected_h = min(minute_by_minute_h(day(readings)), record_h(integrated, day(readings)))
    assert closes_h == pytest.approx(expected_h, abs=2.1 / 60.0)


@examples(40, deadline=None)
@given(readings=days, doubt_k=st.floats(0.0, 3.0))
def test_the_row_never_gains_time_over_the_record_integrated(
    readings: list[tuple[float, float]], doubt_k: float
) -> None:
    integrated, by_row = edges(day(readings, doubt_k))
    assert by_row.edge.early <= integrated.edge.early
    assert (by_row.edge.likely - START).total_seconds() / 3600.0 <= record_h(integrated, day(readings)) + 1e-6
    assert by_row.edge.late is not None
    assert integrated.edge.late is not None
    assert by_row.edge.late <= integrated.edge.late


def test_a_window_that_its_row_closes_is_fully_ripe_by_then() -> None:
    conditions = day([(2.0, 18.0), (1.5, 30.0), (0.5, 30.0), (1.0, 18.0)])
    integrated, by_row = edges(conditions)
    assert by_row.edge.likely < integrated.edge.likely
    assert ripeness_at(by_row, conditions, by_row.edge.likely) == pytest.approx(1.0, abs=1e-6)
    assert ripeness_at(by_row, conditions, START + timedelta(minutes=1)) < 0.02
    assert by_row.because[-1] == "hottest hour 30 °C: the sheet's row for it"


def test_doubt_about_the_slab_closes_the_window_by_the_warmer_row() -> None:
    sure, unsure = edges(day([(1.0, 25.0)]))[1], edges(day([(1.0, 25.0)], 2.0))[1]
    assert unsure.edge.early < sure.edge.early
    assert unsure.edge.likely == sure.edge.likely


def test_an_hour_over_the_last_row_goes_by_the_sheets_own_slope() -> None:
    _, by_row = edges(day([(1.0, 42.0)]))
    closes_h = (by_row.edge.likely - START).total_seconds() / 3600.0
    assert 1.0 < closes_h < 1.5


def test_a_crew_in_fahrenheit_reads_the_hottest_hour_in_its_degrees() -> None:
    conditions = day([(2.0, 18.0), (1.5, 30.0), (0.5, 30.0), (1.0, 18.0)])
    found = edges(conditions)[0]
    assert "86 °F" in hottest_hour_edge(found, conditions, US_CREW).because[-1]
