"""The record's tables as CSV, one file each: numbers are numbers, and no text can act as a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from datetime import datetime
from zoneinfo import ZoneInfo

from mixclock.units import METRIC_CREW, CrewUnits
from mixclock.words.record.table import Cell, Column, RecordTable, heading, in_units

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What makes a spreadsheet take a text for a formula (OWASP, CSV injection)."""


def csv_files(
    tables: Iterable[RecordTable], zone: ZoneInfo, units: CrewUnits = METRIC_CREW, decimal: str = "."
) -> dict[str, str]:
    """The text of each file by its name, in the crew's units and on the crew's wall; the headings say which.

    With a `decimal` comma the cells stand between semicolons, as spreadsheets of such countries write them.
    """
    return {f"{table.name.replace('_', '-')}.csv": _csv(table, zone, units, decimal) for table in tables}


def _csv(table: RecordTable, zone: ZoneInfo, units: CrewUnits, decimal: str) -> str:
    written = io.StringIO(newline="")
    writer = csv.writer(written, delimiter=";" if decimal == "," else ",", lineterminator="\r\n")
    writer.writerow(headings(table, zone, units))
    writer.writerows([_plain(cell, column, zone, units, decimal)
                      for cell, column in zip(row, table.columns, strict=True)]
                     for row in table.rows)  # fmt: skip
    return written.getvalue()


def headings(table: RecordTable, zone: ZoneInfo, units: CrewUnits) -> list[str]:
    """The columns' titles with their units, none of them twice; times say in which zone they are."""
    titles: list[str] = []
    for index, column in enumerate(table.columns):
        timed = any(isinstance(row[index], datetime) for row in table.rows)
        title = f"{heading(column, units)} ({zone.key})" if timed else heading(column, units)
        titles.append(title if title not in titles else f"{title} ({column.key.replace('_', ' ')})")
    return titles


def _plain(cell: Cell, column: Column, zone: ZoneInfo, units: CrewUnits, decimal: str) -> str:
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return f"{cell.astimezone(zone):%Y-%m-%d %H:%M:%S}"
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, int):
        return str(cell)
    if isinstance(cell, float):
        return plain_number(in_units(cell, column, units), max(column.digits, 3)).replace(".", decimal)
    return harmless(cell)


def plain_number(value: float, digits: int) -> str:
    """A number without zeros that say nothing: a spreadsheet may read "12.000" as twelve thousand.

    >>> plain_number(12.0, 3), plain_number(0.5, 3), plain_number(-0.0001, 3), plain_number(100.0, 0)
    ('12', '0.5', '0', '100')
    """
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


def harmless(text: str) -> str:
    """A text that no spreadsheet takes for a formula.

    >>> harmless("=1+1"), harmless("bay 3"), harmless("-")
    ("'=1+1", 'bay 3', "'-")
    """
    flat = " ".join(text.split()) if any(letter in text for letter in "\r\n\t") else text
    return f"'{flat}" if flat.lstrip().startswith(FORMULA_STARTS) else flat
