"""The instant that a typed time of day means: on which day, in the job's zone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo

from mixclock.job.saying import CannotTellError
from mixclock.units import TypedTime, write_time_of_day

_HALF_A_DAY = timedelta(hours=12)


def instant_meant(typed: TypedTime, zone: tzinfo, now: datetime) -> datetime:
    """The instant (UTC) that somebody means who types a time of day now.

    Without a date it is today's, or yesterday's where today's is more than 12 hours ahead: at ten past midnight
    "23:50" was twenty minutes ago. An hour that the clocks repeat in autumn is its later run, unless that is still to
    come; an hour that they skip in spring is refused.
    """
    if typed.utc_offset_s is not None:
        zone = timezone(timedelta(seconds=typed.utc_offset_s))
    day = typed.date if typed.date is not None else now.astimezone(zone).date()
    naive = datetime.combine(day, time(typed.hour, typed.minute, typed.second, typed.microsecond))
    instant = _in_zone(naive, zone, now)
    if typed.date is None and instant - now > _HALF_A_DAY:
        instant = _in_zone(naive - timedelta(days=1), zone, now)
    return instant


def instant_to_come(typed: TypedTime, zone: tzinfo, now: datetime, days: Sequence[date] = ()) -> datetime:
    """The instant (UTC) that somebody means who types when work is to begin.

    Without a date it is that hour on the first of the working days that is still to come; without named days, today's
    or tomorrow's.
    """
    if typed.utc_offset_s is not None:
        zone = timezone(timedelta(seconds=typed.utc_offset_s))
    today = now.astimezone(zone).date()
    of_day = time(typed.hour, typed.minute, typed.second, typed.microsecond)
    if typed.date is not None:
        return _in_zone(datetime.combine(typed.date, of_day), zone, now)
    to_come = sorted(day for day in days if day >= today) or [today, today + timedelta(days=1)]
    found = [_in_zone(datetime.combine(day, of_day), zone, now) for day in to_come]
    return next((instant for instant in found if instant >= now), found[-1])


def _in_zone(naive: datetime, zone: tzinfo, now: datetime) -> datetime:
    first, second = (naive.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1))
    if first.astimezone(zone).replace(tzinfo=None) != naive:
        clock = write_time_of_day(naive.time())
        raise CannotTellError(f"{clock} was skipped on {naive:%Y-%m-%d}, when the clocks went forward; mend it")
    return second if second <= now else first
