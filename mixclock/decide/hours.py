"""When the crew is on the floor: the job's working hours, in its own zone, answered in UTC."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

from mixclock.job.practice import USUAL_HOURS
from mixclock.job.site import Hours, Site


def local(site: Site, instant: datetime) -> datetime:
    """The instant on the job's own clock."""
    return instant.astimezone(site.wall)


def is_working(site: Site, instant: datetime) -> bool:
    """Whether the crew is at work."""
    there = local(site, instant)
    hours = site.hours or USUAL_HOURS
    return _is_working_day(hours, there.date()) and hours.start <= there.time() < hours.end


def last_working_instant(site: Site, before: datetime, prep: timedelta = timedelta()) -> datetime:
    """The latest instant up to `before` at which the crew works and still has `prep` ahead of it that day.

    A recoat that closes at two in the morning must be finished the evening before. If the ten days before hold no
    working day, the answer is `before` less the preparation.
    """
    hours = site.hours or USUAL_HOURS
    there = local(site, before)
    for back in range(10):
        day = there.date() - timedelta(days=back)
        if not _is_working_day(hours, day):
            continue
        end = min(_utc(site, day, hours.end), before)
        if end - prep >= _utc(site, day, hours.start):
            return end - prep
    return before - prep


def evening_before(site: Site, instant: datetime) -> datetime:
    """The end of work on the last working day before the day of `instant`."""
    hours = site.hours or USUAL_HOURS
    day = local(site, instant).date()
    for back in range(1, 11):
        earlier = day - timedelta(days=back)
        if _is_working_day(hours, earlier):
            return _utc(site, earlier, hours.end)
    return _utc(site, day - timedelta(days=1), hours.end)


def next_working_instant(site: Site, after: datetime) -> datetime:
    """The first instant from `after` on at which the crew works; `after` itself where no day is left."""
    if is_working(site, after):
        return after
    hours = site.hours or USUAL_HOURS
    day = local(site, after).date()
    for ahead in range(15):
        start = _utc(site, day + timedelta(days=ahead), hours.start)
        if start >= after and _is_working_day(hours, day + timedelta(days=ahead)):
            return start
    return after


def _is_working_day(hours: Hours, day: date) -> bool:
    """Whether it is one of the job's named days. After the last of them, or if it names none, every day but Sunday is
    one (common practice)."""
    if hours.days and day <= max(hours.days):
        return day in hours.days
    return is_usual_day(day)


def is_usual_day(day: date) -> bool:
    """Whether crews work on a day that no job file names: all but Sunday (common practice, no source)."""
    return day.weekday() != 6


def _utc(site: Site, day: date, at: time) -> datetime:
    return datetime.combine(day, at, tzinfo=site.wall).astimezone(UTC)
