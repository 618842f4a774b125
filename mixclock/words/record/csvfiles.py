"""The record's tables as CSV, one file each: numbers are numbers, and no text can act as a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from datetime import datetime
from zoneinfo import ZoneInfo

from mixclock.words.record.table import Cell, Column, Table, heading, in_units

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What makes a spreadsheet take a text for a formula (OWASP, CSV injection)."""


def csv_files(tables: Iterable[Table], zone: ZoneInfo, us_units: bool = False) -> dict[str, str]:
    """The text of each file by its name, in the crew's units and on the crew's wall; the headings say which."""
    return {f"{table.name.replace('_', '-')}.csv": _csv(table, zone, us_units) for table in tables}


def _csv(table: Table, zone: ZoneInfo, us_units: bool) -> str:
    written = io.StringIO(newline="")
    writer = csv.writer(written, lineterminator="\r\n")
    writer.writerow([_heading(column, table, zone, us_units) for column in table.columns])
    writer.writerows([_plain(cell, column, zone, us_units) for cell, column in zip(row, table.columns, strict=True)]
                     for row in table.rows)  # fmt: skip
    return written.getvalue()


def _heading(column: Column, table: Table, zone: ZoneInfo, us_units: bool) -> str:
    """The column's title with its unit; times say in which zone they are."""
    index = table.columns.index(column)
    timed = any(isinstance(row[index], datetime) for row in table.rows)
    return f"{heading(column, us_units)} ({zone.key})" if timed else heading(column, us_units)


def _plain(cell: Cell, column: Column, zone: ZoneInfo, us_units: bool) -> str:
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return f"{cell.astimezone(zone):%Y-%m-%d %H:%M:%S}"
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, int):
        return str(cell)
    if isinstance(cell, float):
        return f"{in_units(cell, column, us_units):.{max(column.digits, 3)}f}"
    return harmless(cell)


def harmless(text: str) -> str:
    """A text that no spreadsheet takes for a formula.

    >>> harmless("=1+1"), harmless("bay 3"), harmless("-")
    ("'=1+1", 'bay 3', "'-")
    """
    flat = " ".join(text.split()) if any(letter in text for letter in "\r\n\t") else text
    return f"'{flat}" if flat.lstrip().startswith(FORMULA_STARTS) else flat
