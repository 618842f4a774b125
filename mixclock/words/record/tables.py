"""All tables of the record, in the order in which they stand on the page."""

from __future__ import annotations

from mixclock.words.record.batchtables import batch_table, pouring_table, step_table, tack_free_table
from mixclock.words.record.claims import claim_table
from mixclock.words.record.jobtables import (
    area_table,
    coat_table,
    crew_table,
    job_table,
    learned_table,
    product_table,
)
from mixclock.words.record.logtables import (
    alert_table,
    finding_table,
    measurement_table,
    note_table,
    photo_table,
    reading_table,
    statement_page_table,
    statement_table,
)
from mixclock.words.record.release import release_table
from mixclock.words.record.roundtables import day_table, round_table
from mixclock.words.record.source import Record
from mixclock.words.record.table import RecordTable

_BUILDERS = (
    job_table,
    area_table,
    crew_table,
    coat_table,
    product_table,
    learned_table,
    batch_table,
    pouring_table,
    step_table,
    tack_free_table,
    release_table,
    finding_table,
    alert_table,
    reading_table,
    measurement_table,
    note_table,
    photo_table,
    round_table,
    day_table,
    claim_table,
    statement_table,
)


def record_tables(record: Record) -> tuple[RecordTable, ...]:
    """Every table of the record."""
    return tuple(build(record) for build in _BUILDERS)


def page_tables(record: Record) -> tuple[RecordTable, ...]:
    """The tables as they stand on the page, where nothing need stand twice."""
    return tuple(statement_page_table(record) if build is statement_table else build(record) for build in _BUILDERS)
