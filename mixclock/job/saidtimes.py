"""Which instant a typed time of day means: on which day, in the job's zone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo

from mixclock.job.mistakes import plain_name
from mixclock.job.saying import CannotTellError
from mixclock.units import TypedTime, clock_time, span_s, write_time_of_day

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
    naive = typed.on(day)
    instant = _in_zone(naive, zone, now)
    if typed.date is None and instant - now > _HALF_A_DAY:
        instant = _in_zone(naive - timedelta(days=1), zone, now)
    return instant


def instant_on_day_of(
    typed: TypedTime, zone: tzinfo, of: datetime, day: str = "", now: datetime | None = None
) -> datetime:
    """The instant (UTC) that somebody means who types a time of day about something that happened.

    Without a date it is that hour on the day on which it happened, in the afternoon where the morning's lies before
    it ("3:30" of a batch that was mixed at 14:50 is 15:30); `day` names another weekday, the nearest one.
    """
    if typed.date is not None or typed.utc_offset_s is not None:
        return instant_meant(typed, zone, of)
    there = of.astimezone(zone)
    date_meant = _day_meant(there.date(), day, now.astimezone(zone).date() if now else None)
    naive = typed.on(date_meant)
    instant = _in_zone(naive, zone, of)
    if not day and instant < of and typed.hour < 12 and instant + _HALF_A_DAY >= of:
        return _in_zone(naive + _HALF_A_DAY, zone, of)
    return instant


_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def _day_meant(base: date, said: str, today: date | None) -> date:
    back = _DAYS_BACK.get(said.casefold())
    if back is not None and today is not None:
        return today - timedelta(days=back)
    return _nearest_weekday(base, said) if said else base


def _nearest_weekday(base: date, said: str) -> date:
    plain = said.strip(" .,").casefold()
    meant = next((index for index, name in enumerate(_WEEKDAYS) if len(plain) >= 3 and name.startswith(plain)), None)
    if meant is None:
        raise CannotTellError(f"'{said}' is no day; say it as Tue or Tuesday")
    after = (meant - base.weekday()) % 7
    return base + timedelta(days=after if after <= 3 else after - 7)


_WORDS_OF_DAY = {word: TypedTime(None, hour, 0) for word, hour in (("noon", 12), ("midday", 12), ("midnight", 0))}
_DAYS_BACK = {"today": 0, "yesterday": 1}


def instant_said(text: str, zone: tzinfo, now: datetime) -> datetime:
    """The instant (UTC) that somebody means, as people say times: "8:20", "yesterday 8:20", "noon", "5 min ago".

    >>> noon = datetime(2026, 4, 13, 12, 0, tzinfo=UTC)
    >>> [f"{instant_said(said, UTC, noon):%d %H:%M}" for said in ("8:20", "yesterday 8:20", "noon", "5 min ago", "now")]
    ['13 08:20', '12 08:20', '13 12:00', '13 11:55', '13 12:00']
    """
    plain = plain_name(text)
    if plain == "now":
        return now
    if plain.endswith(" ago"):
        return now - timedelta(seconds=span_s(plain.removesuffix(" ago")))
    first, _, rest = plain.partition(" ")
    if first not in _DAYS_BACK and plain not in _WORDS_OF_DAY:
        return instant_meant(clock_time(text), zone, now)
    back = _DAYS_BACK.get(first)
    said = rest.removeprefix("at ") if back is not None else plain
    typed = _WORDS_OF_DAY.get(said) or clock_time(said)
    day = now.astimezone(zone).date() - timedelta(days=back or 0)
    instant = _in_zone(typed.on(day), zone, now)
    late = back is None and instant - now > _HALF_A_DAY
    return _in_zone(typed.on(day - timedelta(days=1)), zone, now) if late else instant


def instant_to_come(typed: TypedTime, zone: tzinfo, now: datetime, days: Sequence[date] = ()) -> datetime:
    """The instant (UTC) that somebody means who types when work is to begin.

    Without a date it is that hour on the first of the working days that is still to come; without named days, today's
    or tomorrow's.
    """
    if typed.utc_offset_s is not None:
        zone = timezone(timedelta(seconds=typed.utc_offset_s))
    today = now.astimezone(zone).date()
    if typed.date is not None:
        return _in_zone(typed.on(typed.date), zone, now)
    to_come = sorted(day for day in days if day >= today) or [today, today + timedelta(days=1)]
    found = [_in_zone(typed.on(day), zone, now) for day in to_come]
    return next((instant for instant in found if instant >= now), found[-1])


def _in_zone(naive: datetime, zone: tzinfo, now: datetime) -> datetime:
    first, second = (naive.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1))
    if first.astimezone(zone).replace(tzinfo=None) != naive:
        clock = write_time_of_day(naive.time().replace(tzinfo=zone))
        raise CannotTellError(f"{clock} was skipped on {naive:%Y-%m-%d}, when the clocks went forward; mend it")
    return second if second <= now else first
