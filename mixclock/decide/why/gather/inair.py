"""Dew margin, humidity and slab temperature while a film was open to the air."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

from mixclock.decide.weather import STALE_AFTER
from mixclock.decide.why.case import Case, Gathered, Laid, Missing, Series, Value, clock_text
from mixclock.formulas.air import dew_margin_k

COVERED_ENOUGH = 0.7
"""Readings within two hours for this share of the time count as a record of it (judgement)."""

_LOGGER = "look in the room's logger or a weather station near by; else only a test on the floor can tell"


def dew_margin(case: Case, laid: Laid) -> Gathered:
    """The lowest dew margin from the first pour until tack free."""
    value = _lowest_margin(case, laid)
    profile = case.profile(laid)
    limit = profile.limits.dew_margin_min_k if profile else None
    return _limited(value, limit)


def dew_margin_wet(case: Case, laid: Laid) -> Gathered:
    """The same margin, asked whether the floor was wet."""
    return _lowest_margin(case, laid)


def _lowest_margin(case: Case, laid: Laid) -> Gathered:
    conditions = case.weather(laid.area)
    series = tuple(case.samples(what, laid.area) for what in ("slab", "air", "humidity"))

    def margin(at: datetime) -> float:
        at_s = at.timestamp()
        air, damp, slab = (course.likely.at(at_s) for course in (conditions.air, conditions.humidity, conditions.slab))
        return dew_margin_k(air, damp, slab)

    return _extreme(case, laid, series, margin, min, "slab, air and humidity")


def humidity(case: Case, laid: Laid) -> Gathered:
    """The highest humidity until tack free."""
    course = case.weather(laid.area).humidity.likely
    series = (case.samples("humidity", laid.area),)
    value = _extreme(case, laid, series, lambda at: course.at(at.timestamp()), max, "humidity")
    profile = case.profile(laid)
    limit = profile.limits.humidity_max_pct if profile else None
    return _limited(value, limit)


def coldest_slab(case: Case, laid: Laid) -> Gathered:
    """The coldest slab until tack free."""
    course = case.weather(laid.area).slab.likely
    series = (case.samples("slab", laid.area),)
    value = _extreme(case, laid, series, lambda at: course.at(at.timestamp()), min, "slab temperature")
    profile = case.profile(laid)
    limits = profile.limits.slab_c if profile else None
    return _limited(value, limits[0] if limits else None)


def slab_rise(case: Case, laid: Laid) -> Gathered:
    """How far the slab warmed from the pour until the film was tack free, where nothing seals it."""
    if case.below(laid) is not None or case.standing.site.sealed:
        return None
    course = case.weather(laid.area).slab.likely
    start, end = laid.first, case.tack_free(laid)
    series = (case.samples("slab", laid.area),)
    at_start = course.at(start.timestamp())
    return _extreme(case, laid, series, lambda at: course.at(at.timestamp()) - at_start, max, "slab temperature", end)


def _limited(value: Gathered, limit: float | None) -> Gathered:
    if isinstance(value, Value) and limit is not None:
        return replace(value, limit=limit, limit_source="data sheet")
    return value


def _extreme(
    case: Case,
    laid: Laid,
    series: tuple[Series, ...],
    at_instant: Callable[[datetime], float],
    pick: Callable[[list[tuple[float, datetime]]], tuple[float, datetime]],
    what: str,
    end: datetime | None = None,
) -> Gathered:
    """The extreme of a quantity over the instants that readings vouch for; what they leave open is the gap."""
    start, until = laid.first, end or case.tack_free(laid)
    step = max(timedelta(minutes=10), (until - start) / 48)
    grid = _instants(start, until, step, [at for samples in series for at in samples.within(start, until)])
    vouched = [at for at in grid if all(_near(samples, at) for samples in series)]
    missing = Missing(f"{what} on {laid.area} {_span_text(case, start, until)}", _LOGGER)
    if not vouched:
        return missing
    worst, at = pick([(at_instant(at), at) for at in vouched])
    covered = len([at for at in vouched if (at - start) % step == timedelta(0)]) / max(
        1, len(_grid(start, until, step))
    )
    gap = _open_part(case, laid, what, vouched, start, until) if covered < COVERED_ENOUGH else None
    return Value(worst, at=at, told=f"at {clock_text(case.standing, at)}", gap=gap)


def _grid(start: datetime, until: datetime, step: timedelta) -> list[datetime]:
    return [start + step * index for index in range(int((until - start) / step) + 1)]


def _instants(start: datetime, until: datetime, step: timedelta, read: list[datetime]) -> list[datetime]:
    return sorted({*_grid(start, until, step), *read})


def _near(samples: Series, at: datetime) -> bool:
    """Whether a reading vouches for an instant: one within two hours on each side, or one within half an hour."""
    before, after = samples.around(at)
    if before is not None and after is not None and after.at - before.at <= 2 * STALE_AFTER:
        return True
    nearest = min((abs(at - there.at) for there in (before, after) if there is not None), default=None)
    return nearest is not None and nearest <= STALE_AFTER / 4


def _open_part(case: Case, laid: Laid, what: str, vouched: list[datetime], start: datetime, until: datetime) -> Missing:
    marks = [start, *vouched, until]
    _, a, b = max((later - earlier, earlier, later) for earlier, later in pairwise(marks))
    return Missing(f"{what} on {laid.area} {_span_text(case, a, b)}", _LOGGER)


def _span_text(case: Case, start: datetime, until: datetime) -> str:
    return f"from {clock_text(case.standing, start)} to {clock_text(case.standing, until)}"
