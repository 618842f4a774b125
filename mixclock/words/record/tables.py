"""All tables of the record, in the order in which they stand on the page."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

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
from mixclock.words.record.longsteps import step_page_table
from mixclock.words.record.release import release_table
from mixclock.words.record.roundtables import day_table, round_table
from mixclock.words.record.source import Record
from mixclock.words.record.table import Cell, RecordTable

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
    on_page = {statement_table: statement_page_table, step_table: step_page_table}
    return tuple(on_page.get(build, build)(record) for build in _BUILDERS)


def record_json(job: str, at: datetime, tables: Iterable[RecordTable]) -> dict[str, Any]:
    """Everything that stands in the record, ready for `json.dumps`."""
    told: dict[str, Any] = {"at": _plain(at), "job": job}
    for table in tables:
        told["job_facts" if table.name == "job" else table.name] = [
            dict(_in_seconds(key, _plain(value)) for key, value in row.items()) for row in table.as_dicts()
        ]
    return told


def _plain(cell: Cell) -> Any:
    if isinstance(cell, datetime):
        return cell.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    return round(cell, 4) if isinstance(cell, float) else cell


def _in_seconds(key: str, value: Any) -> tuple[str, Any]:
    """Minutes are for people; other programs get seconds."""
    if not key.endswith("_min"):
        return key, value
    return key.removesuffix("_min") + "_s", round(value * 60.0, 1) if isinstance(value, int | float) else value
