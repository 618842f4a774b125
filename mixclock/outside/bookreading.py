"""Entries read from the log, each held against its hash; what cannot be read is said and skipped, never guessed."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from typing import Any

from mixclock.job.entry import Entry, Unreadable
from mixclock.job.instants import utc_from
from mixclock.outside.bookrows import COLUMNS, FIRST_HASH, Row, entry_of, is_for_reading

_OWN = ", ".join(f"e.{name.strip()}" for name in COLUMNS.split(","))
CHAINED = f"SELECT {_OWN}, (SELECT p.hash FROM entries AS p WHERE p.number = e.number - 1) FROM entries AS e"
"""Each row with the hash of the row before it in the book."""

LONG_AGO, FAR_AHEAD = datetime(1970, 1, 1, tzinfo=UTC), datetime(9000, 1, 1, tzinfo=UTC)

_MISSES_IN_A_ROW = 500
"""So many numbers without a row are the end of a broken file: a page holds some twenty."""

NOT_WHAT_WAS_WRITTEN = "it is not what was written"


def read_entries(connection: sqlite3.Connection, job: str, after: int, skip: Sequence[str]) -> tuple[Entry, ...]:
    """A job's entries after a number; in place of one that cannot be read stands an `Unreadable`."""
    left_out = f" AND e.kind NOT IN ({', '.join('?' * len(skip))})" if skip else ""
    asked = f"{CHAINED} WHERE e.job = ? AND e.number > ?{left_out} ORDER BY e.number"
    found = _rows(connection, asked, (job, after, *skip))
    return tuple(_entry(connection, Row(*values), before) for *values, before in found)


def read_numbered(connection: sqlite3.Connection, job: str, ranges: str) -> tuple[Entry, ...]:
    """A job's entries whose numbers lie in these ranges, a JSON list of pairs; as `read_entries` gives them."""
    asked = CHAINED.replace("FROM entries AS e", "FROM json_each(?) AS r CROSS JOIN entries AS e")
    between = "e.number BETWEEN json_extract(r.value, '$[0]') AND json_extract(r.value, '$[1]')"
    found = _rows(connection, f"{asked} WHERE {between} AND e.job = ? ORDER BY e.number", (ranges, job))
    return tuple(_entry(connection, Row(*values), before) for *values, before in found)


def read_last(connection: sqlite3.Connection, job: str, kind: str, count: int) -> tuple[tuple[Entry, ...], str, int]:
    """A job's last entries of a kind, when the latest of the kind before them happened, and how many there are."""
    asked = f"{CHAINED} WHERE e.job = ? AND e.kind = ? ORDER BY e.number DESC LIMIT ?"
    found = [(Row(*values), before) for *values, before in reversed(_rows(connection, asked, (job, kind, count)))]
    first = found[0][0].number if found else 0
    older = "SELECT max(happened), count(*) FROM entries WHERE job = ? AND kind = ? AND number < ?"
    latest, others = connection.execute(older, (job, kind, first)).fetchone()
    return tuple(_entry(connection, *each) for each in found), str(latest or ""), others + len(found)


def end_of_cover(connection: sqlite3.Connection, job: str, last: int) -> tuple[str, int]:
    """The hash of an entry, and how many entries its job has up to it; "" and 0 if the job has no such entry."""
    asked = (
        "SELECT hash, (SELECT count(*) FROM entries c WHERE c.job = e.job AND c.number <= e.number) "
        "FROM entries e WHERE e.number = ? AND e.job = ?"
    )
    found = connection.execute(asked, (last, job)).fetchone()
    return (str(found[0]), int(found[1])) if found else ("", 0)


def first_entry(connection: sqlite3.Connection, job: str) -> Entry | None:
    """A job's first entry."""
    found = _rows(connection, f"{CHAINED} WHERE e.job = ? ORDER BY e.number LIMIT 1", (job,))
    return _entry(connection, Row(*found[0][:-1]), found[0][-1]) if found else None


def end_of_job(latest_first: Iterable[tuple[int, str, str, str]]) -> str | None:
    """When a job was finished, unless that was withdrawn."""
    gone: set[int] = set()
    for number, kind, happened, facts in latest_first:
        if number in gone:
            continue
        if kind != "withdrawn":
            return happened
        with contextlib.suppress(ValueError, TypeError, KeyError):  # a damaged row withdraws nothing
            gone.add(json.loads(facts)["entry"])
    return None


def is_copy_for_reading(connection: sqlite3.Connection, job: str) -> bool:
    """Whether a job is a copy from which names were taken: nothing is stated in it."""
    found = _rows(connection, "SELECT origin FROM entries WHERE job = ? ORDER BY number LIMIT 1", (job,))
    return bool(found) and is_for_reading(str(found[0][0]))


def wrong_with(row: Row, *befores: str) -> str | None:
    """Why a row cannot be believed, by what may have been the hash of the row before; None where it can."""
    found = believed(row, *befores)
    return found if isinstance(found, str) else None


def believed(row: Row, *befores: str) -> Entry | str:
    """The entry of a row, or why it cannot be believed."""
    try:
        if not any(row.chained_to(before) == row.hash for before in befores):
            return NOT_WHAT_WAS_WRITTEN
        return entry_of(row)
    except (ValueError, TypeError, AttributeError) as error:
        return f"it cannot be understood ({error})"


def file_damage(connection: sqlite3.Connection) -> str | None:
    """What SQLite finds wrong with its own file; None where it finds nothing."""
    (said,) = connection.execute("PRAGMA integrity_check(1)").fetchone()
    return None if said == "ok" else " ".join(str(said).split())


def broken_rows(rows: Iterable[Row]) -> Iterator[tuple[int, str]]:
    """Rows that are missing or not what was written, each by its number with what is wrong."""
    before, expected = FIRST_HASH, 1
    for row in rows:
        if row.number != expected:
            yield expected, "is missing"
        why = wrong_with(row, before)
        if why is not None:
            yield row.number, f"({row.kind}, job '{row.job}') cannot be read: {why}"
        before, expected = row.hash, row.number + 1


def all_rows(connection: sqlite3.Connection) -> Iterator[Row]:
    """Every row that the file still gives, in the order of their numbers, past what is broken."""
    number, missed = 0, 0
    try:
        # one by one: a million rows at once would fill the memory of a small laptop
        for values in connection.execute(f"SELECT {COLUMNS} FROM entries NOT INDEXED WHERE number > 0 ORDER BY number"):
            number = int(values[0])
            yield Row(*values)
        return
    except (sqlite3.DatabaseError, UnicodeDecodeError):
        pass
    while missed < _MISSES_IN_A_ROW:
        number += 1
        try:
            found = _rows(connection, f"SELECT {COLUMNS} FROM entries WHERE number = ?", (number,))
        except (sqlite3.DatabaseError, UnicodeDecodeError):
            found = []
        missed = 0 if found else missed + 1
        yield from (Row(*values) for values in found)


def _rows(connection: sqlite3.Connection, asked: str, values: Sequence[object]) -> list[tuple[Any, ...]]:
    try:
        return connection.execute(asked, values).fetchall()
    except sqlite3.OperationalError as error:
        if "UTF-8" not in str(error):
            raise
    before = connection.text_factory
    connection.text_factory = lambda text: text.decode("utf-8", "replace")
    try:
        return connection.execute(asked, values).fetchall()
    finally:
        connection.text_factory = before


def _entry(connection: sqlite3.Connection, row: Row, before: str | None) -> Entry:
    found = believed(row, before if before is not None else FIRST_HASH)
    if found == NOT_WHAT_WAS_WRITTEN and before is not None:
        found = believed(row, _hash_as_it_was(connection, row.number - 1))
    return _unreadable(row, found) if isinstance(found, str) else found


def _hash_as_it_was(connection: sqlite3.Connection, number: int) -> str:
    """The hash that a row should have: its own may be what was damaged."""
    for *values, before in _rows(connection, f"{CHAINED} WHERE e.number = ?", (number,)):
        try:
            return Row(*values).chained_to(str(before) if before is not None else FIRST_HASH)
        except (ValueError, TypeError):
            break
    return ""


def _unreadable(row: Row, why: str) -> Entry:
    kind, job, number = str(row.kind)[:40], str(row.job), row.number if isinstance(row.number, int) else 0
    return Entry(
        number, job, instant_or_long_ago(row.happened), instant_or_long_ago(row.written), Unreadable(kind, why)
    )


def instant_or_long_ago(text: object) -> datetime:
    """An instant as it stands in a row; 1970 where a damaged row gives none that can be reckoned with.

    >>> [instant_or_long_ago(text).year for text in ("2026-04-01T09:30:00+00:00", "9999-12-31T23:00:00+00:00", "noon")]
    [2026, 1970, 1970]
    """
    try:
        found = utc_from(str(text))
    except (ValueError, OverflowError):
        return LONG_AGO
    return found if LONG_AGO <= found < FAR_AHEAD else LONG_AGO
