"""The shape of the book: its tables, and how an older book is brought up to date.

Imported only when a book is new or old, because sqlite-utils alone takes longer to import than a statement takes to
write (see `book.py`). Everything here runs under a file lock: two processes that make a new book at the same moment
would otherwise fail each other in setting the WAL mode.
"""

from __future__ import annotations

import sqlite3

from mixclock.outside.leanimports import standing_in

# sqlite-utils imports pandas wherever it is installed, and pandas pyarrow: a new book would take 0.4 s longer. Nobody
# of us hands it a table of pandas
with standing_in({"pandas": None}):
    from sqlite_utils import Database
    from sqlite_utils.migrations import Migrations

SHAPE = Migrations("mixclock")

_GUARDS = (
    # INSERT OR REPLACE escapes the other two triggers, so this one looks for the key itself
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
    """Add the lessons of each job, and an index of the jobs with signs, so that nobody reads the log to find them."""
    db.table("lessons").create({"key": str, "value": str}, pk="key", not_null={"value"})
    db.execute("CREATE INDEX signs_seen ON entries (job, number) WHERE kind = 'saw'")
    db.execute("PRAGMA user_version = 3")


_LINE_OF_A_NEW_ENTRY = """
    INSERT INTO joblines (job, first, started, last, stated, taught, entries, own, signs, findings, finished, doubtful)
    VALUES (NEW.job, NEW.number, NEW.written, NEW.written, NEW.written, 0, 0, 0, 0, 0, NULL, 0)
    ON CONFLICT (job) DO NOTHING;
    UPDATE joblines SET
        started = min(started, NEW.written),
        last = max(last, NEW.written),
        stated = CASE WHEN NEW.kind IN ('raised', 'delivered', 'planned', 'watch') THEN stated
                      ELSE max(stated, NEW.written) END,
        taught = CASE WHEN NEW.kind IN ('raised', 'delivered', 'planned', 'watch', 'heard', 'noted', 'measured',
                      'photo', 'traffic', 'found', 'began', 'job finished', 'profile used', 'factor used', 'combined')
                      THEN taught ELSE NEW.number END,
        entries = entries + 1,
        own = own + (NEW.origin = ''),
        signs = signs + (NEW.kind = 'saw'),
        findings = findings + (NEW.kind = 'found'),
        doubtful = doubtful OR (NEW.kind = 'withdrawn' AND finished IS NOT NULL),
        finished = CASE WHEN NEW.kind = 'job finished' THEN NEW.happened ELSE finished END
    WHERE job = NEW.job;
"""
"""What a list of jobs shows, kept up by each new entry: a book of two thousand jobs is never counted through."""

_LINES_OF_OLD_ENTRIES = """
    INSERT INTO joblines (job, first, started, last, stated, taught, entries, own, signs, findings, finished, doubtful)
    SELECT job, min(number), min(written), max(written),
        coalesce(max(CASE WHEN kind IN ('raised', 'delivered', 'planned', 'watch') THEN NULL ELSE written END),
                 max(written)),
        coalesce(max(CASE WHEN kind IN ('raised', 'delivered', 'planned', 'watch', 'heard', 'noted', 'measured',
                 'photo', 'traffic', 'found', 'began', 'job finished', 'profile used', 'factor used', 'combined')
                 THEN 0 ELSE number END), 0),
        count(*), sum(origin = ''), sum(kind = 'saw'), sum(kind = 'found'),
        max(CASE WHEN kind = 'job finished' THEN happened END),
        max(kind = 'job finished') AND max(kind = 'withdrawn')
    FROM entries GROUP BY job
"""


@SHAPE()
def lines_of_jobs(db: Database) -> None:
    """Add one line for each job, so that neither a statement nor a tick asks the whole log for its jobs."""
    db.table("joblines").create(
        {
            "job": str,
            "first": int,
            "started": str,
            "last": str,
            "stated": str,
            "taught": int,
            "entries": int,
            "own": int,
            "signs": int,
            "findings": int,
            "finished": str,
            "doubtful": int,
        },
        pk="job",
        not_null={"first", "started", "last", "stated", "taught", "entries", "own", "signs", "findings", "doubtful"},
    )
    db.execute(_LINES_OF_OLD_ENTRIES)
    db.execute("CREATE INDEX open_jobs ON joblines (first) WHERE finished IS NULL OR doubtful")
    db.execute("CREATE INDEX jobs_with_signs ON joblines (taught) WHERE signs > 0")
    db.execute("CREATE INDEX ends_of_jobs ON entries (job, number) WHERE kind IN ('job finished', 'withdrawn')")
    db.execute(f"CREATE TRIGGER entries_make_lines AFTER INSERT ON entries BEGIN {_LINE_OF_A_NEW_ENTRY} END")
    db.execute("PRAGMA user_version = 4")


@SHAPE()
def views_for_other_programs(db: Database) -> None:
    """Add stable views over the log, for whoever asks the book with another program."""
    from mixclock.outside.bookviews import VIEWS

    for name, view in VIEWS.items():
        db.execute(f"CREATE VIEW all_{name} AS {view.query}")
    db.execute("DROP TRIGGER entries_make_lines")  # an entry of this book that a repair chained anew is still its own
    own = _LINE_OF_A_NEW_ENTRY.replace("(NEW.origin = '')", """(NEW.origin = '' OR NEW.origin LIKE '%"own":true}')""")
    db.execute(f"CREATE TRIGGER entries_make_lines AFTER INSERT ON entries BEGIN {own} END")
    db.execute("PRAGMA user_version = 5")


@SHAPE()
def views_that_tell_more(db: Database) -> None:
    """Add to the views a job's zone, a batch's parts, when a step was begun, and what was put right."""
    from mixclock.outside.bookviews import VIEWS

    for name, view in VIEWS.items():
        db.execute(f"DROP VIEW all_{name}")
        db.execute(f"CREATE VIEW all_{name} AS {view.query}")
    db.execute("PRAGMA user_version = 6")


def bring_up_to_date(connection: sqlite3.Connection) -> None:
    """Make the tables of a new book, or add to an old one what is missing: all of it, or where it fails nothing.

    The caller holds the file lock. One transaction costs one write to the disk, where each table by itself cost some.
    """
    db = Database(connection)
    db.enable_wal()
    connection.execute("BEGIN IMMEDIATE")
    try:
        SHAPE.apply(db)
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
