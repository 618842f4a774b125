"""The claim page: the facts that a dispute turns on, judged by the sheet's figures, and what nobody recorded."""

from __future__ import annotations

from html import escape

from mixclock.words.record import html
from mixclock.words.record.batchtables import batch_table, pouring_table, step_table, tack_free_table
from mixclock.words.record.claims import claim_table
from mixclock.words.record.jobtables import job_table, product_table
from mixclock.words.record.logtables import finding_table, measurement_table, note_table, photo_table
from mixclock.words.record.page import foot, pictures, written_words
from mixclock.words.record.source import Record

_TABLES = (
    finding_table,
    claim_table,
    job_table,
    product_table,
    batch_table,
    pouring_table,
    step_table,
    tack_free_table,
    measurement_table,
    note_table,
    photo_table,
)


def claim_page(record: Record) -> str:
    """The page as a text; facts alone, no opinion of any program."""
    name = record.standing.site.name
    head = (
        f'<header>\n<h1>{escape(name)}</h1>\n<p class="soft">For a claim: what was stated, measured and found, and '
        f"what nobody recorded. {written_words(record)}, times in {escape(record.standing.site.zone)}.</p>\n</header>"
    )
    tables = [html.table_section(build(record), record.zone, record.units) for build in _TABLES]
    return html.page(f"{name}: for a claim", [head, *tables, pictures(record), foot(record)])
