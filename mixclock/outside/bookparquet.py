"""Writes the book's views as Parquet files, parted by job and month: for DuckDB, Spark or a spreadsheet."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

from mixclock.job.instants import utc_from
from mixclock.outside.book import Book
from mixclock.outside.bookerrors import BookError
from mixclock.outside.bookrows import COLUMNS, INSERT
from mixclock.outside.bookviews import VIEWS

_COUNTED = ("entry", "batch", "entries", "stated_here", "signs", "findings", "sent", "nth_repeat", "observations")
_MEASURED = ("factor", "sigma")
_UNITS = ("_c", "_pct", "_l", "_kg", "_s", "_m2")
_TIMES = ("started", "finished", "last_entry", "first_called_at", "late_from", "lost_from")
_UNSAFE = '%/\\:*?"<>|=#'
_LONGEST_FOLDER = 200
"""How many bytes the name of a job's folder may take; file systems hold 255."""


def export_parquet(book: Book, folder: Path) -> Mapping[str, int]:
    """Write every view of every job into a new folder. Gives the rows by view. Raises `BookError`, one line."""
    try:
        import pyarrow.parquet  # noqa: F401
    except ImportError as error:
        raise BookError("--parquet needs pyarrow; `pip install 'mixclock[office]'`") from error
    if folder.exists() and any(folder.iterdir()):
        raise BookError(f"{folder} is there already and not empty; name another folder")
    written = dict.fromkeys(VIEWS, 0)
    try:
        for job, view, month, rows in _parts(book):
            _write(folder / view / f"job={folder_name(job)}" / f"month={month}", view, rows)
            written[view] += len(rows)
        for view in (view for view, count in written.items() if not count):
            _write(folder / view / "job=none" / "month=none", view, ())  # an empty file still tells its columns
    except OSError as error:
        raise BookError(f"{folder}: {error.strerror or error}; name another folder") from error
    return written


def _write(place: Path, view: str, rows: Sequence[Mapping[str, Any]]) -> None:
    import pyarrow
    import pyarrow.parquet

    place.mkdir(mode=0o700, parents=True)
    columns = {name: _column(name, rows) for name in VIEWS[view].columns if name != "job"}
    shape = pyarrow.schema([(name, _kind(name)) for name in columns])
    table = pyarrow.Table.from_pydict(columns, schema=shape)
    number = os.open(place / "part.parquet", os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    with os.fdopen(number, "wb") as file:
        pyarrow.parquet.write_table(table, file)


def _kind(name: str) -> Any:
    import pyarrow

    if _is_time(name):
        return pyarrow.timestamp("us", tz="UTC")
    if name == "counts":
        return pyarrow.bool_()
    if name in _COUNTED:
        return pyarrow.int64()
    return pyarrow.float64() if name in _MEASURED or name.endswith(_UNITS) else pyarrow.string()


def _column(name: str, rows: Sequence[Mapping[str, Any]]) -> list[Any]:
    told = [row[name] for row in rows]
    if _is_time(name):
        return [_instant(each) for each in told]
    return [bool(each) for each in told] if name == "counts" else told


def _is_time(name: str) -> bool:
    return name in _TIMES or name.endswith("_at")


def _instant(told: Any) -> datetime | None:
    """An instant; None where there is none, or where a damaged row holds an impossible one."""
    try:
        return utc_from(told) if told is not None else None
    except (ValueError, TypeError):
        return None


def folder_name(job: str) -> str:
    """A job's name as a folder's name, which every reader of parted files turns back.

    >>> folder_name("Boat shed 2/3"), folder_name("Töpferei 100 %")
    ('Boat shed 2%2F3', 'Töpferei 100 %25')
    """
    plain = "".join(f"%{ord(sign):02X}" if sign in _UNSAFE or ord(sign) < 32 else sign for sign in job)
    if len(plain.encode()) <= _LONGEST_FOLDER:
        return plain
    cut = plain.encode()[: _LONGEST_FOLDER - 9].decode(errors="ignore").rpartition("%")
    kept = cut[0] if cut[1] and len(cut[2]) < 2 else "".join(cut)
    return f"{kept}~{sha256(job.encode()).hexdigest()[:8]}"


def _parts(book: Book) -> Iterator[tuple[str, str, str, list[Mapping[str, Any]]]]:
    """The rows of each view by job and month. Each job is asked by itself, so a job costs no more in a long book."""
    memory = sqlite3.connect(":memory:", isolation_level=None)
    memory.row_factory = sqlite3.Row
    connection = book.connection.own()
    for name in ("entries", "joblines"):
        (made,) = connection.execute("SELECT sql FROM sqlite_master WHERE name = ?", (name,)).fetchone()
        memory.execute(made)
    memory.execute("CREATE INDEX kinds ON entries (job, kind)")
    lines = connection.execute("SELECT * FROM joblines ORDER BY first").fetchall()
    for line in lines:
        job = str(line[0])
        memory.execute("DELETE FROM entries")
        memory.execute("DELETE FROM joblines")
        memory.execute(f"INSERT INTO joblines VALUES ({', '.join('?' * len(line))})", line)
        rows = connection.execute(f"SELECT {COLUMNS} FROM entries WHERE job = ?", (job,))
        memory.executemany(INSERT, rows)
        for name, view in VIEWS.items():
            months: dict[str, list[Mapping[str, Any]]] = {}
            for found in memory.execute(f"SELECT * FROM ({view.query})"):
                months.setdefault(str(found[view.time])[:7], []).append(dict(found))
            for month, of_month in months.items():
                yield job, name, month, of_month
    memory.close()
