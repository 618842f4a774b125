"""Times of day as a crew says them."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from mixclock.units import write_day, write_time_of_day

ROUNDED_TO = (
    (timedelta(hours=10), timedelta(minutes=1)),
    (timedelta(days=2), timedelta(minutes=30)),
    (timedelta.max, timedelta(hours=1)),
)
"""A person rounds a time the more, the further it lies ahead: to the minute, the half hour, the hour (judgement)."""


def day_and_clock(at: datetime, now: datetime, zone: ZoneInfo) -> str:
    """A time of day to the minute, with the day in front where it is not today's: for what has happened.

    >>> from datetime import UTC, timedelta
    >>> zone, noon = ZoneInfo("UTC"), datetime(2026, 4, 13, 12, 0, tzinfo=UTC)
    >>> [day_and_clock(noon + timedelta(days=days), noon, zone) for days in (0, 1, 9)]
    ['12:00', 'tomorrow 12:00', 'Wed 22 Apr 12:00']
    """
    return _said(at.astimezone(zone).replace(tzinfo=None), now.astimezone(zone).replace(tzinfo=None), zone)


def closes_said(at: datetime, now: datetime, zone: ZoneInfo) -> str:
    """Until when, as a person says it: the further ahead the coarser, and never later than it is.

    >>> from datetime import UTC, timedelta
    >>> zone, noon = ZoneInfo("UTC"), datetime(2026, 4, 13, 12, 0, tzinfo=UTC)
    >>> [closes_said(noon + timedelta(hours=hours, minutes=51), noon, zone) for hours in (1, 20, 60)]
    ['13:51', 'tomorrow 8:30', 'Thursday 0:00']
    """
    there, here = at.astimezone(zone).replace(tzinfo=None), now.astimezone(zone).replace(tzinfo=None)
    return _said(there - _over(there, _step(at - now)), here, zone)


def opens_said(at: datetime, now: datetime, zone: ZoneInfo) -> str:
    """From when, as a person says it: the further ahead the coarser, and never earlier than it is.

    >>> from datetime import UTC, timedelta
    >>> zone, noon = ZoneInfo("UTC"), datetime(2026, 4, 13, 12, 0, tzinfo=UTC)
    >>> [opens_said(noon + timedelta(hours=hours, seconds=1), noon, zone) for hours in (1, 20, 60)]
    ['13:01', 'tomorrow 8:30', 'Thursday 1:00']
    """
    there, here = at.astimezone(zone).replace(tzinfo=None), now.astimezone(zone).replace(tzinfo=None)
    step = _step(at - now)
    over = _over(there, step)
    return _said(there - over + step if over else there, here, zone)


def _step(ahead: timedelta) -> timedelta:
    return next(step for limit, step in ROUNDED_TO if ahead < limit)


def _over(there: datetime, step: timedelta) -> timedelta:
    """How far a time on the wall is past a whole step of its day."""
    return (there - there.replace(hour=0, minute=0, second=0, microsecond=0)) % step


def _said(there: datetime, here: datetime, zone: ZoneInfo) -> str:
    """A time on the wall, its day named from here."""
    days = (there.date() - here.date()).days
    clock = write_time_of_day(there.time().replace(tzinfo=zone))
    if days == 0:
        return clock
    if days == 1:
        return f"tomorrow {clock}"
    if days == -1:
        return f"yesterday {clock}"
    if 1 < days < 6:
        return f"{there:%A} {clock}"
    return f"{write_day(there, zone)} {clock}"
