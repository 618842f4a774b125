"""The shape of the book: its tables, and how an older book is brought up to date.

Imported only when a book is new or old, because sqlite-utils alone takes longer to import than a statement takes to
write (see `book.py`). Everything here runs under a file lock: two processes that make a new book at the same moment
would otherwise fail each other in setting the WAL mode.
"""

from __future__ import annotations

import sqlite3

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

SHAPE = Migrations("mixclock")

_GUARDS = (
    # INSERT OR REPLACE walks past the other two, so the key itself is looked for
    """CREATE TRIGGER entries_only_grow BEFORE INSERT ON entries
       WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM entries)
       BEGIN SELECT raise(ABORT, 'the log only grows: the next entry takes the next number'); END""",
    """CREATE TRIGGER entries_stay BEFORE UPDATE ON entries
       BEGIN SELECT raise(ABORT, 'the log only grows: an entry is withdrawn by a later one, never changed'); END""",
    """CREATE TRIGGER entries_are_kept BEFORE DELETE ON entries
       BEGIN SELECT raise(ABORT, 'the log only grows: an entry is withdrawn by a later one, never erased'); END""",
)


@SHAPE()
def log_of_entries(db: Database) -> None:
    """The append-only log, guarded against change by triggers."""
    db.table("entries").create(
        {
            "number": int,
            "job": str,
            "kind": str,
            "happened": str,
            "written": str,
            "facts": str,
            "by_whom": str,
            "note": str,
            "boot_id": str,
            "boot_s": float,
            "origin": str,
            "hash": str,
        },
        pk="number",
        not_null={"job", "kind", "happened", "written", "facts", "boot_id", "boot_s", "origin", "hash"},
    )
    db.table("entries").create_index(["job", "number"])
    for guard in _GUARDS:
        db.execute(guard)
    db.execute("PRAGMA user_version = 1")


@SHAPE()
def drawers_beside_the_log(db: Database) -> None:
    """What is kept beside the log and may change: settings, calibrations, phones, small pictures."""
    for drawer in ("settings", "calibrations", "phones"):
        db.table(drawer).create({"key": str, "value": str}, pk="key", not_null={"value"})
    db.table("pictures").create(
        {"sha256": str, "media": str, "small": bytes, "small_sha256": str},
        pk="sha256",
        not_null={"media", "small", "small_sha256"},
    )
    db.execute("PRAGMA user_version = 2")


@SHAPE()
def lessons_beside_the_log(db: Database) -> None:
    """What the signs of each job taught, and a way to find the jobs that have any without reading the log."""
    db.table("lessons").create({"key": str, "value": str}, pk="key", not_null={"value"})
    db.execute("CREATE INDEX signs_seen ON entries (job, number) WHERE kind = 'saw'")
    db.execute("PRAGMA user_version = 3")


def bring_up_to_date(connection: sqlite3.Connection) -> None:
    """Make the tables of a new book, or add to an old one what is missing. The caller holds the file lock."""
    db = Database(connection)
    db.enable_wal()
    SHAPE.apply(db)
