"""The system tells that a book was written, so that nobody has to look every moment."""

from __future__ import annotations

import sys
import threading
from pathlib import Path

import pytest

from mixclock.job.entry import Noted
from mixclock.outside.book import Book
from mixclock.outside.bookstir import BookStir
from mixclock.outside.clock import SystemClock

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="not installed: a system that tells of written files")


def test_what_another_program_writes_into_the_book_is_told_and_what_lies_beside_the_book_is_not(tmp_path: Path) -> None:
    told = threading.Event()
    with Book(tmp_path / "book.sqlite3", SystemClock()) as book:
        stir = BookStir(book.path, told.set)
        assert stir.start()
        try:
            (tmp_path / "settings.toml").write_text("", encoding="utf-8")
            assert not told.wait(0.2)
            with Book(book.path, SystemClock()) as other:
                other.append("Boat shed", Noted("heater lit"))
            assert told.wait(20)
        finally:
            stir.stop()
            stir.stop()


def test_a_folder_that_is_gone_is_told_of_by_nobody_and_stops_nothing(tmp_path: Path) -> None:
    stir = BookStir(tmp_path / "gone" / "book.sqlite3", lambda: None)
    assert not stir.start()
    stir.stop()
