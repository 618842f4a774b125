"""The book's views as Parquet files, parted by job and month: for DuckDB, Spark or a spreadsheet."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import quote

from mixclock.outside.book import Book
from mixclock.outside.bookerrors import BookError
from mixclock.outside.bookrows import COLUMNS, INSERT
from mixclock.outside.bookviews import VIEWS

_TEXT, _NUMBER, _COUNT = "string", "double", "int64"
_COUNTED = (
    "entry",
    "batch",
    "counts",
    "entries",
    "stated_here",
    "signs",
    "findings",
    "sent",
    "nth_repeat",
    "observations",
)
_MEASURED = ("factor", "sigma")
_UNITS = ("_c", "_pct", "_l", "_kg", "_s", "_m2")


def export_parquet(book: Book, folder: Path) -> Mapping[str, int]:
    """Write every view of every job into a new folder; gives the rows by view. Raises `BookError`, one line."""
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError as error:
        raise BookError("--parquet needs pyarrow; `pip install 'mixclock[office]'`") from error
    if folder.exists() and any(folder.iterdir()):
        raise BookError(f"{folder} is there already and not empty; name another folder")
    written = dict.fromkeys(VIEWS, 0)
    try:
        for job, view, month, rows in _parts(book):
            place = folder / view / f"job={quote(job, safe=' ')}" / f"month={month}"
            place.mkdir(mode=0o700, parents=True)
            columns = {name: [row[name] for row in rows] for name in VIEWS[view].columns if name != "job"}
            shape = pyarrow.schema([(name, _kind(name)) for name in columns])
            table = pyarrow.Table.from_pydict(columns, schema=shape)
            number = os.open(place / "part.parquet", os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
            with os.fdopen(number, "wb") as file:
                pyarrow.parquet.write_table(table, file)
            written[view] += len(rows)
    except OSError as error:
        raise BookError(f"{folder}: {error.strerror or error}; name another folder") from error
    return written


def _kind(name: str) -> str:
    if name in _COUNTED:
        return _COUNT
    return _NUMBER if name in _MEASURED or name.endswith(_UNITS) else _TEXT


def _parts(book: Book) -> Iterator[tuple[str, str, str, list[Mapping[str, Any]]]]:
    """The rows of each view by job and month. A job is asked by itself: so a long book costs no more a job."""
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
