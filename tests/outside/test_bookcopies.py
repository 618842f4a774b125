"""Copies of the book: made of what is new only, of so much room and no more, and never for want of a reason."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest

from mixclock.job.entry import JobStarted, Noted
from mixclock.outside import bookcopies
from mixclock.outside.book import Book
from mixclock.outside.bookcopies import copies_folder, copies_of
from mixclock.outside.bookerrors import NoRoomError
from mixclock.outside.clock import FakeClock
from tests.outside.test_bookmending import FLOOR, JOB, MORNING, one_bit_in_a_row, told, written


def test_nothing_new_costs_no_copy_and_no_count_of_the_log(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    asked: list[str] = []
    with Book(path, FakeClock(MORNING)) as book:
        book.append(JOB, JobStarted(JOB, FLOOR))
        assert book.copy() is not None
        book.connection.own().set_trace_callback(asked.append)
        assert book.copy() is None
        assert not [line for line in asked if "GROUP BY" in line]


def test_a_copy_that_is_damaged_itself_is_made_anew(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    with Book(path, FakeClock(MORNING)) as book:
        book.append(JOB, JobStarted(JOB, FLOOR))
        copy = book.copy()
        assert copy is not None
        copy.write_bytes(b"no book any more")
        assert book.copy() == copy
    assert told(copy) == told(path)


def test_copies_take_so_much_room_and_no_more_and_the_newest_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "book.sqlite3"
    clock = FakeClock(MORNING)
    with Book(path, clock) as book:
        book.append(JOB, JobStarted(JOB, FLOOR))
        first = book.copy()
        assert first is not None
        size = first.stat().st_size
        for room in (3.5, 1.0, 0.5):
            monkeypatch.setattr(bookcopies, "BYTES_KEPT", int(room * size))
            for _ in range(8):
                clock.advance(300)
                book.append(JOB, Noted("x"))
                newest = book.copy()
                assert copies_of(path)[0] == newest
            assert len(copies_of(path)) == max(1, int(room))


def test_where_no_copy_fits_the_book_is_not_taken_for_damaged_and_the_last_copy_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "book.sqlite3"
    with Book(path, FakeClock(MORNING)) as book:
        book.append(JOB, JobStarted(JOB, FLOOR))
        copy = book.copy()
        book.append(JOB, Noted("x"))
        monkeypatch.setattr(bookcopies, "disk_usage", lambda _: SimpleNamespace(total=10**9, free=10**5))
        with pytest.raises(NoRoomError, match="no room for another copy"):
            book.copy()
        assert copies_of(path) == [copy]
        assert not book.mended


def test_a_book_whose_entries_were_chained_anew_is_copied_like_any_other(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    written(path)
    for each in copies_folder(path).iterdir():
        if each.name.startswith("tail"):
            each.unlink()
    one_bit_in_a_row(path)
    with Book(path, FakeClock(MORNING)) as book:
        book.restore()
        mended = len(book.mended)
        assert book.copy() is not None
        assert book.copy() is None
        assert len(book.mended) == mended
