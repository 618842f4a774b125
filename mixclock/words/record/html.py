"""Pieces of an HTML page: cells, tables, sections. Everything that a person typed is escaped here."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from functools import lru_cache
from html import escape
from zoneinfo import ZoneInfo

from mixclock.units import CrewUnits, write_date, write_time_of_day
from mixclock.words.record.source import SmallCopy
from mixclock.words.record.styles import STYLES
from mixclock.words.record.table import Cell, Column, RecordTable, heading, scale_of
from mixclock.words.rounds import NOT_RECORDED

_SAFE = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


def page(title: str, body: Iterable[str], language: str = "en") -> str:
    """A whole page that needs nothing from anywhere."""
    return (
        f'<!DOCTYPE html>\n<html lang="{language}">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_SAFE}">\n'
        f"<title>{escape(title[:68])}</title>\n<style>{STYLES}</style>\n</head>\n<body>\n"
        f"{chr(10).join(body)}\n</body>\n</html>\n"
    )


def section(name: str, title: str, *parts: str, kind: str = "") -> str:
    """A section with its heading."""
    style = f' class="{kind}"' if kind else ""
    return f'<section id="{name}"{style}>\n<h2>{escape(title)}</h2>\n{chr(10).join(parts)}\n</section>'


def paragraph(words: str, kind: str = "") -> str:
    """A paragraph; nothing where there are no words."""
    style = f' class="{kind}"' if kind else ""
    return f"<p{style}>{escape(words)}</p>" if words else ""


def bullets(lines: Iterable[str]) -> str:
    """A list."""
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f"<ul>{items}</ul>" if items else ""


def table_markup(table: RecordTable, zone: ZoneInfo, units: CrewUnits) -> str:
    """A table, with its columns' names and units for people and, as data, for other programs."""
    columns = [(index, column) for index, column in enumerate(table.columns) if column.page]
    if not table.rows:
        return paragraph(table.empty, "empty")
    numeric = {index for index, _ in columns if any(_is_number(row[index]) for row in table.rows)}
    heads = "".join(
        f'<th scope="col"{_right(index in numeric)} data-key="{column.key}">{escape(heading(column, units))}</th>'
        for index, column in columns
    )

    def row_markup(row: tuple[Cell, ...]) -> str:
        cells = (
            _cell(row[index], column, zone, units, column.key in table.must, index in numeric)
            for index, column in columns
        )
        return f"<tr>{''.join(cells)}</tr>"

    rows = "\n".join(row_markup(row) for row in table.rows)
    caption = f"<caption>{escape(table.intro)}</caption>" if table.intro else ""
    return f'<table id="table-{table.name}">{caption}<thead><tr>{heads}</tr></thead>\n<tbody>\n{rows}\n</tbody></table>'


def table_section(table: RecordTable, zone: ZoneInfo, units: CrewUnits) -> str:
    """A section that is one table."""
    return section(table.name, table.title, table_markup(table, zone, units))


def _is_number(value: Cell) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _right(numeric: bool) -> str:
    return ' class="number"' if numeric else ""


def _cell(value: Cell, column: Column, zone: ZoneInfo, units: CrewUnits, must: bool, numeric: bool) -> str:
    if value is None:
        return f'<td class="missing">{NOT_RECORDED}</td>' if must else f"<td{_right(numeric)}>–</td>"
    if isinstance(value, datetime):
        return f"<td>{time_markup(value, zone)}</td>"
    if isinstance(value, bool):
        return f"<td>{'yes' if value else 'no'}</td>"
    if isinstance(value, int | float):
        return f"<td{_right(numeric)}>{escape(number_text(value, column, units))}</td>"
    short = ' class="short"' if column.key in ("area", "alert") else ""
    kind = ' class="missing"' if value == NOT_RECORDED else short
    return f"<td{kind}>{escape(value)}</td>"


def number_text(value: float, column: Column, units: CrewUnits) -> str:
    """A number as the crew would read it.

    >>> from mixclock.units import METRIC_CREW
    >>> number_text(12.345, Column("slab_c", "slab"), METRIC_CREW)
    '12.3'
    """
    scale = scale_of(column, units)
    value = scale.shown(value) if scale is not None else value
    digits = scale.digits if scale is not None and scale.digits is not None else column.digits
    return str(value) if isinstance(value, int) else f"{value:.{digits}f}"


@lru_cache(maxsize=4096)
def time_markup(at: datetime, zone: ZoneInfo) -> str:
    """An instant on the crew's wall, with the instant itself for other programs."""
    there = at.astimezone(zone)
    exact = at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    return f'<time datetime="{exact}">{write_date(there)} {write_time_of_day(there.timetz())}</time>'


def picture(copy: SmallCopy | None, told: str, caption: str) -> str:
    """A picture with its caption, or why there is none."""
    if copy is None or copy.small is None:
        why = copy.why_not if copy is not None and copy.why_not else "no small copy is kept"
        return f'<figure class="no-picture"><p>{escape(why)}</p><figcaption>{escape(caption)}</figcaption></figure>'
    data = base64.b64encode(copy.small).decode("ascii")
    source = f"data:{copy.media};base64,{data}"
    return f'<figure><img src="{source}" alt="{escape(told)}"><figcaption>{escape(caption)}</figcaption></figure>'


def figure(svg: str, caption: str) -> str:
    """A drawing with its caption."""
    told = f"<figcaption>{escape(caption)}</figcaption>" if caption else ""
    return f'<figure class="chart">{svg}{told}</figure>'


def contents(sections: Sequence[tuple[str, str]]) -> str:
    """Links to the sections."""
    items = "".join(f'<li><a href="#{name}">{escape(title)}</a></li>' for name, title in sections)
    return f'<nav aria-label="On this page"><ul>{items}</ul></nav>'
