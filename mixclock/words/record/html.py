"""Pieces of an HTML page: cells, tables, sections. Everything that a person typed is escaped here."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime
from functools import lru_cache
from html import escape
from zoneinfo import ZoneInfo

from mixclock.units import CrewUnits, write_date, write_time_of_day
from mixclock.words.record.source import SmallCopy
from mixclock.words.record.styles import STYLES
from mixclock.words.record.table import Cell, Column, RecordTable, heading, scale_of
from mixclock.words.rounds import NOT_RECORDED

IN_LINE = ("area", "alert", "day")
"""Columns whose words stay in one line, as times do."""

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


def table_markup(table: RecordTable, zone: ZoneInfo, units: CrewUnits, exact: bool = True) -> str:
    """A table, with its columns' names and units for people and, as data, for other programs.

    How a column is set stands once, with the table: n3 is a third column of numbers, s3 one whose cells stay in a line.
    `exact` gives each time to the second as data beside its words.
    """
    columns = [(index, column) for index, column in enumerate(table.columns) if column.page]
    if not table.rows:
        return paragraph(table.empty, "empty")
    places = list(enumerate(columns, 1))
    numeric = [place for place, (index, _) in places if any(_is_number(row[index]) for row in table.rows)]
    in_line = [place for place, (index, column) in places
               if column.key in IN_LINE or any(isinstance(row[index], datetime) for row in table.rows)]  # fmt: skip
    heads = "".join(
        f'<th scope="col" data-key="{column.key}">{escape(heading(column, units))}</th>' for _, column in columns
    )
    write = [(index, _writer(column, zone, units, column.key in table.must, exact)) for index, column in columns]
    rows = "\n".join([f"<tr>{''.join([to_cell(row[index]) for index, to_cell in write])}</tr>" for row in table.rows])
    caption = f"<caption>{escape(table.intro)}</caption>" if table.intro else ""
    kinds = " ".join([*(f"n{place}" for place in numeric), *(f"s{place}" for place in in_line)])
    style = f' class="{kinds}"' if kinds else ""
    opened = f'<table id="table-{table.name}"{style}>'
    return f"{opened}{caption}<thead><tr>{heads}</tr></thead>\n<tbody>\n{rows}\n</tbody></table>"


def table_section(table: RecordTable, zone: ZoneInfo, units: CrewUnits, exact: bool = True) -> str:
    """A section that is one table."""
    return section(table.name, table.title, table_markup(table, zone, units, exact))


def _is_number(value: Cell) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _writer(column: Column, zone: ZoneInfo, units: CrewUnits, must: bool, exact: bool) -> Callable[[Cell], str]:
    """What writes the cells of a column."""
    empty = f'<td class="missing">{NOT_RECORDED}</td>' if must else "<td>–</td>"
    instant = time_markup if exact else time_words
    number = _number_writer(column, units)

    def written(value: Cell) -> str:
        if isinstance(value, str):
            return f'<td class="missing">{value}</td>' if value == NOT_RECORDED else f"<td>{escape(value)}</td>"
        if value is None:
            return empty
        if isinstance(value, datetime):
            return f"<td>{instant(value, zone)}</td>"
        if isinstance(value, bool):
            return f"<td>{'yes' if value else 'no'}</td>"
        return f"<td>{number(value)}</td>"

    return written


def _number_writer(column: Column, units: CrewUnits) -> Callable[[float], str]:
    """What writes the numbers of a column as the crew would read them.

    >>> from mixclock.units import METRIC_CREW
    >>> _number_writer(Column("slab_c", "slab"), METRIC_CREW)(12.345)
    '12.3'
    """
    scale = scale_of(column, units)
    digits = scale.digits if scale is not None and scale.digits is not None else column.digits

    def written(value: float) -> str:
        shown = scale.shown(value) if scale is not None else value
        return str(shown) if isinstance(shown, int) else f"{shown:.{digits}f}"

    return written


@lru_cache(maxsize=4096)
def time_words(at: datetime, zone: ZoneInfo) -> str:
    """An instant on the crew's wall."""
    there = at.astimezone(zone)
    return f"{write_date(there)} {write_time_of_day(there.timetz())}"


@lru_cache(maxsize=4096)
def time_markup(at: datetime, zone: ZoneInfo) -> str:
    """An instant on the crew's wall, with the instant itself for other programs."""
    exact = at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    return f'<time datetime="{exact}">{time_words(at, zone)}</time>'


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
