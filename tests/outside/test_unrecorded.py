"""What could not be written is kept in a second place: a watch that is killed on a full disk loses nothing of it."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from mixclock.job.entry import Delivered, JobStarted, Noted, Raised
from mixclock.outside.book import Book
from mixclock.outside.bookerrors import BookError, DiskFullError
from mixclock.outside.clock import FakeClock
from mixclock.outside.unrecorded import UnrecordedEntries
from tests.boatshed import one_coat

JOB = "Boat shed"


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(datetime(2026, 4, 13, 8, 0, tzinfo=UTC))


def full(book: Book) -> Book:
    broken: Callable[..., Any] = lambda *_: (_ for _ in ()).throw(DiskFullError("the disk is full"))  # noqa: E731
    book._append = broken  # type: ignore[method-assign]
    book.record = lambda: None  # type: ignore[method-assign]
    return book


def killed_on_a_full_disk(home: Path, clock: FakeClock, *said: Any) -> None:
    """A watch that keeps in mind what it is told, and then is gone."""
    with Book(home / "book.sqlite3", clock) as book:
        book.append(JOB, JobStarted(JOB, one_coat()))
    in_mind = UnrecordedEntries(home / "second")
    book = full(Book(home / "book.sqlite3", clock, in_mind))
    for facts in said:
        book.append(JOB, facts)
    assert in_mind._second is not None
    os.close(in_mind._second)  # as a kill does


def test_the_next_watch_takes_up_what_the_killed_one_had_in_mind_and_writes_it(
    tmp_path: Path, clock: FakeClock
) -> None:
    killed_on_a_full_disk(tmp_path, clock, Noted("scraped the sides"), Noted("door open"))
    in_mind = UnrecordedEntries(tmp_path / "second")
    with Book(tmp_path / "book.sqlite3", clock, in_mind) as book:
        assert [entry.facts for entry in book.entries(JOB)][1:] == [Noted("scraped the sides"), Noted("door open")]
        book.record()
        assert len(in_mind) == 0
    in_mind.close()
    assert not (tmp_path / "second").exists()
    with Book(tmp_path / "book.sqlite3", clock) as book:
        assert [entry.facts for entry in book.entries(JOB)][1:] == [Noted("scraped the sides"), Noted("door open")]


def test_what_was_written_a_moment_before_the_kill_is_not_written_twice(tmp_path: Path, clock: FakeClock) -> None:
    killed_on_a_full_disk(tmp_path, clock, Noted("said once"))
    kept = (tmp_path / "second").read_bytes()
    for _ in range(2):  # the second time the place still holds what the book has already
        in_mind = UnrecordedEntries(tmp_path / "second")
        with Book(tmp_path / "book.sqlite3", clock, in_mind) as book:
            book.record()
            assert [entry.facts for entry in book.entries(JOB)][1:] == [Noted("said once")]
        in_mind.close()
        (tmp_path / "second").write_bytes(kept)


def test_a_receipt_still_belongs_to_its_call_when_both_are_written_under_other_numbers(
    tmp_path: Path, clock: FakeClock
) -> None:
    call = Raised("b1.pour-out", "now", "critical", "pour it out", clock.now().isoformat())
    killed_on_a_full_disk(tmp_path, clock, call, Delivered(2, "desktop", "sent", "", True))
    with Book(tmp_path / "book.sqlite3", clock) as book:
        book.append(JOB, Noted("written by a phone meanwhile"))
    with Book(tmp_path / "book.sqlite3", clock, UnrecordedEntries(tmp_path / "second")) as book:
        book.record()
        raised, delivered = book.entries(JOB)[-2:]
    assert isinstance(delivered.facts, Delivered)
    assert delivered.facts.raised == raised.number == 3


def test_a_second_place_that_another_process_holds_or_that_is_spoilt_is_done_without(
    tmp_path: Path, clock: FakeClock
) -> None:
    killed_on_a_full_disk(tmp_path, clock, Noted("said"), Noted("cut off"))
    kept = (tmp_path / "second").read_bytes()
    (tmp_path / "second").write_bytes(b"\xff{]\n" + kept[:-40])
    one = UnrecordedEntries(tmp_path / "second")
    other = UnrecordedEntries(tmp_path / "second")
    assert [entry.facts for entry in one._left] == [Noted("said")]
    assert other._second is None
    (tmp_path / "folder").mkdir()
    assert UnrecordedEntries(tmp_path / "folder")._second is None
    one.close()
    assert (tmp_path / "second").exists(), "what nobody took up yet stays"


def test_a_watch_goes_on_with_a_book_that_a_newer_program_wrote_and_everybody_else_is_refused(
    tmp_path: Path, clock: FakeClock
) -> None:
    path = tmp_path / "book.sqlite3"
    with Book(path, clock) as book:
        book.append(JOB, JobStarted(JOB, one_coat()))
    with closing(sqlite3.connect(path)) as newer:
        newer.execute("PRAGMA user_version = 99")
    with pytest.raises(BookError, match="written by a newer mixclock"):
        Book(path, clock)
    in_mind = UnrecordedEntries(tmp_path / "second")
    with Book(path, clock, in_mind) as book:
        book.append(JOB, Noted("scraped the sides"))
        assert [entry.facts for entry in book.entries(JOB)][1:] == [Noted("scraped the sides")]
        assert len(in_mind) == 1
        with pytest.raises(BookError, match="written by a newer mixclock"):
            book.record()
    in_mind.close()
    with closing(sqlite3.connect(path)) as newer:
        assert newer.execute("SELECT count(*) FROM entries").fetchone() == (1,)
