"""The clock of each step of a long job: a row for each batch on an area, so that a page of years can still be mailed.

A job of a thousand batches has ten thousand windows. One by one they make a page of megabytes that nobody scrolls; here
each is a few words in the row of its batch. The tables in CSV and JSON keep a row for each.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime

from mixclock.decide.shapes import Window
from mixclock.units import write_date, write_time_of_day
from mixclock.words.record.batchtables import LONG, is_asked_for, step_row, step_table
from mixclock.words.record.source import Record
from mixclock.words.record.table import Cell, Column, RecordTable, table

INTRO = (
    "A row for each batch on an area. Of each step: when it was done and by whom; from when and until when by the "
    "sheet's own figure at the temperatures that were read, and in brackets the hour that was called, a prompt set "
    "early (or late) on purpose; how much of its time was used. A step that nobody stated is unknown. Times to the "
    "second, one row a step, stand in `record --csv` and `record --json`."
)


def step_page_table(record: Record) -> RecordTable:
    """The steps as they stand on the page: of a long job a row a batch."""
    if not record.is_long:
        return step_table(record)
    rows: dict[tuple[int | None, int, str], dict[str, Window]] = {}
    for window in record.windows:
        if is_asked_for(record, window):
            rows.setdefault(_row_of(record, window), {}).setdefault(window.name, window)
    names = list(dict.fromkeys(name for row in rows.values() for name in row))
    columns = [Column("batch", "batch", 0), Column("area", "area"), Column("day", "day")]
    columns += [Column(f"step_{name.replace('-', '_')}", name.replace("-", " ")) for name in names]
    told = (_row(record, key, row, names) for key, row in rows.items())
    return table("steps", "The clock of each step", columns, told, intro=INTRO + LONG)


def _row_of(record: Record, window: Window) -> tuple[int | None, int, str]:
    """What stands in the bucket goes into the row of its first area."""
    batch = record.batches.get(window.batch) if window.batch is not None else None
    if window.area is not None or batch is None:
        return window.batch, window.portion, window.area or ""
    first = batch.portions[0] if batch.portions else None
    areas = first.areas if first else batch.areas
    return window.batch, first.number if first else 0, areas[0] if areas else ""


def _row(
    record: Record, key: tuple[int | None, int, str], row: dict[str, Window], names: Sequence[str]
) -> tuple[Cell, ...]:
    batch, _, area = key
    day = min(window.starts for window in row.values()).astimezone(record.zone)
    cells = ("; ".join(_words(record, row[name], _clock(record, day))) if name in row else None for name in names)
    return (batch, area or "bucket", write_date(day), *cells)


def _clock(record: Record, day: datetime) -> Callable[[datetime], str]:
    """A time of day, with its date where that is not the row's."""

    def said(at: datetime) -> str:
        there = at.astimezone(record.zone)
        clock = write_time_of_day(there.timetz())
        return clock if there.date() == day.date() else f"{write_date(there)} {clock}"

    return said


def _words(record: Record, window: Window, clock: Callable[[datetime], str]) -> Iterator[str]:
    """One step in a few words."""
    *_, by, used_pct, judged, state = step_row(record, window)
    if window.stated is not None:
        yield f"{clock(window.stated)}{f' {by}' if by else ''}"
    elif state != "done":
        yield str(state)
    opens, closes = window.opens, window.closes
    if opens is not None:
        yield f"from {clock(opens.likely)} ({clock(opens.late)})" if opens.late else f"from {clock(opens.likely)}"
    if closes is not None:
        yield f"until {clock(closes.likely)} ({clock(closes.early)})"
    if isinstance(used_pct, float | int):
        yield f"{used_pct:.0f} %"
    if judged not in (None, "inside", "after it opened"):
        yield str(judged)
