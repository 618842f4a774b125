"""The book's exported files in DuckDB, as the office's page tells how."""

from __future__ import annotations


def duckdb_view(name: str, folder: str) -> str:
    """What makes a view of exported files: a job's name stays text, whatever it looks like."""
    return (
        f"CREATE VIEW {name} AS SELECT * FROM read_parquet('{folder}/{name}/*/*/*.parquet',\n"
        "    hive_types = {'job': VARCHAR, 'month': VARCHAR});"
    )
