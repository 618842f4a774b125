"""Reads a job file's working hours and forecast. The file has them on the job's own clock; mixclock keeps them in
UTC."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from itertools import pairwise

from mixclock.job import kinds
from mixclock.job.mistakes import Mistake, quoted
from mixclock.job.site import Forecast, Hours
from mixclock.job.tablereading import Table
from mixclock.units import UnitError, clock_time

FORECAST_GAP_MAX = timedelta(hours=6)
"""Judgement: a slab follows the day, so a temperature held longer than this is no forecast."""

MOST_BREAK_S = 3 * 3600.0

USUAL_START, USUAL_END = Hours().start, Hours().end
_DAY_MEND = 'expected a day as in "2026-04-13"'
_TIME_MEND = 'expected a time of day as in "07:30"'
_INSTANT_MEND = 'expected day and time on the job\'s clock, as in "2026-04-13 08:00"'


def read_hours(table: Table) -> Hours | None:
    """The [hours] table, or None if the file has none."""
    days, start, end = _days(table), _time_of_day(table, "start"), _time_of_day(table, "end")
    set_up_s, clean_up_s = table.quantity("set_up", kinds.SPAN), table.quantity("clean_up", kinds.SPAN)
    breaks = _breaks(table)
    table.finish()
    if not table.values:
        return None
    hours = Hours(days, start or USUAL_START, end or USUAL_END, set_up_s, clean_up_s, breaks)
    readable = all(
        time_of_day is not None or key not in table.values for key, time_of_day in (("start", start), ("end", end))
    )
    if readable and hours.end <= hours.start:
        shown = f"{hours.start:%H:%M} to {hours.end:%H:%M}"
        table.wrong("end", f"the working day ends before it begins: {shown}", "write an end that is after the start")
    return hours


def _breaks(table: Table) -> tuple[tuple[time, float], ...]:
    """The breaks, each as "12:30 for 30 min"."""
    found = []
    for said in table.words("breaks", '["12:30 for 30 min"]'):
        at, _, span = said.partition(" for ")
        try:
            typed, span_s = clock_time(at), kinds.SPAN.read(span)
        except UnitError:
            table.wrong("breaks", f"{quoted(said)} is no break", 'expected something like "12:30 for 30 min"')
            continue
        if typed.date is not None or not 60.0 <= span_s <= MOST_BREAK_S:
            table.wrong("breaks", f"{quoted(said)} is no break of a working day", 'expected "12:30 for 30 min"')
            continue
        found.append((time(typed.hour, typed.minute), span_s))
    return tuple(sorted(found))


def _days(table: Table) -> tuple[date, ...]:
    raw = table.raw("days")
    if raw is None:
        return ()
    if not isinstance(raw, list) or not raw:
        table.wrong("days", f"{quoted(raw)} is not a list of days", 'expected days = ["2026-04-13", "2026-04-14"]')
        return ()
    days = [day for part in raw if (day := _day(table, part)) is not None]
    for day in sorted({day for day in days if days.count(day) > 1}):
        table.wrong("days", f"{day} stands twice", "write each day once")
    return tuple(sorted(set(days)))


def _day(table: Table, raw: object) -> date | None:
    if isinstance(raw, date) and not isinstance(raw, datetime):
        return raw
    if isinstance(raw, str):
        try:
            return date.fromisoformat(raw.strip())
        except ValueError:
            pass
    table.wrong("days", f"{quoted(raw)} is no day of the calendar", _DAY_MEND)
    return None


def _time_of_day(table: Table, key: str) -> time | None:
    raw = table.raw(key)
    if raw is None or isinstance(raw, time):
        return raw
    if isinstance(raw, str):
        try:
            typed = clock_time(raw)
        except UnitError as error:
            table.wrong(key, str(error).rpartition(": ")[0], _TIME_MEND)
            return None
        if typed.date is None and typed.utc_offset_s is None:
            return time(typed.hour, typed.minute, typed.second)
    table.wrong(key, f"{quoted(raw)} is no time of day", _TIME_MEND)
    return None


def read_forecast(tables: Sequence[Table], zone: tzinfo) -> tuple[Forecast, ...]:
    """The [[forecast]] tables, which must follow each other in time."""
    entries = [(table, entry) for table in tables if (entry := _entry(table, zone)) is not None]
    for (_, before), (table, entry) in pairwise(entries):
        if entry.at == before.at:
            table.wrong("at", f"{_said(entry.at, zone)} is forecast twice", "keep one of the two")
        elif entry.at < before.at:
            shown = f"{_said(entry.at, zone)} stands after {_said(before.at, zone)}"
            table.wrong("at", f"out of order: {shown}", "write the earliest first")
    return tuple(entry for _, entry in entries)


def _entry(table: Table, zone: tzinfo) -> Forecast | None:
    at = _instant(table, "at", zone)
    air_c, slab_c = table.quantity("air", kinds.TEMP), table.quantity("slab", kinds.TEMP)
    rh_pct = table.quantity("humidity", kinds.HUMIDITY)
    if not {"air", "slab", "humidity"} & table.values.keys():
        table.wrong("air", "is missing, and so are humidity and slab", 'state at least one, as in air = "16 °C"')
    table.finish()
    return None if at is None else Forecast(at, air_c, rh_pct, slab_c)


def _instant(table: Table, key: str, zone: tzinfo) -> datetime | None:
    raw = table.raw(key)
    if raw is None:
        table.wrong(key, "is missing", _INSTANT_MEND)
        return None
    there = raw if isinstance(raw, datetime) else _typed_instant(table, key, raw)
    if there is None:
        return None
    try:
        return (there if there.tzinfo else there.replace(tzinfo=zone)).astimezone(UTC)
    except (OverflowError, ValueError):
        table.wrong(key, f"{quoted(str(raw))} is too far away", _INSTANT_MEND)
        return None


def _typed_instant(table: Table, key: str, raw: object) -> datetime | None:
    try:
        typed = clock_time(raw) if isinstance(raw, str) else None
    except UnitError as error:
        table.wrong(key, str(error).rpartition(": ")[0], _INSTANT_MEND)
        return None
    if typed is None or typed.date is None:
        table.wrong(key, f"{quoted(raw)} is no day and time", _INSTANT_MEND)
        return None
    offset = None if typed.utc_offset_s is None else timezone(timedelta(seconds=typed.utc_offset_s))
    return datetime.combine(typed.date, time(typed.hour, typed.minute, typed.second), tzinfo=offset)


def check_gaps(top: Table, forecast: Sequence[Forecast], hours: Hours | None, zone: tzinfo) -> None:
    """Note a mistake if more than six working hours lie between two entries of the forecast."""
    if hours is None:
        return
    known = [entry.at for entry in forecast]
    for begin, end in forecast_holes(known, working_spans(hours.days, hours, zone)):
        hole = forecast_hole("nothing", begin, end, zone)
        top.wrong(hole.where, hole.what, hole.mend)


def working_spans(days: Iterable[date], hours: Hours, zone: tzinfo) -> list[tuple[datetime, datetime]]:
    """From when to when the crew works on each of these days."""
    edges = ([datetime.combine(day, edge, zone).astimezone(UTC) for edge in (hours.start, hours.end)] for day in days)
    return [(begin, end) for begin, end in edges]


def forecast_holes(
    known: Sequence[datetime], spans: Iterable[tuple[datetime, datetime]]
) -> Iterator[tuple[datetime, datetime]]:
    """The stretches between two entries with too much working time for a straight line."""
    for opens, shuts in spans:
        for before, after in pairwise(known):
            begin, end = max(before, opens), min(after, shuts)
            if end - begin > FORECAST_GAP_MAX:
                yield begin, end


def forecast_hole(what: str, begin: datetime, end: datetime, zone: tzinfo) -> Mistake:
    """A hole as a mistake of the job file."""
    return Mistake(
        "forecast",
        f"{what} from {_said(begin, zone)} to {_said(end, zone)}, more than 6 working hours",
        "add a [[forecast]] in between, or drop the later ones so that the last one holds",
    )


def _said(instant: datetime, zone: tzinfo) -> str:
    return f"{instant.astimezone(zone):%Y-%m-%d %H:%M}"
