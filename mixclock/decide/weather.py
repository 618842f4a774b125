"""What the slab, the air and the humidity were, are and will be at one place, and how sure that is.

Between readings a value is linear. After the last reading the job's forecast goes on, shifted to meet that reading.
Without a forecast the last reading is held. A warmer and a colder history beside the likely one carry the doubt.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from functools import cached_property

from mixclock.decide.slabdoubt import (
    COLDER_SLAB_K,
    DOORS_KNOWN_FOR,
    RAMP_S,
    SPOT_DOUBT_K,
    STALE_AFTER,
    STALE_DOUBT_K,
    Doubt,
    counts_as_exact,
    morning_rise,
    night_fall,
)
from mixclock.formulas.air import AIR_RANGE_C, RH_RANGE_PCT, absolute_humidity_at_slab_g_m3, absolute_humidity_g_m3
from mixclock.formulas.derivedhistories import combined, moved_by, outermost, own_name, shifted_by
from mixclock.formulas.history import History, Moisture, Past
from mixclock.formulas.past import ForgottenError
from mixclock.job.entry import Noted
from mixclock.job.jumps import both_ways
from mixclock.job.progress import Standing
from mixclock.job.readings import JumpAnswer, Readings, Sample
from mixclock.job.site import Area, Forecast, Site
from mixclock.job.tradefacts import DOORS
from mixclock.units import CrewUnits
from mixclock.values import dataclass, replace

FORECAST_STANDS_IN = "the forecast stands in"
NO_READING_C = 20.0
NO_READING_RH_PCT = 60.0
NO_READING_DOUBT_K = 5.0
"""What holds without any reading: a mild day, give or take five kelvin (judgement)."""

BLEND_S = 4 * 3600.0
"""How fast the shift of the forecast fades: by a factor of e in four hours (judgement)."""


@dataclass(frozen=True)
class Course:
    """One quantity over time (epoch seconds), with its doubt.

    Ends that a crew races use `low` and `high`. A maker's limits use `for_limits`.
    """

    likely: History
    low: History
    high: History
    assumed: tuple[str, ...] = ()
    last_reading: datetime | None = None
    doubt: Doubt | None = None
    asked: tuple[Course, ...] = ()
    """After a jump: the course if the reading that jumped is wrong, and the course if the one before is. Both count
    until somebody answers."""

    @cached_property
    def range(self) -> tuple[float, float] | None:
        """The least and the most that it likely ever is; None where its beginning is known by notes only."""
        values = self.likely.values
        return (min(values), max(values)) if self.likely.past is None else None

    def for_limits(self, start_s: float) -> tuple[History, History]:
        """The colder and the warmer history for a maker's limit whose window starts then."""
        each = [course._own_limits(start_s) for course in (self, *self.asked)]
        return outermost([low for low, _ in each], min), outermost([high for _, high in each], max)

    def around_a_bucket(self) -> Course:
        """The air that a bucket stands in: while a jump is unanswered, the warmer course."""
        return self if not self.asked else replace(self, likely=self.at_worst(colder=False))

    def at_worst(self, colder: bool) -> History:
        """The likely course for the dew margin. While a jump is unanswered, it is the colder or the warmer of the
        two."""
        return outermost([self.likely, *(each.likely for each in self.asked)], min if colder else max)

    def _own_limits(self, start_s: float) -> tuple[History, History]:
        if self.doubt is None:
            return self.low, self.high
        if start_s <= self.doubt.stale_from:
            return self._read_lately
        return self._doubted_from(start_s, self.likely.since(start_s))

    @cached_property
    def _read_lately(self) -> tuple[History, History]:
        """The limits' histories for every window that starts while the last reading is fresh. They are the same, so a
        clock adds them up once."""
        assert self.doubt is not None
        return self._doubted_from(self.doubt.stale_from, self.likely)

    def _doubted_from(self, start_s: float, likely: History) -> tuple[History, History]:
        assert self.doubt is not None
        return moved_by(likely, self.doubt.down(start_s), -1.0), moved_by(likely, self.doubt.up(start_s), 1.0)


@dataclass(frozen=True)
class Weather:
    """The conditions at one place."""

    slab: Course
    air: Course
    humidity: Course
    slab_source: str = "slab"

    def at(self, at_s: float) -> tuple[float, float, float]:
        """The likely air, humidity and slab at an instant, for the dew margin."""
        return self.air.likely.at(at_s), self.humidity.likely.at(at_s), self.slab.likely.at(at_s)

    @cached_property
    def slab_humidity_pct(self) -> History:
        """Water in the air at the slab, as a share of what air of the slab's temperature can hold."""
        read = self.air.likely, self.humidity.likely, self.slab.likely
        return combined(read, lambda each: _humidity_at_slab_pct(*each), "wet")

    def moisture(self, reference_rh_pct: float, exponent: float) -> Moisture:
        """How this humidity drives a clock whose sheet holds at `reference_rh_pct`. All windows of the place share one
        answer."""
        kept = self._moistures
        if (reference_rh_pct, exponent) not in kept:
            kept[reference_rh_pct, exponent] = Moisture(self.slab_humidity_pct, reference_rh_pct, exponent)
        return kept[reference_rh_pct, exponent]

    @cached_property
    def _moistures(self) -> dict[tuple[float, float], Moisture]:
        return {}


def _humidity_at_slab_pct(air_c: float, rh_pct: float, slab_c: float) -> float:
    low_c, high_c = AIR_RANGE_C  # a forecast that was shifted to meet a reading may lie beyond
    water = absolute_humidity_at_slab_g_m3(min(high_c, max(low_c, air_c)), rh_pct, slab_c)
    # a slab in the sun may be hotter than the air that the formula knows; the share is then a few percent either way
    return min(100.0, 100.0 * water / absolute_humidity_g_m3(min(slab_c, AIR_RANGE_C[1]), 100.0))


def weather(
    standing: Standing, area: str | None, slab_before: datetime | None = None, clock_set_s: float = 0.0
) -> Weather:
    """The conditions that hold for an area of the job; `slab_before` leaves out slab readings from then on.

    Sun, night and forecast go by the hour of the day at the last reading. So setting the wall clock afterwards moves no
    deadline. Without a reading, `clock_set_s` counts: by how much the clock was set since the batch was mixed.
    """
    reading = _Reading(standing, area, clock_set_s)
    air = reading.course(standing.readings.air(area), lambda point: point.air_c, "air")
    humidity = reading.humidity()
    slab_samples = standing.readings.slab(area)
    if slab_before is not None:
        slab_samples = tuple(sample for sample in slab_samples if sample.at < slab_before)
    if slab_samples or any(point.slab_c is not None for point in standing.site.forecast):
        return Weather(reading.course(slab_samples, lambda point: point.slab_c, "slab"), air, humidity)
    if air.last_reading is not None or any(point.air_c is not None for point in standing.site.forecast):
        return Weather(_air_for_slab(air, standing.site.units), air, humidity, slab_source="air")
    return Weather(reading.course((), lambda _: None, "slab"), air, humidity, slab_source="none")


def steady(
    slab_c: float, air_c: float | None = None, rh_pct: float = NO_READING_RH_PCT, doubt_k: float = 0.0
) -> Weather:
    """Conditions that never change: to plan at a fixed temperature, or to ask what a sheet means at one."""
    return Weather(
        _steady_course(slab_c, doubt_k),
        _steady_course(slab_c if air_c is None else air_c, doubt_k),
        _steady_course(rh_pct, 0.0),
    )


def _steady_course(value: float, doubt: float) -> Course:
    lone = History((0.0,), (value,))
    return Course(lone, shifted_by(lone, -doubt), shifted_by(lone, doubt))


def _widened(told: Course, asked: tuple[Course, ...]) -> Course:
    """A course whose doubt also covers what an unanswered jump leaves open."""
    if not asked:
        return told
    every = (told, *asked)
    low, high = outermost([each.low for each in every], min), outermost([each.high for each in every], max)
    return replace(told, low=low, high=high, asked=asked)


def _air_for_slab(air: Course, units: CrewUnits) -> Course:
    """Air in place of the slab's temperature. It is in doubt throughout; for a maker's limit the slab may be colder
    still."""
    return _widened(_slab_from(air, units), tuple(_slab_from(each, units) for each in air.asked))


def _slab_from(air: Course, units: CrewUnits) -> Course:
    rise = air.doubt.rise if air.doubt else None
    up = _largest_of(History((0.0,), (STALE_DOUBT_K,)), rise)
    doubt = Doubt(STALE_DOUBT_K, rise=rise, fall=air.doubt.fall if air.doubt else None, least_down_k=COLDER_SLAB_K)
    return Course(
        air.likely,
        shifted_by(air.likely, -STALE_DOUBT_K),
        moved_by(air.likely, up, 1.0),
        (f"no slab reading: the air's temperature stands in, ±{units.write_difference(STALE_DOUBT_K)}",),
        air.last_reading,
        doubt,
    )


@dataclass(frozen=True)
class _Reading:
    """How the readings and the forecast of one place become courses."""

    standing: Standing
    area: str | None
    clock_set_s: float

    @property
    def forecast(self) -> tuple[Forecast, ...]:
        return self.standing.site.forecast

    @property
    def units(self) -> CrewUnits:
        return self.standing.site.units

    def humidity(self) -> Course:
        """Relative humidity, which carries no doubt of its own."""
        samples = self.standing.readings.humidity(self.area)
        ahead = self._ahead(lambda point: point.rh_pct, samples)
        if not samples and not ahead:
            lone = History((0.0,), (NO_READING_RH_PCT,))
            return Course(lone, lone, lone, (f"no humidity reading: taken as {NO_READING_RH_PCT:.0f} %",))
        likely = self._read(samples, ahead, "humidity", JumpAnswer(None, samples), self.standing.readings)
        return Course(likely, likely, likely, (), samples[-1].at if samples else None)

    def _read(
        self, samples: Sequence[Sample], ahead: Sequence[Sample], what: str, way: JumpAnswer, of: Readings
    ) -> History:
        """What was read and is expected; where older readings are known by notes only, from where they are at hand."""
        joined, past = _joined(samples, ahead, RH_RANGE_PCT if what == "humidity" else None), of.past
        kept = past.series(of, what, self.area, way) if past is not None else None
        if past is None or kept is None or kept.from_s is None:
            return joined
        if not samples or samples[-1].at.timestamp() < kept.from_s:
            raise ForgottenError("what was known before the last reading is not at hand")
        first = bisect_right(joined.times_s, kept.from_s)
        times, values = joined.times_s[first:], joined.values[first:]

        def whole() -> History:
            older = past.whole
            every, whole_way = past.all_of(what, self.area, way)
            assert older is not None
            return self._read(every, ahead, what, whole_way, older)

        at_hand = History((kept.from_s, *times), (joined.at(kept.from_s), *values))
        own = f"{kept.label}{own_name(at_hand)}"
        return History(at_hand.times_s, at_hand.values, Past(kept.label, past.notes, whole, own))

    def course(self, samples: Sequence[Sample], pick: Callable[[Forecast], float | None], what: str) -> Course:
        """A temperature as it was read. While a jump is unanswered, it covers both answers."""
        told = self._told(samples, pick, what, JumpAnswer(None, samples))
        ways = enumerate(both_ways(samples))
        either = tuple(self._told(one, pick, what, JumpAnswer(place, samples)) for place, one in ways)
        return _widened(told, either)

    def _told(
        self, samples: Sequence[Sample], pick: Callable[[Forecast], float | None], what: str, way: JumpAnswer
    ) -> Course:
        """A temperature: linear between readings, then by the forecast. Without a forecast the last reading is held,
        with doubt."""
        ahead = self._ahead(pick, samples)
        if not samples and not ahead:
            lone = History((0.0,), (NO_READING_C,))
            said = f"no {what} reading: taken as {self.units.write_temp(NO_READING_C)}"
            return Course(lone, shifted_by(lone, -NO_READING_DOUBT_K), shifted_by(lone, NO_READING_DOUBT_K), (said,))
        likely = self._read(samples, ahead, what, way, self.standing.readings)
        if not samples:
            said = f"no {what} reading: {FORECAST_STANDS_IN}, ±{self.units.write_difference(STALE_DOUBT_K)}"
            low, high = shifted_by(likely, -STALE_DOUBT_K), shifted_by(likely, STALE_DOUBT_K)
            return Course(likely, low, high, (said,), None, Doubt())
        last = samples[-1]
        led = bool(ahead) and ahead[-1].at > last.at
        doubt = self._doubt(last, led)
        stale = _stale(doubt.stale_from)
        return Course(
            likely,
            moved_by(likely, stale, -1.0),
            moved_by(likely, _largest_of(stale, doubt.rise), 1.0),
            (),
            last.at,
            doubt,
        )

    def _doubt(self, last: Sample, led: bool) -> Doubt:
        """The doubt of what may have happened since the last reading. A forecast that goes on knows of sun and night
        already."""
        site = self.standing.site
        zone, area = site.wall, site.area(self.area) if self.area else _only_area(site)
        stale_from = last.at.timestamp() + STALE_AFTER.total_seconds()
        spot_k = 0.0 if counts_as_exact(last, len(site.areas)) else SPOT_DOUBT_K
        if led:
            return Doubt(spot_k, stale_from)
        fall = night_fall(last.hour_then, zone, area, self._doors_open(last.at))
        rise = morning_rise(last.hour_then, zone, area)
        return Doubt(spot_k, stale_from, rise=_later(rise, last.moved_s), fall=_later(fall, last.moved_s))

    def _doors_open(self, read_at: datetime) -> bool:
        """Whether the last note on the doors says that they are open. A note without a place holds everywhere."""
        said = [
            answer
            for entry in self.standing.live()
            if isinstance(entry.facts, Noted)
            and entry.facts.area in (None, self.area)
            and entry.happened >= read_at - DOORS_KNOWN_FOR
            and (answer := DOORS.answered(entry.facts.text)) is not None
        ]
        return bool(said) and said[-1] == "open"

    def _ahead(self, pick: Callable[[Forecast], float | None], samples: Sequence[Sample]) -> list[Sample]:
        by = timedelta(seconds=samples[-1].moved_s if samples else self.clock_set_s)
        return [Sample(point.at + by, value) for point in self.forecast if (value := pick(point)) is not None]


def are_alike(standing: Standing) -> bool:
    """Whether the places of a job differ only by their readings, and not by sun, heat, roof or doors."""
    return len({(area.sun, area.heated, area.outside) for area in standing.site.areas}) <= 1 and not any(
        isinstance(entry.facts, Noted) and entry.facts.area is not None for entry in standing.entries
    )


def _only_area(site: Site) -> Area | None:
    """The area that stands for the whole floor: the only one, or any where all are alike in sun, heat and roof."""
    kinds = {(area.sun, area.heated, area.outside) for area in site.areas}
    return site.areas[0] if site.areas and len(kinds) == 1 else None


def _joined(
    samples: Sequence[Sample], forecast: Sequence[Sample], within: tuple[float, float] | None = None
) -> History:
    """The readings, then the forecast. The forecast is shifted to meet the last reading, and the shift slowly fades.

    Nothing lies beyond `within`: a forecast of humidity may be shifted under 0 %.
    """
    merged = {sample.at.timestamp(): sample.value for sample in samples}
    if not samples:
        merged = {sample.at.timestamp(): sample.value for sample in forecast}
    elif forecast:
        expected = _history({sample.at.timestamp(): sample.value for sample in forecast})
        last_s = samples[-1].at.timestamp()
        off_k = samples[-1].value - expected.at(last_s)
        for sample in forecast:
            at_s = sample.at.timestamp()
            if at_s > last_s:
                merged[at_s] = sample.value + off_k * math.exp(-(at_s - last_s) / BLEND_S)
    if within is not None:
        merged = {at_s: min(within[1], max(within[0], value)) for at_s, value in merged.items()}
    return _history(merged)


def _history(values: dict[float, float]) -> History:
    """The course through these values. A logger repeats itself, so only the points at which the course bends are
    kept."""
    times = sorted(values)
    told = [values[at] for at in times]
    inner = zip(told, told[1:], told[2:], strict=False)
    bends = (True, *(not before == value == after for before, value, after in inner), True)
    kept = [each for each, bend in zip(zip(times, told, strict=True), bends, strict=False) if bend]
    return History(tuple(at for at, _ in kept), tuple(value for _, value in kept))


def _later(history: History | None, by_s: float) -> History | None:
    """The same history on a clock that somebody has set since."""
    return history and history.shifted(by_s)


def _stale(from_s: float) -> History:
    """The doubt of a held reading for an hour. It rises over a minute, so that it has one value at each time."""
    return History((from_s, from_s + RAMP_S), (0.0, STALE_DOUBT_K))


def _largest_of(one: History, other: History | None) -> History:
    """The larger of two doubts at each of their points."""
    if other is None:
        return one
    times = sorted({*one.times_s, *other.times_s})
    return History(tuple(times), tuple(max(one.at(at), other.at(at)) for at in times))
