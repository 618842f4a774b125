"""Go, caution or no-go: dew margin, humidity and slab against their limits, and where these values are heading.

The limits: a surface at least 3 K over the dew point (ISO 8502-4 gives the calculation, the 3 K and 85 % relative
humidity are customary), or more where the product's sheet asks for more; the sheet's own limits on humidity, slab and
air where it states them. The product's data sheet always rules.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from enum import StrEnum

from mixclock.formulas.air import dew_margin_k, dew_point_c
from mixclock.job.jumps import worst_read
from mixclock.job.profile import Limits
from mixclock.job.readings import Readings
from mixclock.job.slabmoisture import SlabMoisture, moisture_objection
from mixclock.units import METRIC_CREW, CrewUnits, past
from mixclock.values import dataclass

LEAST_MARGIN_K = 3.0
"""ISO 8502-4 and common practice: the surface at least 3 K over the dew point."""

MOST_HUMIDITY_PCT = 85.0
"""Common practice where the sheet names no limit; ISO 12944-7 asks for less than 85 %."""

NEAR_K = 2.0
NEAR_PCT = 5.0
"""This close to a limit is a caution."""

FALLS_WITHIN = timedelta(hours=2)
"""A margin that reaches its limit within this at its present rate is a caution (judgement)."""

READ_THE_SLAB = "read the slab in its coldest corner: without it nothing is known of the dew margin"
"""What is said of the dew margin if nobody read the slab (read: in spring it can lie 12 K under the air)."""

_TREND_OVER = timedelta(hours=3)
_TREND_LEAST = timedelta(minutes=5)


class Verdict(StrEnum):
    """Whether to start."""

    GO = "go"
    CAUTION = "caution"
    NO_GO = "no-go"


_ORDER = (Verdict.GO, Verdict.CAUTION, Verdict.NO_GO)


@dataclass(frozen=True)
class Conditions:
    """The air over a slab, as read at one moment; the slab where it was read."""

    air_c: float
    rh_pct: float
    slab_c: float | None = None

    @property
    def dew_point_c(self) -> float:
        """The dew point of the air."""
        return dew_point_c(self.air_c, self.rh_pct)

    @property
    def margin_k(self) -> float | None:
        """How far the slab is over the dew point. It is None if nobody read the slab, which may be far colder than the
        air."""
        return None if self.slab_c is None else dew_margin_k(self.air_c, self.rh_pct, self.slab_c)


@dataclass(frozen=True)
class Margin:
    """A dew margin at one instant."""

    at: datetime
    margin_k: float


@dataclass(frozen=True)
class Judgement:
    """The verdict and its reasons in words, the gravest first."""

    dew_point_c: float
    margin_k: float | None
    verdict: Verdict
    reasons: tuple[str, ...]


def judge(
    conditions: Conditions,
    limits: Limits | None = None,
    earlier: Sequence[Margin] = (),
    now: datetime | None = None,
    units: CrewUnits = METRIC_CREW,
    moisture: SlabMoisture | None = None,
) -> Judgement:
    """Whether the crew may start in these conditions. The `earlier` margins show where the margin is heading, seen from
    `now`."""
    found = [
        _margin(conditions, limits, earlier, now, units),
        _humidity(conditions, limits),
        *_slab_within(conditions.slab_c, limits, units),
        *_moist(moisture),
        *_within("air", conditions.air_c, limits.air_c if limits else None, units),
    ]
    verdict = max((each for each, _ in found), key=_ORDER.index)
    ranked = sorted(found, key=lambda each: -_ORDER.index(each[0]))
    return Judgement(conditions.dew_point_c, conditions.margin_k, verdict, tuple(words for _, words in ranked))


def margins_of(readings: Readings) -> tuple[Margin, ...]:
    """The dew margin at every reading of the floor, with the latest values of the other two held.

    While a jump is unanswered, the colder of the two slab readings counts, and the warmer of the two air readings.
    """
    margins = []
    air_read, slab_read = worst_read(readings)
    samples = air_read, readings.humidity(), slab_read
    for entry in readings.entries:
        at = entry.happened
        values = [next((each.value for each in reversed(course) if each.at <= at), None) for course in samples]
        if None not in values:
            air_c, rh_pct, slab_c = (value for value in values if value is not None)
            margins.append(Margin(at, dew_margin_k(air_c, rh_pct, slab_c)))
    return tuple(margins)


def _margin(
    conditions: Conditions, limits: Limits | None, earlier: Sequence[Margin], now: datetime | None, units: CrewUnits
) -> tuple[Verdict, str]:
    least_k = max(LEAST_MARGIN_K, (limits.dew_margin_min_k if limits else None) or LEAST_MARGIN_K)
    margin_k = conditions.margin_k
    if margin_k is None:
        return Verdict.CAUTION, READ_THE_SLAB
    at_least = f"at least {units.write_margin(least_k)} is needed"
    if margin_k <= 0:
        return Verdict.NO_GO, f"the slab is at or below the dew point, so it is wet: {at_least} over it"
    words = f"slab {units.write_margin(margin_k)} over the dew point"
    if margin_k < least_k:
        return Verdict.NO_GO, f"{words}: {at_least}"
    left = _reaches(margin_k, least_k, earlier, now)
    if left is not None:
        return Verdict.CAUTION, f"{words} and falling: {units.write_margin(least_k)} in about {units.write_span(left)}"
    if margin_k - least_k <= NEAR_K:
        return Verdict.CAUTION, f"{words}, close to the {units.write_margin(least_k)} that is needed"
    return Verdict.GO, f"{words}: {at_least}"


def _reaches(margin_k: float, least_k: float, earlier: Sequence[Margin], now: datetime | None) -> float | None:
    """In how many seconds the margin reaches its limit at the rate since the oldest of the recent margins."""
    if now is None:
        return None
    recent = [each for each in earlier if _TREND_LEAST <= now - each.at <= _TREND_OVER]
    if not recent:
        return None
    first = min(recent, key=lambda each: each.at)
    fall_k_s = (first.margin_k - margin_k) / (now - first.at).total_seconds()
    if fall_k_s <= 0:
        return None
    left_s = (margin_k - least_k) / fall_k_s
    return left_s if left_s <= FALLS_WITHIN.total_seconds() else None


def _humidity(conditions: Conditions, limits: Limits | None) -> tuple[Verdict, str]:
    stated = limits.humidity_max_pct if limits else None
    most_pct = stated if stated is not None else MOST_HUMIDITY_PCT
    words = f"humidity {conditions.rh_pct:.0f} %, at most {most_pct:.0f} %"
    if conditions.rh_pct > most_pct:
        over = past(conditions.rh_pct, most_pct)
        return Verdict.NO_GO, f"humidity {over} % is over the {most_pct:.0f} % that is allowed"
    if most_pct - conditions.rh_pct <= NEAR_PCT:
        return Verdict.CAUTION, f"humidity {conditions.rh_pct:.0f} %, close to the {most_pct:.0f} % that is allowed"
    return Verdict.GO, words


def _moist(found: SlabMoisture | None) -> Iterator[tuple[Verdict, str]]:
    """A measured moisture against its limit; nothing is said where none was measured."""
    if found is None:
        return
    said = f"slab moisture {found.told}, at most {found.limit} ({found.source})"
    yield (Verdict.NO_GO, moisture_objection(found) or said) if found.over else (Verdict.GO, said)


def _slab_within(slab_c: float | None, limits: Limits | None, units: CrewUnits) -> Iterator[tuple[Verdict, str]]:
    if slab_c is not None:
        yield from _within("slab", slab_c, limits.slab_c if limits else None, units)


def _within(
    what: str, temp_c: float, allowed: tuple[float, float] | None, units: CrewUnits
) -> Iterator[tuple[Verdict, str]]:
    """A temperature against the sheet's limits; nothing is said where the sheet states none."""
    if allowed is None:
        return
    low, high = allowed
    span = f"{units.write_temp(low)} to {units.write_temp(high)}"
    words = f"{what} {units.write_temp(temp_c)}"
    if not low <= temp_c <= high:
        found = units.write_temp_past(temp_c, low if temp_c < low else high)
        yield Verdict.NO_GO, f"{what} {found} is outside the sheet's {span}"
    elif temp_c - low <= NEAR_K or high - temp_c <= NEAR_K:
        yield Verdict.CAUTION, f"{words}, close to the edge of the sheet's {span}"
    else:
        yield Verdict.GO, f"{words}, within the sheet's {span}"
