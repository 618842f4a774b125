"""A slab that trails its air is expected from the air; one that follows no such law is not guessed at."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
import scipy

from mixclock.decide.slabahead import slab_follows, with_slab
from mixclock.job.readings import Sample
from mixclock.job.site import Forecast

START = datetime(2026, 4, 13, tzinfo=UTC)
LAG_H, OFFSET_K = 6.0, -2.0


def air_c(hour: float) -> float:
    """A day between 10 and 20 °C, warmest at three."""
    return 15.0 + 5.0 * math.cos(2.0 * math.pi * (hour - 15.0) / 24.0)


def slab_c(hours: list[float]) -> list[float]:
    """The slab under that air, by a solver that knows nothing of the product."""
    solved = scipy.integrate.solve_ivp(
        lambda hour, slab: (air_c(hour) + OFFSET_K - slab) / LAG_H, (0.0, max(hours)), [air_c(0.0) + OFFSET_K],
        t_eval=hours, rtol=1e-9, atol=1e-9,
    )  # fmt: skip
    return list(solved.y[0])


def samples(hours: list[float], values: list[float]) -> list[Sample]:
    return [Sample(START + timedelta(hours=hour), value) for hour, value in zip(hours, values, strict=True)]


def test_lag_and_offset_are_found_again_from_hourly_air_and_eight_slab_readings() -> None:
    hours = [float(hour) for hour in range(49)]
    read = [12.0, 17.0, 22.0, 27.0, 32.0, 37.0, 42.0, 47.0]
    law = slab_follows(samples(hours, [air_c(hour) for hour in hours]), samples(read, slab_c(read)))
    assert law is not None
    assert (law.lag_h, law.pairs) == (LAG_H, 8)
    assert law.offset_k == pytest.approx(OFFSET_K, abs=0.1)


def test_the_expected_slab_is_what_a_solver_gives() -> None:
    hours = [float(hour) for hour in range(37)]
    air = samples(hours, [air_c(hour) for hour in hours])
    read = [8.0, 14.0, 20.0, 26.0, 32.0]
    law = slab_follows(air, samples(read, slab_c(read)))
    assert law is not None
    ahead = [38.0, 44.0, 50.0, 60.0]
    points = [Forecast(START + timedelta(hours=hour), air_c(hour), 60.0) for hour in range(37, 61)]
    told = {point.at: point.slab_c for point in with_slab(points, air, law)}
    expected = slab_c(ahead)
    for hour, value in zip(ahead, expected, strict=True):
        assert told[START + timedelta(hours=hour)] == pytest.approx(value, abs=0.2)


def test_too_few_too_near_or_lawless_readings_tell_nothing() -> None:
    hours = [float(hour) for hour in range(25)]
    air = samples(hours, [air_c(hour) for hour in hours])
    assert slab_follows(air, samples([4.0, 9.0, 14.0], [12.0, 12.0, 13.0])) is None
    assert slab_follows(air, samples([9.0, 9.5, 10.0, 10.5], [12.0, 12.0, 12.0, 12.0])) is None
    assert slab_follows(air, samples([2.0, 8.0, 14.0, 20.0], [5.0, 25.0, 5.0, 25.0])) is None
    assert slab_follows([], samples([2.0], [5.0])) is None


def test_a_slab_that_the_forecast_knows_is_left_as_it_is() -> None:
    hours = [float(hour) for hour in range(25)]
    air = samples(hours, [air_c(hour) for hour in hours])
    law = slab_follows(air, samples([4.0, 10.0, 16.0, 22.0], slab_c([4.0, 10.0, 16.0, 22.0])))
    assert law is not None
    (point,) = with_slab([Forecast(START + timedelta(hours=26), 15.0, 60.0, 9.5)], air, law)
    assert point.slab_c == 9.5
