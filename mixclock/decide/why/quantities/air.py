"""Dew margin, humidity and slab temperature while a film was open to the air."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from mixclock.decide.why.case import Case, clock_text
from mixclock.decide.why.gauge import Gauge
from mixclock.decide.why.layers import Fact, Gap, Layer, Series, Value
from mixclock.decide.why.settings import later
from mixclock.formulas.air import dew_margin_k
from mixclock.values import replace

COVERED_ENOUGH = 0.7
"""Readings within two hours, for this share of the time, count as a record of it (judgement)."""

ONE_SPOT_SIGMA_K = 1.2
"""One spot tells the temperature of a whole floor to ±2 K, nine times in ten (judgement)."""

MAGNUS, MAGNUS_C = 17.62, 243.12
"""Coefficients over water (WMO-No. 8, annex 4.B)."""

ROUGH_K, ROUGH_SHARE = 0.4, 0.25
"""So far, and below zero by so much of it, Magnus' dew point may lie from the exact one (held by a test)."""

_LOGGER = "look in the room's logger, or ask a weather station near by"


def dew_margin(case: Case, laid: Layer) -> Fact:
    """The lowest dew margin from the first pour until tack free."""
    profile = case.profile(laid)
    return _limited(_lowest_margin(case, laid), profile.limits.dew_margin_min_k if profile else None)


def _lowest_margin(case: Case, laid: Layer) -> Fact:
    conditions = case.weather(laid.area)
    series = tuple(case.samples(what, laid.area) for what in ("slab", "air", "humidity"))

    courses = conditions.air.likely, conditions.humidity.likely, conditions.slab.likely

    def margins(times_s: Sequence[float]) -> list[float]:
        return lowest_margins_k([*zip(*(course.along(times_s) for course in courses), strict=True)])

    return _extreme(case, laid, series, margins, min, "slab, air and humidity")


def lowest_margins_k(read: Sequence[tuple[float, float, float]]) -> list[float]:
    """The dew margins of air, humidity and slab that may be the lowest; infinite for those that cannot be.

    A rough dew point (Magnus) tells these apart. The exact one takes ten times as long, and a job asks for thousands.

    >>> [round(margin_k, 1) for margin_k in lowest_margins_k([(20.0, 50.0, 15.0), (20.0, 60.0, 13.0)])]
    [inf, 1.0]
    """
    if not read:
        return []
    roughly = [
        (slab_c - dew_c, max(0.0, -ROUGH_SHARE * dew_c))
        for (_, _, slab_c), dew_c in zip(read, [_rough_dew_c(air_c, rh_pct) for air_c, rh_pct, _ in read], strict=True)
    ]
    lowest = min(range(len(read)), key=lambda place: roughly[place][0])
    enough_k = dew_margin_k(*read[lowest]) + ROUGH_K
    return [
        dew_margin_k(*each) if margin_k - frost_k <= enough_k else math.inf
        for each, (margin_k, frost_k) in zip(read, roughly, strict=True)
    ]


def _rough_dew_c(air_c: float, rh_pct: float) -> float:
    """The dew point within `ROUGH_K`; the frost point lies over it by a share of its own."""
    water = math.log(rh_pct / 100.0) + MAGNUS * air_c / (MAGNUS_C + air_c)
    return MAGNUS_C * water / (MAGNUS - water)


def humidity(case: Case, laid: Layer) -> Fact:
    """The highest humidity until tack free."""
    course = case.weather(laid.area).humidity.likely
    series = (case.samples("humidity", laid.area),)
    value = _extreme(case, laid, series, course.along, max, "humidity")
    profile = case.profile(laid)
    return _limited(value, profile.limits.humidity_max_pct if profile else None)


def coldest_slab(case: Case, laid: Layer) -> Fact:
    """The coldest slab until tack free."""
    course = case.weather(laid.area).slab.likely
    series = (case.samples("slab", laid.area),)
    value = _extreme(case, laid, series, course.along, min, "slab temperature")
    profile = case.profile(laid)
    limits = profile.limits.slab_c if profile else None
    return _limited(value, limits[0] if limits else None)


def slab_rise(case: Case, laid: Layer) -> Fact:
    """How far an unsealed slab warmed from the pour until the film was tack free."""
    if case.below(laid) is not None or case.standing.site.sealed:
        return None
    course = case.weather(laid.area).slab.likely
    start, end = laid.first, case.tack_free(laid)
    series = (case.samples("slab", laid.area),)
    at_start = course.at(start.timestamp())

    def rises(times_s: Sequence[float]) -> list[float]:
        return [value - at_start for value in course.along(times_s)]

    return _extreme(case, laid, series, rises, max, "slab temperature", end)


def _limited(value: Fact, limit: float | None) -> Fact:
    if isinstance(value, Value) and limit is not None:
        return replace(value, limit=limit, limit_source="data sheet")
    return value


def _extreme(
    case: Case,
    laid: Layer,
    series: tuple[Series, ...],
    at_instants: Callable[[Sequence[float]], list[float]],
    pick: Callable[[list[tuple[float, datetime]]], tuple[float, datetime]],
    what: str,
    end: datetime | None = None,
) -> Fact:
    """The extreme of a quantity over the times that readings vouch for. The times that they leave open are the gap."""
    start, until = laid.first, end or case.tack_free(laid)
    step, count = _steps(start, until)
    places = set.intersection(*(samples.vouched_places(start, step, count) for samples in series))
    read = [at for samples in series for at in samples.within(start, until)
            if all(other.vouches_for(at) for other in series)]  # fmt: skip
    vouched = sorted({*[start + step * place for place in places], *read})
    if not vouched:
        return Gap(f"{what} on {laid.area}, {_span_text(case, start, until)}", _LOGGER, topic="readings")
    values = at_instants([at.timestamp() for at in vouched])
    worst, at = pick(list(zip(values, vouched, strict=True)))
    gap = _open_part(case, laid, what, vouched, start, until) if len(places) < COVERED_ENOUGH * max(1, count) else None
    elsewhere = "slab" in what and _read_elsewhere(case, laid)
    told = f"{clock_text(case.standing, at)}{', read on one spot for the whole floor' if elsewhere else ''}"
    return Value(worst, at=at, told=told, gap=gap, sigma=ONE_SPOT_SIGMA_K if elsewhere else None)


def _read_elsewhere(case: Case, laid: Layer) -> bool:
    """Whether the only slab readings for this area were those for the whole floor."""
    return len(case.standing.site.areas) > 1 and laid.area not in case.standing.readings.own_areas


def is_covered(case: Case, laid: Layer, what: str) -> bool:
    """Whether readings vouch for a quantity from the first pour until the film was tack free."""
    start, until = laid.first, case.tack_free(laid)
    step, count = _steps(start, until)
    return len(case.samples(what, laid.area).vouched_places(start, step, count)) >= COVERED_ENOUGH * count


def _steps(start: datetime, until: datetime) -> tuple[timedelta, int]:
    """How far apart the instants lie at which a span is looked at, and how many they are."""
    step = max(timedelta(minutes=10), (until - start) / 48)
    return step, max(0, int((until - start) / step) + 1)


def _open_part(case: Case, laid: Layer, what: str, vouched: list[datetime], start: datetime, until: datetime) -> Gap:
    marks = [start, *vouched, until]
    _, a, b = max((later - earlier, earlier, later) for earlier, later in pairwise(marks))
    return Gap(f"{what} on {laid.area}, {_span_text(case, a, b)}", _LOGGER, topic="readings")


def _span_text(case: Case, start: datetime, until: datetime) -> str:
    """A span in words. The day is said once if it is one day."""
    first, last = clock_text(case.standing, start), clock_text(case.standing, until)
    day, _, clock = last.rpartition(" ")
    return f"{first} to {clock}" if first.startswith(f"{day} ") else f"{first} to {last}"


DEW_DOUBT = "surface thermometer ±0.5 K and hygrometer ±2 % (0.4 K of dew point) taken together (judgement)"

DEW_MARGIN = Gauge(
    "dew_margin_min_k",
    "lowest dew margin until tack free",
    dew_margin,
    -1,
    3.0,
    2.0,
    0.6,
    "ISO 8502-4, ISO 12944-7: slab at least 3 K over the dew point is customary",
    "US practice asks 5 °F, Europe 3 K; a margin of 1 K is within the instruments' error of dew (judgement)",
    DEW_DOUBT,
    unit="k",
    setting=later,
)

DEW = Gauge(
    "dew_margin_wet_k",
    "lowest dew margin until tack free",
    _lowest_margin,
    -1,
    0.0,
    1.0,
    0.6,
    "definition of the dew point: at or below zero water condenses",
    "1 K under the dew point wets a floor within the hour (judgement)",
    DEW_DOUBT,
    unit="k",
    setting=later,
)

HUMIDITY = Gauge(
    "rh_max_pct",
    "highest humidity until tack free",
    humidity,
    +1,
    85.0,
    5.0,
    2.5,
    "ISO 8502-4 practice: under 85 %",
    "5 % is the caution band of `air` (judgement)",
    "hygrometer ±2 to 3 % (judgement)",
    unit="pct",
    setting=later,
)

COLDEST_SLAB = Gauge(
    "slab_min_c",
    "coldest slab while it cured",
    coldest_slab,
    -1,
    10.0,
    3.0,
    0.5,
    "'Epoxy Floor Curing Times': roughly no cure below 10 °C",
    "3 K cost a fifth of the rate at 47 kJ/mol",
    "surface thermometer ±0.5 K (judgement)",
    unit="c",
    setting=later,
)

SLAB_RISE = Gauge(
    "slab_rise_k",
    "rise of the slab from pouring until tack free",
    slab_rise,
    +1,
    1.0,
    2.0,
    0.5,
    "'5 common issues with flooring applications': coat on falling temperature; 1 K is twice the meter's error",
    "3 K drive out 1 % of the air in the pores (ideal gas at 293 K)",
    "surface thermometer ±0.5 K (judgement)",
    unit="k",
    setting=later,
)
