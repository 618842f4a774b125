"""How long the office's questions take on a firm's book, and how long its commands take beside an empty one.

    python -m tests.bench.office [JOBS] [ENTRIES]

Each question is asked of a book that was just made and exported: nothing is remembered but what the line says.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import duckdb

from mixclock.outside.book import Book
from mixclock.outside.bookparquet import export_parquet
from mixclock.outside.bookviews import VIEWS, office_questions
from mixclock.outside.clock import SystemClock
from tests.bench.longbook import make_long_book
from tests.outside.duckviews import duckdb_view
from tests.running import Runner

CLOCK = SystemClock()


def timed(what: str, work: Callable[[], object]) -> object:
    """Do something and print how long it took."""
    began_s = CLOCK.monotonic_s()
    done = work()
    print(f"{what:<58} {1000 * (CLOCK.monotonic_s() - began_s):10,.0f} ms", flush=True)
    return done


def main(jobs: int, entries: int) -> None:
    """Print one line for each."""
    with tempfile.TemporaryDirectory() as made:
        firm, empty = Path(made) / "firm", Path(made) / "empty"
        for home in (firm, empty):
            home.mkdir(mode=0o700)
        written = timed("the book is made", lambda: make_long_book(firm / "book.sqlite3", jobs, entries))
        print(f"{written:,} entries in {jobs:,} jobs")
        make_long_book(empty / "book.sqlite3", 1, max(300, entries // jobs))
        with Book(firm / "book.sqlite3", CLOCK) as book:
            timed("every entry read once by SQLite (a full scan)", lambda: _scan(book))
            timed("book export --parquet", lambda: export_parquet(book, Path(made) / "files"))
        database = duckdb.connect()
        for name in VIEWS:
            database.execute(duckdb_view(name, str(Path(made) / "files")))
        for name, question in office_questions().items():
            timed(f"DuckDB: {name}", lambda asked=question.sql: database.execute(asked).fetchall())
        for words in (("now",), ("noted", "door opened"), ("jobs",), ("why", "--all"), ("why", "--all")):
            for home, runner in (("empty", Runner(empty)), ("firm", Runner(firm))):
                ran = timed(f"{home}: {' '.join(words)}", lambda w=words, r=runner: r(*w, timeout_s=600.0))
                if words[0] == "why":
                    print(f"    {ran.out.strip().splitlines()[-1][:100]}")  # type: ignore[attr-defined]


def _scan(book: Book) -> int:
    found = book.connection.own().execute("SELECT sum(length(facts)) FROM entries NOT INDEXED").fetchone()
    return int(found[0])


if __name__ == "__main__":
    many = [int(word) for word in sys.argv[1:]]
    main(many[0] if many else 1000, many[1] if len(many) > 1 else 1_000_000)
