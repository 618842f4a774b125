"""What the slab, the air and the humidity were, are and will be at one place, and how sure that is.

Between readings a value is linear. After the last reading the job's forecast, shifted to meet that reading, leads on;
without a forecast the last reading is held. Doubt is carried as a warmer and a colder history beside the likely one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from mixclock.formulas.air import AIR_RANGE_C, absolute_humidity_at_slab_g_m3, absolute_humidity_g_m3
from mixclock.formulas.history import History
from mixclock.job.progress import Standing
from mixclock.job.readings import Sample
from mixclock.job.site import Forecast
from mixclock.units import CrewUnits

STALE_AFTER = timedelta(hours=2)
"""A reading held for longer than this is doubted."""

STALE_DOUBT_K = 3.0
"""How far a held reading, or air in place of slab, may be off."""

NO_READING_C = 20.0
NO_READING_RH_PCT = 60.0
NO_READING_DOUBT_K = 5.0
"""Without any reading: a mild day, in doubt by five kelvin (judgement)."""

BLEND_S = 4 * 3600.0
"""How fast the forecast forgets how far off it was at the last reading: e-fold in four hours (judgement)."""

RAMP_S = 60.0


@dataclass(frozen=True)
class Course:
    """One quantity over time (epoch seconds), with its doubt."""

    likely: History
    low: History
    high: History
    assumed: tuple[str, ...] = ()
    last_reading: datetime | None = None


@dataclass(frozen=True)
class Weather:
    """The conditions at one place."""

    slab: Course
    air: Course
    humidity: Course
    slab_source: str = "slab"

    def slab_humidity_pct(self) -> History:
        """Water in the air at the slab, as a share of what air of the slab's temperature can hold."""
        air, damp, slab = self.air.likely, self.humidity.likely, self.slab.likely
        times = tuple(sorted({*slab.times_s, *air.times_s, *damp.times_s}))
        return History(times, tuple(_humidity_at_slab_pct(air.at(t), damp.at(t), slab.at(t)) for t in times))


def _humidity_at_slab_pct(air_c: float, rh_pct: float, slab_c: float) -> float:
    water = absolute_humidity_at_slab_g_m3(air_c, rh_pct, slab_c)
    # a slab in the sun may be hotter than the air that the formula knows; the share is then a few percent either way
    return min(100.0, 100.0 * water / absolute_humidity_g_m3(min(slab_c, AIR_RANGE_C[1]), 100.0))


def weather(standing: Standing, area: str | None, slab_before: datetime | None = None) -> Weather:
    """The conditions that hold for an area of the job; `slab_before` leaves out slab readings from then on."""
    forecast, units = standing.site.forecast, standing.site.units
    air_samples = standing.readings.air(area)
    air = _course(air_samples, forecast, lambda point: point.air_c, "air", NO_READING_C, units)
    damp_samples = standing.readings.humidity(area)
    humidity = _course(
        damp_samples, forecast, lambda point: point.rh_pct, "humidity", NO_READING_RH_PCT, units, doubted=False
    )
    slab_samples = standing.readings.slab(area)
    if slab_before is not None:
        slab_samples = tuple(sample for sample in slab_samples if sample.at < slab_before)
    if slab_samples or any(point.slab_c is not None for point in forecast):
        slab = _course(slab_samples, forecast, lambda point: point.slab_c, "slab", NO_READING_C, units)
        return Weather(slab, air, humidity)
    if air_samples or any(point.air_c is not None for point in forecast):
        return Weather(_air_for_slab(air, units), air, humidity, slab_source="air")
    return Weather(_course((), (), lambda _: None, "slab", NO_READING_C, units), air, humidity, slab_source="none")


def steady(
    slab_c: float, air_c: float | None = None, rh_pct: float = NO_READING_RH_PCT, doubt_k: float = 0.0
) -> Weather:
    """Conditions that do not change: for planning an hour and for asking what a sheet means at one temperature."""
    return Weather(
        _steady_course(slab_c, doubt_k),
        _steady_course(slab_c if air_c is None else air_c, doubt_k),
        _steady_course(rh_pct, 0.0),
    )


def _steady_course(value: float, doubt: float) -> Course:
    lone = History((0.0,), (value,))
    return Course(lone, _shifted(lone, -doubt), _shifted(lone, doubt))


def _air_for_slab(air: Course, units: CrewUnits) -> Course:
    """Air in place of the slab's temperature: doubted throughout."""
    return Course(
        air.likely,
        _shifted(air.likely, -STALE_DOUBT_K),
        _shifted(air.likely, STALE_DOUBT_K),
        (f"no slab reading: the air's temperature stands in, ±{units.write_difference(STALE_DOUBT_K)}",),
        air.last_reading,
    )


def _course(
    samples: Sequence[Sample],
    forecast: Sequence[Forecast],
    pick: Callable[[Forecast], float | None],
    what: str,
    fallback: float,
    units: CrewUnits,
    doubted: bool = True,
) -> Course:
    ahead = [Sample(point.at, value) for point in forecast if (value := pick(point)) is not None]
    if not samples and not ahead:
        lone = History((0.0,), (fallback,))
        taken = units.write_temp(fallback) if doubted else f"{fallback:.0f} %"
        doubt = NO_READING_DOUBT_K if doubted else 0.0
        return Course(lone, _shifted(lone, -doubt), _shifted(lone, doubt), (f"no {what} reading: taken as {taken}",))
    likely = _joined(samples, ahead)
    if not doubted:
        return Course(likely, likely, likely, (), samples[-1].at if samples else None)
    last = samples[-1].at if samples else None
    said_of = (
        () if samples else (f"no {what} reading: the forecast stands in, ±{units.write_difference(STALE_DOUBT_K)}",)
    )
    doubt_from = last.timestamp() + STALE_AFTER.total_seconds() if last else -math.inf
    return Course(
        likely, _doubted(likely, doubt_from, -STALE_DOUBT_K), _doubted(likely, doubt_from, STALE_DOUBT_K), said_of, last
    )


def _joined(samples: Sequence[Sample], forecast: Sequence[Sample]) -> History:
    """Readings, then the forecast shifted so that it meets the last of them and slowly forgets the shift."""
    merged = {sample.at.timestamp(): sample.value for sample in samples}
    if not samples:
        return _history({sample.at.timestamp(): sample.value for sample in forecast})
    if forecast:
        expected = _history({sample.at.timestamp(): sample.value for sample in forecast})
        last_s = samples[-1].at.timestamp()
        off_k = samples[-1].value - expected.at(last_s)
        for sample in forecast:
            at_s = sample.at.timestamp()
            if at_s > last_s:
                merged[at_s] = sample.value + off_k * math.exp(-(at_s - last_s) / BLEND_S)
    return _history(merged)


def _history(values: dict[float, float]) -> History:
    times = sorted(values)
    return History(tuple(times), tuple(values[at] for at in times))


def _shifted(history: History, by: float) -> History:
    return History(history.times_s, tuple(value + by for value in history.values))


def _doubted(history: History, from_s: float, by: float) -> History:
    """The history shifted from an instant on, ramped so that it stays a function of time."""
    if from_s == -math.inf:
        return _shifted(history, by)
    times = sorted({*history.times_s, from_s, from_s + RAMP_S})
    shift = (by * min(1.0, max(0.0, (at - from_s) / RAMP_S)) for at in times)
    return History(tuple(times), tuple(history.at(at) + more for at, more in zip(times, shift, strict=True)))
