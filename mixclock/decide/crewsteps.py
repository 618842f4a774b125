"""Who does a step, how long the crew needs for it, and so when it must begin and be announced."""

from __future__ import annotations

from datetime import datetime, timedelta

from mixclock.decide.hours import evening_before, last_working_instant
from mixclock.job.practice import broadcast_rate_m2_h, roll_rate_m2_h
from mixclock.job.progress import Portion
from mixclock.job.site import Person, Site
from mixclock.job.steps import BACK_ROLL, BROADCAST, RECOAT, row_of
from mixclock.values import dataclass

DAYS_FROM = timedelta(hours=12)
"""A window that stays open this long is counted in days: its warnings follow working hours (judgement)."""

RECOAT_PREP = timedelta(minutes=30)
"""Sanding a spot, wiping, measuring out before a coat: common practice, no source."""

EVENING_LEAD = timedelta(minutes=30)
HOUR_BEFORE = timedelta(hours=1)
LEAST_NOTICE = timedelta(seconds=30)
MOST_NOTICE = timedelta(minutes=15)


@dataclass(frozen=True)
class DueTimes:
    """When a step must begin at the latest, and when it is announced before that, soonest first."""

    latest_start: datetime
    heads_up: tuple[datetime, ...]


def person_for(site: Site, step: str) -> Person | None:
    """The first of the crew who does this step; None if it is anybody's."""
    skill = row_of(step).skill
    if skill is None or not any(person.does for person in site.crew):
        return site.crew[0] if skill and len(site.crew) == 1 else None
    return next((person for person in site.crew if skill in person.does), None)


def time_needed(site: Site, step: str, portion: Portion | None, area: str | None) -> timedelta:
    """What the step takes on this area at this crew's rate; nothing for a step without a rate."""
    person = person_for(site, step)
    rate_m2_h = _rate_m2_h(person, step)
    size_m2 = _size_m2(site, portion, area)
    if rate_m2_h is None or size_m2 is None:
        return timedelta()
    return timedelta(hours=size_m2 / rate_m2_h)


def due_of(
    site: Site, step: str, starts: datetime, early: datetime, needed: timedelta, opens: datetime | None = None
) -> DueTimes:
    """Latest start and warnings for an early edge. If the step has to wait, `opens` is from when it is allowed.

    Minutes: the warning comes clamp(span / 5, 30 s, 15 min) before the latest start, or as long before it as the job
    file wants (`leads`). Days: the evening before and an hour before, counted back from the last working hour less the
    preparation. If a window opens and shuts while nobody is at work, the crew hears of it before it goes home. The step
    is still called inside the window, never before it.
    """
    if early - starts >= DAYS_FROM:
        prep = RECOAT_PREP if step == RECOAT else needed
        deadline = max(starts, last_working_instant(site, early, prep))
        if opens is not None and deadline < opens:
            going_home = max(starts, last_working_instant(site, opens) - HOUR_BEFORE)
            return DueTimes(max(opens, early - prep), (going_home,))
        evening = evening_before(site, deadline) - EVENING_LEAD
        warnings = sorted({max(starts, evening), max(starts, deadline - HOUR_BEFORE)})
        return DueTimes(deadline, tuple(warnings))
    latest = max(starts, early - needed)
    wanted_s = site.lead_s(step)
    usual = min(MOST_NOTICE, max(LEAST_NOTICE, (early - starts) / 5))
    notice = usual if wanted_s is None else timedelta(seconds=wanted_s)
    return DueTimes(latest, (max(starts, latest - notice),))


def _rate_m2_h(person: Person | None, step: str) -> float | None:
    if step == BACK_ROLL:
        return roll_rate_m2_h(person)
    if step == BROADCAST:
        return broadcast_rate_m2_h(person)
    return None


def _size_m2(site: Site, portion: Portion | None, area: str | None) -> float | None:
    if portion is not None and portion.covered_m2 is not None:
        return portion.covered_m2 / max(1, len(portion.areas))
    found = site.area(area) if area else None
    return found.size_m2 if found else None
