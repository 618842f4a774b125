"""A forecast that was taken by mistake is expected no more; the one before it is again."""

from __future__ import annotations

from mixclock.job.entry import ForecastTaken, Withdrawn
from tests.decide.worlds import Log


def expected_c(log: Log) -> list[float | None]:
    return [each.air_c for each in log.standing(120).site.forecast]


def test_a_forecast_counts_until_it_is_withdrawn_and_then_the_one_before_it() -> None:
    log = Log()
    log.add(0, ForecastTaken("a table", ("2026-04-13T12:00:00Z",), (11.0,)))
    assert expected_c(log) == [11.0]
    mistaken = log.add(5, ForecastTaken("another table", ("2026-04-13T12:00:00Z",), (31.0,)))
    assert expected_c(log) == [31.0]
    log.add(10, Withdrawn(mistaken.number))
    assert expected_c(log) == [11.0]
