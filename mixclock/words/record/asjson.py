"""The record as JSON: the same tables by name, quantities with their SI-based unit in the key, times in UTC."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from mixclock.words.record.table import Cell, RecordTable


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
