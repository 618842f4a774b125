"""Reads what a temperature logger exported: a table of times, temperatures and humidities, as text.

Every maker writes such a table differently, so the reader knows columns by their headings, never by their place. The
headings may not tell the zone, or the order of day and month: then the reader asks and does not guess. It holds back
and shows what cannot be true: a jump, a stuck value, humidity over 100 %.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta, tzinfo

from mixclock.job.jumps import JUMP_K, JUMP_WITHIN
from mixclock.job.loggertimes import TimeOrder, instants, zone_in
from mixclock.job.mistakes import Mistake, Mistakes, did_you_mean, quoted
from mixclock.units import degrees_scale
from mixclock.values import dataclass, replace

DELIMITERS = (",", ";", "\t", "|")
LEAST_COLUMNS = 2


STUCK_FOR = timedelta(hours=12)
"""If a temperature keeps its last digit for half a day, the probe is dead (judgement)."""

STUCK_ROWS = 12
AIR_C = (-40.0, 60.0)

_TIME = re.compile(r"date|time|zeit|datum|fecha|heure|hora|timestamp", re.IGNORECASE)
_TEMP = re.compile(r"temp|celsius|fahrenheit|°\s*[cf]\b", re.IGNORECASE)
_HUMID = re.compile(r"\brh\b|%\s*rh|humid|feucht|humedad|umidit", re.IGNORECASE)
_DEW = re.compile(r"dew|taupunkt|roc[ií]o|rugiada|ros[ée]e", re.IGNORECASE)
_CELSIUS = re.compile(r"celsius|°\s*c(?![a-z])|\(\s*c\s*\)|[_ ,]c$|degc", re.IGNORECASE)
_FAHRENHEIT = re.compile(r"fahrenheit|°\s*f(?![a-z])|\(\s*f\s*\)|[_ ,]f$|degf", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")
_CELL = re.compile(r"(?P<number>[+-]?\d+(?:[.,]\d+)?)\s*(?P<unit>[°%a-zA-Z ]*)")


@dataclass(frozen=True)
class LoggerColumns:
    """Which heading holds what; `degrees` is "C" or "F"."""

    time: str
    temperature: str | None
    humidity: str | None
    degrees: str | None
    zone: tzinfo | None


@dataclass(frozen=True)
class LoggerRow:
    """One line of the export that can be believed."""

    line: int
    at: datetime
    temp_c: float | None
    rh_pct: float | None


@dataclass(frozen=True)
class HeldBack:
    """One line of the export that cannot be believed, and why."""

    line: int
    why: str


@dataclass(frozen=True)
class LoggerTable:
    """A whole export: its columns, the rows that count, the rows held back, and how many rows held no value."""

    columns: LoggerColumns
    rows: tuple[LoggerRow, ...]
    held_back: tuple[HeldBack, ...]
    blank: int


@dataclass(frozen=True)
class LoggerWish:
    """What a person said about an export: which column to take, its degrees, its zone, and the order of day and
    month."""

    temperature: str | None = None
    humidity: str | None = None
    degrees: str | None = None
    zone: str | None = None
    order: TimeOrder | None = None


_NO_WISH = LoggerWish()


def logger_table(text: str, wish: LoggerWish = _NO_WISH) -> LoggerTable:
    """The readings of a logger's export. Raises `Mistakes`, all at once, if it can't be understood.

    >>> told = logger_table("Timestamp UTC;Temp (°C);RH (%)\\n2026-04-13 08:00;16,5;62\\n", LoggerWish())
    >>> told.rows[0].temp_c, told.rows[0].rh_pct, told.columns.degrees
    (16.5, 62.0, 'C')
    """
    lines = _cells(text.removeprefix("\ufeff"))
    head, columns, mistakes = _headings(lines, wish)
    if mistakes or columns is None:
        raise Mistakes(mistakes)
    names = _unique(lines[head])
    body = [(number, dict(zip(names, cells, strict=False))) for number, cells in _numbered(lines, head)]
    stamped = [(number, cells) for number, cells in body if cells.get(columns.time, "").strip()]
    times = instants([cells[columns.time] for _, cells in stamped], columns.zone, wish.zone, wish.order)
    rows, held, blank = _rows(stamped, times, columns)
    kept, suspect = believable(rows)
    return LoggerTable(columns, kept, tuple(sorted((*held, *suspect), key=lambda each: each.line)), blank)


def _cells(text: str) -> list[list[str]]:
    """The table split by whichever delimiter makes the most of its first rows."""
    best: list[list[str]] = []
    for delimiter in DELIMITERS:
        read = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
        try:
            split = [[cell.strip() for cell in row] for row in read]
        except csv.Error as error:
            raise Mistakes([Mistake("", f"this is no table ({error})", "export it as CSV")]) from error
        if sum(map(len, split[:20])) > sum(map(len, best[:20])):
            best = split
    return best


def _headings(lines: Sequence[Sequence[str]], wish: LoggerWish) -> tuple[int, LoggerColumns | None, list[Mistake]]:
    """The row of headings: the first that names a time and a temperature or a humidity."""
    for index, cells in enumerate(lines[:30]):
        names = _unique(cells)
        time = next((name for name in names if _TIME.search(name)), None)
        readable = any(_TEMP.search(name) or _HUMID.search(name) for name in names if not _DEW.search(name))
        if time is not None and readable and len(names) >= LEAST_COLUMNS:
            return index, *_columns(names, time, wish)
    seen = quoted(", ".join(lines[0])) if lines else "an empty file"
    mend = "a logger's export has a row of headings with a time and a temperature or a humidity"
    return 0, None, [Mistake("", f"no headings found in {seen}", mend)]


def _columns(names: Sequence[str], time: str, wish: LoggerWish) -> tuple[LoggerColumns | None, list[Mistake]]:
    mistakes: list[Mistake] = []
    plain = [name for name in names if name != time and not _DEW.search(name)]
    temperature = _picked(wish.temperature, [name for name in plain if _is_temperature(name)], names, mistakes)
    humidity = _picked(wish.humidity, [name for name in plain if _HUMID.search(name)], names, mistakes)
    degrees = wish.degrees or _degrees(temperature)
    if temperature is not None and degrees is None:
        mend = "say --degrees C or --degrees F"
        mistakes.append(Mistake(temperature, "names neither °C nor °F", mend))
    return LoggerColumns(time, temperature, humidity, degrees, zone_in(time)), mistakes


def _is_temperature(name: str) -> bool:
    return bool(_TEMP.search(name)) and not _HUMID.search(name)


def _picked(said: str | None, candidates: Sequence[str], names: Sequence[str], mistakes: list[Mistake]) -> str | None:
    """The column that a person named, else the only candidate, else the first of several."""
    if said is None:
        return candidates[0] if candidates else None
    exact = [name for name in names if name.casefold() == said.casefold()]
    exact = exact or [name for name in names if said.casefold() in name.casefold()]
    if len(exact) != 1:
        mistakes.append(Mistake("", f"no single column is called {quoted(said)}", did_you_mean(said, names)))
        return None
    return exact[0]


def _degrees(heading: str | None) -> str | None:
    if heading is None:
        return None
    return "C" if _CELSIUS.search(heading) else "F" if _FAHRENHEIT.search(heading) else None


def _unique(cells: Sequence[str]) -> list[str]:
    """The headings made different: a second one of the same name gets a number."""
    names: list[str] = []
    for cell in cells:
        again = sum(1 for name in names if name == cell or name.startswith(f"{cell} #"))
        names.append(f"{cell} #{again + 1}" if again else cell)
    return names


def _numbered(lines: Sequence[Sequence[str]], head: int) -> Iterable[tuple[int, Sequence[str]]]:
    """The rows below the headings with their line number, as an editor counts."""
    return ((index + 1, cells) for index, cells in enumerate(lines) if index > head and any(cells))


def _rows(
    stamped: Sequence[tuple[int, dict[str, str]]], times: Sequence[datetime | None], columns: LoggerColumns
) -> tuple[list[LoggerRow], list[HeldBack], int]:
    rows: list[LoggerRow] = []
    held: list[HeldBack] = []
    blank = 0
    for (line, cells), at in zip(stamped, times, strict=True):
        temp, wrong_temp = _temperature(cells.get(columns.temperature or ""), columns.degrees)
        damp, wrong_damp = _humidity(cells.get(columns.humidity or ""))
        wrong = wrong_temp or wrong_damp or ("" if at is not None else f"no time: {quoted(cells[columns.time])}")
        if wrong or at is None:
            held.append(HeldBack(line, wrong))
        elif temp is None and damp is None:
            blank += 1
        else:
            rows.append(LoggerRow(line, at, temp, damp))
    return rows, held, blank


def _temperature(cell: str | None, degrees: str | None) -> tuple[float | None, str]:
    value, unit = _value(cell)
    if value is None:
        return None, f"no temperature: {quoted(cell)}" if cell and _NUMBER.search(cell) else ""
    own = unit.replace("°", "").strip().upper()
    if own not in ("", "C", "F"):
        return None, f"no temperature: {quoted(cell)}"
    temp_c = degrees_scale(own or degrees).back(value)
    if not AIR_C[0] <= temp_c <= AIR_C[1]:
        return None, f"{value:g} °{own or degrees} is no air indoors"
    return round(temp_c, 3), ""


def _humidity(cell: str | None) -> tuple[float | None, str]:
    value, _ = _value(cell)
    if value is None:
        return None, ""
    return (value, "") if 0.0 <= value <= 100.0 else (None, f"humidity of {value:g} %")


def _value(cell: str | None) -> tuple[float | None, str]:
    """A number with a point or a comma, and the text behind it."""
    found = _CELL.fullmatch(cell.strip()) if cell else None
    if found is None:
        return None, ""
    return float(found["number"].replace(",", ".")), found["unit"]


def believable(rows: Sequence[LoggerRow]) -> tuple[tuple[LoggerRow, ...], list[HeldBack]]:
    """The rows that count. Beside a stuck temperature the humidity still counts."""
    kept, held = _without_jumps(rows)
    stuck = _stuck(kept)
    told = [
        HeldBack(row.line, "the same temperature to the last digit for over 12 h: stuck")
        for row in kept
        if row.line in stuck
    ]
    plain = (replace(row, temp_c=None) if row.line in stuck else row for row in kept)
    return tuple(row for row in plain if row.temp_c is not None or row.rh_pct is not None), [*held, *told]


def _without_jumps(rows: Sequence[LoggerRow]) -> tuple[list[LoggerRow], list[HeldBack]]:
    """The rows without jumps. Rows after a jump are held back until the value returns, or has stayed at its new level
    for two hours."""
    kept: list[LoggerRow] = []
    held: list[HeldBack] = []
    last: tuple[datetime, float] | None = None
    for row in rows:
        jumped_k = abs(row.temp_c - last[1]) if last is not None and row.temp_c is not None else 0.0
        if last is not None and jumped_k > JUMP_K and row.at - last[0] <= JUMP_WITHIN:
            held.append(HeldBack(row.line, "its temperature jumps further within two hours than air or a slab can"))
            continue
        kept.append(row)
        if row.temp_c is not None:
            last = row.at, row.temp_c
    return kept, held


def _stuck(rows: Sequence[LoggerRow]) -> set[int]:
    """The lines of runs in which nothing moved for half a day, after their first two hours."""
    lines: set[int] = set()
    run: list[LoggerRow] = []
    for row in [*(row for row in rows if row.temp_c is not None), None]:
        if row is not None and run and row.temp_c == run[0].temp_c:
            run.append(row)
            continue
        if len(run) >= STUCK_ROWS and run[-1].at - run[0].at > STUCK_FOR:
            lines.update(each.line for each in run if each.at - run[0].at > JUMP_WITHIN)
        run = [row] if row is not None else []
    return lines
