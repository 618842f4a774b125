"""The record's tables as one spreadsheet file with typed cells: numbers, times and texts stay what they are."""

from __future__ import annotations

import io
from collections.abc import Iterable
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from mixclock.units import CrewUnits
from mixclock.words.record.csvfiles import headings
from mixclock.words.record.table import Cell, Column, RecordTable, in_units

LONGEST_SHEET_NAME = 31
"""What spreadsheets take (ECMA-376, part 1, 18.2.19)."""

_WIDEST = 60
_FORBIDDEN = str.maketrans(dict.fromkeys("[]:*?/\\", " "))


def workbook(tables: Iterable[RecordTable], zone: ZoneInfo, units: CrewUnits, at: datetime) -> bytes:
    """One sheet a table, in the crew's units and on the crew's wall. Raises ImportError without XlsxWriter."""
    from xlsxwriter import Workbook

    written = io.BytesIO()
    book = Workbook(written, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"created": at})
    formats = {
        "heading": book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1}),
        "time": book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"}),
        "text": book.add_format({"text_wrap": True, "valign": "top"}),
    }
    taken: set[str] = set()
    for table in tables:
        _sheet(book.add_worksheet(_sheet_name(table.title, taken)), table, zone, units, formats)
    book.close()
    return written.getvalue()


def _sheet_name(title: str, taken: set[str]) -> str:
    plain = " ".join(title.translate(_FORBIDDEN).split())[:LONGEST_SHEET_NAME].strip("' ") or "Table"
    name, number = plain, 2
    while name.casefold() in taken:
        name, number = f"{plain[: LONGEST_SHEET_NAME - 4]} {number}", number + 1
    taken.add(name.casefold())
    return name


def _sheet(sheet: Any, table: RecordTable, zone: ZoneInfo, units: CrewUnits, formats: dict[str, Any]) -> None:
    titles = headings(table, zone, units)
    for place, title in enumerate(titles):
        longest = max((len(_text(row[place])) for row in table.rows), default=0)
        sheet.set_column(place, place, min(_WIDEST, max(10, longest + 2, min(len(title) + 2, 20))))
        sheet.write_string(0, place, title, formats["heading"])
    sheet.freeze_panes(1, 0)
    for line, row in enumerate(table.rows, start=1):
        for place, (cell, column) in enumerate(zip(row, table.columns, strict=True)):
            _write(sheet, line, place, cell, column, zone, units, formats)


def _write(
    sheet: Any, line: int, place: int, cell: Cell, column: Column, zone: ZoneInfo, units: CrewUnits,
    formats: dict[str, Any],
) -> None:  # fmt: skip
    if cell is None:
        return
    if isinstance(cell, datetime):
        sheet.write_datetime(line, place, cell.astimezone(zone).replace(tzinfo=None, microsecond=0), formats["time"])
    elif isinstance(cell, bool):
        sheet.write_string(line, place, "yes" if cell else "no")
    elif isinstance(cell, int):
        sheet.write_number(line, place, cell)
    elif isinstance(cell, float):
        sheet.write_number(line, place, round(in_units(cell, column, units), max(column.digits, 3)))
    else:
        sheet.write_string(line, place, " ".join(cell.split()) if "\r" in cell else cell, formats["text"])


def _text(cell: Cell) -> str:
    return f"{cell:%Y-%m-%d %H:%M:%S}" if isinstance(cell, datetime) else "" if cell is None else str(cell)
