"""When the conditions allow a product to be laid: working hours, and the sheet's limits hour by hour."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Protocol

from mixclock.decide.conditions import LEAST_MARGIN_K, MOST_HUMIDITY_PCT
from mixclock.decide.hours import is_usual_day
from mixclock.formulas.air import dew_margin_k
from mixclock.job import practice
from mixclock.job.profile import Limits
from mixclock.job.site import Site
from mixclock.units import METRIC_CREW, CrewUnits, past
from mixclock.values import dataclass, replace

WORKED_THROUGH = timedelta(minutes=2)
"""Nobody goes home for so short a time (judgement)."""

STEP, NEAR = timedelta(minutes=15), timedelta(seconds=0.1)

DAYS_AHEAD = 14


@dataclass(frozen=True)
class ExpectedConditions:
    """What is expected at one instant."""

    air_c: float
    rh_pct: float
    slab_c: float
    slab_known: bool = True
    """Whether the slab was read or forecast; else the air stands in, and nothing is said of the dew margin."""


class Outlook(Protocol):
    """The weather as it is expected."""

    def at(self, instant: datetime) -> ExpectedConditions:
        """What is expected then."""


@dataclass(frozen=True)
class Stretch:
    """A span in which the crew works and the conditions allow the product."""

    start: datetime
    end: datetime

    def holds(self, instant: datetime) -> bool:
        """Whether an instant lies in it."""
        return self.start <= instant < self.end


@dataclass(frozen=True)
class Refusal:
    """An hour at which the crew would work but the conditions forbid it, and why."""

    at: datetime
    why: str


def objection(limits: Limits, expected: ExpectedConditions, units: CrewUnits = METRIC_CREW) -> str | None:
    """What forbids laying the product in these conditions."""
    for what, temp_c, allowed_c in (("slab", expected.slab_c, limits.slab_c), ("air", expected.air_c, limits.air_c)):
        if allowed_c is not None and not allowed_c[0] <= temp_c <= allowed_c[1]:
            return _outside(what, temp_c, allowed_c, units)
    most = limits.humidity_max_pct if limits.humidity_max_pct is not None else MOST_HUMIDITY_PCT
    if expected.rh_pct > most:
        return f"humidity of {past(expected.rh_pct, most)} %, the limit is {most:.0f} %"
    if not expected.slab_known:
        return None
    least = max(LEAST_MARGIN_K, limits.dew_margin_min_k or 0.0)
    margin = dew_margin_k(expected.air_c, expected.rh_pct, expected.slab_c)
    if margin < least:
        over, limit = units.write_margin(margin), units.write_margin(least)
        return f"slab only {over} over the dew point, the limit is {limit}"
    return None


def _outside(what: str, temp_c: float, allowed_c: tuple[float, float], units: CrewUnits) -> str:
    """A temperature outside the sheet's limits; never rounded onto the limit that it breaks."""
    low, high = (units.write_temp(each) for each in allowed_c)
    found = units.write_temp(temp_c)
    if found in (low, high):
        side = "under" if temp_c < allowed_c[0] else "over"
        return f"{what} just {side} {found}, the sheet allows {low} to {high}"
    return f"{what} at {found}, the sheet allows {low} to {high}"


def working_days(site: Site, begins: datetime) -> list[date]:
    """The days that the job names, from the first day on; without any, all but Sundays for two weeks."""
    first = begins.astimezone(site.wall).date()
    named = practice.hours(site).value.days
    if named:
        return sorted(day for day in named if day >= first)
    days = [first + timedelta(days=ahead) for ahead in range(DAYS_AHEAD)]
    return [day for day in days if is_usual_day(day)]


def working_stretches(site: Site, begins: datetime) -> list[Stretch]:
    """The working hours from an instant on, in UTC, and when the crew is at work beside them."""
    hours = practice.hours(site).value
    zone = site.wall
    found = []
    for day in working_days(site, begins):
        start = datetime.combine(day, hours.start, tzinfo=zone).astimezone(UTC)
        end = datetime.combine(day, hours.end, tzinfo=zone).astimezone(UTC)
        if end > begins:
            found.append(Stretch(max(start, begins), end))
    for start, end in site.also_works:
        apart = [each for each in found if each.end <= start or end <= each.start]
        found = sorted([*apart, Stretch(max(start, begins), end)], key=lambda each: each.start)
    return _worked_through(found)


def _worked_through(stretches: Sequence[Stretch]) -> list[Stretch]:
    """The stretches, each joined to one that ends just before it begins: who writes hours from midnight to a minute
    before midnight works through the night."""
    found: list[Stretch] = []
    for each in stretches:
        if found and each.start - found[-1].end <= WORKED_THROUGH:
            found[-1] = Stretch(found[-1].start, max(found[-1].end, each.end))
        else:
            found.append(each)
    return found


def _last_good(limits: Limits, outlook: Outlook, refused: datetime) -> datetime:
    """The last instant, to a tenth of a second, at which the conditions hold before one at which they do not."""
    good = refused - STEP
    while refused - good > NEAR:
        middle = good + (refused - good) / 2
        good, refused = (middle, refused) if objection(limits, outlook.at(middle)) is None else (good, middle)
    return good


def allowed(
    stretches: Sequence[Stretch], limits: Limits, outlook: Outlook, units: CrewUnits = METRIC_CREW
) -> tuple[list[Stretch], list[Refusal]]:
    """The parts of working hours in which the conditions hold throughout, and the hours at which they do not."""
    found: list[Stretch] = []
    refused: list[Refusal] = []
    for stretch in stretches:
        begun: datetime | None = None
        at = stretch.start
        while at < stretch.end:
            why = objection(limits, outlook.at(at), units)
            if why is None:
                begun = begun or at
            elif begun is None:
                refused.append(Refusal(at, why))
            else:
                turned = _last_good(limits, outlook, at)
                refused.append(Refusal(turned, why))
                found.append(Stretch(begun, turned))
                begun = None
            at += STEP
        if begun is not None:
            found.append(Stretch(begun, stretch.end))
    return [one for one in found if one.end - one.start >= STEP], refused


def from_then_on(stretches: list[Stretch], start: datetime | None) -> list[Stretch]:
    """The working time from an instant on."""
    if start is None:
        return stretches
    return [replace(each, start=max(each.start, start)) for each in stretches if each.end > start]
