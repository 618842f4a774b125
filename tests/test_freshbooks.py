"""What tests begin with is what a crew begins with."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from mixclock.formulas.ensemble import SheetPot
from mixclock.formulas.ensemble_members import calibrate_ensemble
from mixclock.outside.book import Book
from mixclock.outside.calibrations import kept_calibrations
from mixclock.outside.clock import SystemClock
from tests.freshbooks import copied_where_new
from tests.lacking import without_numpy


def shape(path: Path) -> tuple[list[tuple[str, ...]], ...]:
    """All that stands in a book's file but the hours at which it was made, and how it is kept."""
    with sqlite3.connect(path) as book:
        there = book.execute("SELECT type, name, tbl_name, sql FROM sqlite_master ORDER BY type, name").fetchall()
        steps = book.execute("SELECT migration_set, name FROM _sqlite_migrations ORDER BY id").fetchall()
        kept = [book.execute(f"PRAGMA {name}").fetchone() for name in ("user_version", "journal_mode", "page_size")]
        rows = [book.execute(f"SELECT count(*) FROM {name}").fetchone() for kind, name, *_ in there if kind == "table"]
    book.close()
    return there, steps, kept, rows


def test_a_copied_book_is_the_one_that_a_crew_gets(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Book(tmp_path / "made.sqlite3", SystemClock()).close()
    copied_where_new(monkeypatch)
    Book(tmp_path / "copied.sqlite3", SystemClock()).close()
    made = shape(tmp_path / "made.sqlite3")
    assert len(made[0]) > 20
    assert made[2] == [(6,), ("wal",), (4096,)]
    assert shape(tmp_path / "copied.sqlite3") == made


def test_a_sheet_that_is_calibrated_once_has_the_calibration_that_a_crew_gets(tmp_path: Path) -> None:
    sheet, given = SheetPot(((25.0, 1800.0), (15.0, 3600.0)), 0.15), []
    for name in ("here", "there"):
        with Book(tmp_path / f"{name}.sqlite3", SystemClock()) as book:
            given.append(kept_calibrations(book.drawers)(sheet))
    assert given[0] is given[1]
    assert given[0].to_json() == calibrate_ensemble(sheet).to_json()
    with without_numpy(), Book(tmp_path / "bare.sqlite3", SystemClock()) as book:
        assert kept_calibrations(book.drawers)(sheet) is not given[0], "what is asked of plain Python, it works out"
