"""Times of day as a crew says them."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from mixclock.units import write_clock


def day_and_clock(at: datetime, now: datetime, zone: ZoneInfo) -> str:
    """A time of day, with the day in front where it is not today's; a deadline is never said later than it is.

    >>> from datetime import UTC, timedelta
    >>> zone, noon = ZoneInfo("UTC"), datetime(2026, 4, 13, 12, 0, tzinfo=UTC)
    >>> [day_and_clock(noon + timedelta(days=days), noon, zone) for days in (0, 1, 9)]
    ['12:00', 'tomorrow 12:00', 'Wed 22 Apr 12:00']
    """
    there, here = at.astimezone(zone), now.astimezone(zone)
    days = (there.date() - here.date()).days
    clock = write_clock(at, zone)
    if days == 0:
        return clock
    if days == 1:
        return f"tomorrow {clock}"
    if days == -1:
        return f"yesterday {clock}"
    if 1 < days < 6:
        return f"{there:%A} {clock}"
    return f"{there:%a} {there.day} {there:%b} {clock}"


def next_minute(at: datetime) -> datetime:
    """To the next full minute: what opens is never told too early."""
    return at + timedelta(seconds=-(at.second + at.microsecond / 1e6) % 60)
