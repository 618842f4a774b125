"""A page of its own for what a program makes of the record: why, and what to set next time. It is not handed over."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from mixclock.decide.why import diagnose
from mixclock.decide.why.diagnosis import next_time
from mixclock.words.record import html
from mixclock.words.record.page import written_words
from mixclock.words.record.source import Record
from mixclock.words.whytext import why_lines

NO_INSPECTION = "A program's reading of what was stated; no inspection."


def reading_page(record: Record, areas: Iterable[str] = ()) -> str:
    """The page as a text: of these areas, else of all on which a fault was found."""
    name = record.standing.site.name
    head = f'<header>\n<h1>{escape(name)}</h1>\n<p class="soft">{NO_INSPECTION} {written_words(record)}.</p>\n</header>'
    faulty = [area for area in record.case.findings if record.case.faults(area) and area not in record.case.sound]
    told = [_reading(record, area) for area in dict.fromkeys(areas or faulty)]
    none = html.paragraph("Nothing was found faulty.", "empty")
    body = html.section("why", "What it may be", *(told or [none]))
    return html.page(f"{name}: a reading of the record", [head, body])


def _reading(record: Record, area: str) -> str:
    found = diagnose(record.case, area)
    settings = list(next_time(record.case, area, found.shown))
    head, *lines = why_lines(found, record.units, settings, more=True)
    return f'<div class="verdict"><h3>{escape(head)}</h3>{html.bullets(lines)}</div>'
