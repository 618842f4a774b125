"""The clock on a crew's wall: a zone that knows whether its people say 14:05 or 2:05 pm, and 14 Apr or Apr 14.

Every function that writes a time gets the zone anyway, so none can forget how this crew reads it.
"""

from __future__ import annotations

from datetime import date, datetime, time, tzinfo
from functools import cache
from zoneinfo import ZoneInfo

TWELVE_HOURS = "12 h"
CLOCKS = ("24 h", TWELVE_HOURS)


class MonthFirstZone(ZoneInfo):
    """A zone whose people say the month before the day."""

    twelve_hours = False


class TwelveHourZone(MonthFirstZone):
    """A zone whose people say 2:05 pm."""

    twelve_hours = True


def wall_zone(name: str, *, clock: str | None = None, month_first: bool = False) -> ZoneInfo:
    """The zone of that name with the clock that hangs on its wall.

    >>> wall_zone("America/Denver", clock="12 h").key
    'America/Denver'
    """
    if clock == TWELVE_HOURS:
        return TwelveHourZone(name)
    return MonthFirstZone(name) if month_first else ZoneInfo(name)


def says_twelve_hours(zone: tzinfo | None) -> bool:
    """Whether the people of a zone say 2:05 pm."""
    return isinstance(zone, TwelveHourZone)


def says_month_first(zone: tzinfo | None) -> bool:
    """Whether the people of a zone say Apr 14."""
    return isinstance(zone, MonthFirstZone)


def write_clock(at: datetime, zone: tzinfo, *, up: bool = False, seconds: bool = False) -> str:
    """The time of day, seconds dropped: never later than it is, as a closing edge needs; `up` is for what opens.

    >>> from datetime import timezone, timedelta
    >>> lisbon_summer = timezone(timedelta(hours=1))
    >>> write_clock(datetime(2026, 4, 13, 8, 42, 50, tzinfo=timezone.utc), lisbon_summer)
    '9:42'
    >>> write_clock(datetime(2026, 4, 13, 8, 42, 50, tzinfo=timezone.utc), lisbon_summer, up=True)
    '9:43'
    >>> write_clock(datetime(2026, 4, 13, 20, 42, 50, tzinfo=timezone.utc), TwelveHourZone("UTC"), seconds=True)
    '8:42:50 pm'
    """
    if at.tzinfo is None:
        raise ValueError("a time without a zone cannot be put on the wall")
    local = at.astimezone(zone)
    minutes = local.hour * 60 + local.minute + (1 if up and (local.second or local.microsecond) else 0)
    of_day = time(minutes // 60 % 24, minutes % 60, local.second if seconds else 0, tzinfo=zone)
    return write_time_of_day(of_day, seconds=seconds)


def write_time_of_day(of_day: time, *, seconds: bool = False) -> str:
    """A time of day as the people of its zone say it, the same wherever a person reads one.

    >>> write_time_of_day(time(8, 5)), write_time_of_day(time(0, 5, tzinfo=TwelveHourZone("UTC")))
    ('8:05', '12:05 am')
    """
    past = f"{of_day.minute:02}" + (f":{of_day.second:02}" if seconds else "")
    if not says_twelve_hours(of_day.tzinfo):
        return f"{of_day.hour}:{past}"
    return f"{of_day.hour % 12 or 12}:{past} {'am' if of_day.hour < 12 else 'pm'}"


def write_date(day: date | datetime, zone: tzinfo | None = None) -> str:
    """A day without its weekday.

    >>> write_date(date(2026, 4, 14)), write_date(date(2026, 4, 14), TwelveHourZone("UTC"))
    ('14 Apr', 'Apr 14')
    """
    month_first = says_month_first(zone or getattr(day, "tzinfo", None))
    month = _month(day.month)
    return f"{month} {day.day}" if month_first else f"{day.day} {month}"


@cache
def _month(number: int) -> str:
    return f"{date(2000, number, 1):%b}"


def write_day(day: date | datetime, zone: tzinfo | None = None) -> str:
    """A day with its weekday.

    >>> write_day(date(2026, 4, 14)), write_day(date(2026, 4, 14), TwelveHourZone("UTC"))
    ('Tue 14 Apr', 'Tue Apr 14')
    """
    return f"{day:%a} {write_date(day, zone)}"
