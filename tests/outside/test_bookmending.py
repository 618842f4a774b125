"""A book that is deleted, emptied, cut short or changed comes back with everything that was stated."""

from __future__ import annotations

import contextlib
import random
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from mixclock.job.entry import Combined, JobStarted, Noted, Unreadable, WatchEvent
from mixclock.job.folding import fold
from mixclock.outside.book import Book
from mixclock.outside.bookcheck import checked
from mixclock.outside.bookcopies import Tail, copies_folder, copies_of, left_behind
from mixclock.outside.clock import FakeClock
from mixclock.outside.jobs import listed_jobs
from mixclock.outside.unrecorded import UnrecordedEntries
from tests.boatshed import one_coat
from tests.outside.verified import verify

MORNING = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
JOB = "Boat shed"
FLOOR = one_coat()


def written(path: Path, before_copy: int = 40, after_copy: int = 20) -> list[str]:
    """A book with a copy in the middle; what was stated."""
    book = Book(path, FakeClock(MORNING))
    book.append(JOB, JobStarted(JOB, FLOOR))
    for number in range(before_copy):
        book.append(JOB, Noted(f"note {number}, said before the copy was made"))
    book.copy()
    for number in range(after_copy):
        book.append(JOB, Noted(f"note {before_copy + number}, said after it"))
    book.drawers.keep("settings", "current job", JOB)
    book.close()
    return told(path)


def told(path: Path) -> list[str]:
    """What the book says now."""
    with Book(path, FakeClock(MORNING)) as book:
        return [repr(entry) for entry in book.entries(JOB)]


def gone(path: Path) -> None:
    for beside in path.parent.glob(f"{path.name}*"):
        if beside.is_file():
            beside.unlink()


def emptied(path: Path) -> None:
    path.write_bytes(b"")


def cut_short(path: Path) -> None:
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def zeroed(path: Path) -> None:
    path.write_bytes(bytes(path.stat().st_size))


def random_bytes(path: Path) -> None:
    path.write_bytes(random.Random(7).randbytes(path.stat().st_size))


def one_bit_in_a_row(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[content.index(b"note 45")] ^= 1
    path.write_bytes(content)


@pytest.mark.parametrize("broken", [gone, emptied, cut_short, zeroed, random_bytes])
def test_a_lost_book_is_made_anew_with_all_that_was_stated_and_says_so(
    tmp_path: Path, broken: Callable[[Path], None]
) -> None:
    path = tmp_path / "book.sqlite3"
    before = written(path)
    broken(path)
    with Book(path, FakeClock(MORNING)) as book:
        assert [repr(entry) for entry in book.entries(JOB)] == before
        assert len(book.mended) == 1
        assert "nothing that was stated is lost" in book.mended[0]
        assert verify(book) is None


def test_a_log_that_lost_its_last_entries_gets_them_back(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    before = written(path)
    reader = sqlite3.connect(path)
    reader.execute("SELECT count(*) FROM entries").fetchone()
    book = Book(path, FakeClock(MORNING))
    book.append(JOB, Noted("only in the file beside the book"))
    # as after a crash whose -wal file was swept away: nobody folds it into the book
    (tmp_path / "kept").write_bytes(path.read_bytes())
    reader.close()
    book.close()
    (tmp_path / "kept").replace(path)
    after = told(path)
    assert after[:-1] == before
    assert "only in the file beside" in after[-1]


def test_a_changed_row_is_named_and_skipped_and_comes_back_from_the_copy(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    before = written(path)
    one_bit_in_a_row(path)
    with Book(path, FakeClock(MORNING)) as book:
        entries = book.entries(JOB)
        bad = [entry for entry in entries if isinstance(entry.facts, Unreadable)]
        assert [(entry.number, entry.facts) for entry in bad] == [
            (47, Unreadable("noted", "it is not what was written"))
        ]
        assert len(entries) == len(before), "the rest goes on"
        assert "entry 47 (noted, job 'Boat shed') cannot be read" in checked(book).wrong[0]
        book.copy()
        assert [repr(entry) for entry in book.entries(JOB)] == before
        assert verify(book) is None
        assert copies_of(path)
    assert [each.name for each in tmp_path.glob("*.damaged-*")], "the damaged file is kept"


def test_a_row_that_no_copy_holds_leaves_its_place(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    before = written(path)
    for each in copies_folder(path).iterdir():
        if each.name.startswith("tail"):
            each.unlink()
    one_bit_in_a_row(path)
    with Book(path, FakeClock(MORNING)) as book:
        line = book.restore()
        assert "entry 47 is lost: check the floor" in line
        after = [repr(entry) for entry in book.entries(JOB)]
        assert [n for n, (one, other) in enumerate(zip(before, after, strict=True), start=1) if one != other] == [47]
        assert verify(book) is None


def test_a_batch_that_cannot_be_read_keeps_its_number_free(tmp_path: Path) -> None:
    from mixclock.job.folding import fold

    path = tmp_path / "book.sqlite3"
    with Book(path, FakeClock(MORNING)) as book:
        book.append(JOB, JobStarted(JOB, FLOOR))
        book.append(JOB, Combined("Slow epoxy base", ("bay 1",), volume_l=4.0))
        book.append(JOB, Combined("Slow epoxy base", ("bay 1",), volume_l=5.0))
    content = bytearray(path.read_bytes())
    content[content.index(b'"volume_l":4.0') + 11] ^= 1
    path.write_bytes(content)
    with Book(path, FakeClock(MORNING)) as book:
        batches = fold(JOB, book.entries(JOB)).batches
    assert [(batch.id, batch.volume_l) for batch in batches] == [(2, 5.0)]


def test_a_book_that_is_deleted_under_its_reader_is_written_anew_at_once(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    with Book(path, FakeClock(MORNING)) as book:
        book.append(JOB, JobStarted(JOB, FLOOR))
        book.append(JOB, Noted("before"))
        gone(path)
        for each in copies_folder(path).iterdir():
            each.unlink()
        book.append(JOB, Noted("after"))
        assert [entry.facts for entry in book.entries(JOB)][1:] == [Noted("before"), Noted("after")]
    assert len(told(path)) == 3


@pytest.mark.parametrize("is_open", [True, False])
def test_a_folder_in_the_place_of_the_book_is_set_aside_and_the_book_written_anew(
    tmp_path: Path, is_open: bool
) -> None:
    path = tmp_path / "book.sqlite3"
    before = written(path)
    clock = FakeClock(MORNING)
    with Book(path, clock) as book:
        if is_open:
            assert len(book.entries(JOB)) == len(before)
        gone(path)
        path.mkdir()
        if is_open:
            assert [repr(entry) for entry in book.entries(JOB)] == before
            (line,) = book.mended
            assert "was replaced by a folder" in line
    assert told(path) == before
    assert any(aside.is_dir() for aside in tmp_path.glob("book.sqlite3.damaged-*"))


def test_who_has_the_old_file_open_writes_into_the_new_one(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    before = written(path)
    with Book(path, FakeClock(MORNING)) as one, Book(path, FakeClock(MORNING)) as other:
        other.entries(JOB)
        one.restore()
        other.append(JOB, Noted("after the swap"))
        assert len(one.entries(JOB)) == len(before) + 1


def test_copies_are_rotated_and_only_made_of_what_is_new(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    clock = FakeClock(MORNING)
    with Book(path, clock) as book:
        book.append(JOB, JobStarted(JOB, FLOOR))
        for _ in range(40):
            clock.advance(3600)
            book.append(JOB, Noted("x"))
            assert book.copy() is not None
            assert book.copy() is None
    days = {each.name.partition("-")[2][:8] for each in copies_of(path)}
    assert 6 <= len(copies_of(path)) <= 13
    assert len(days) == 3


def test_before_an_older_book_is_changed_it_is_copied(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    before = written(path)
    with sqlite3.connect(path) as old:
        old.execute("DROP TRIGGER entries_make_lines")
        old.execute("DROP INDEX ends_of_jobs")
        old.execute("DROP TABLE joblines")
        old.execute("DROP INDEX signs_seen")
        old.execute("DROP TABLE lessons")
        old.execute("DELETE FROM _sqlite_migrations WHERE name IN ('lessons_beside_the_log', 'lines_of_jobs')")
        old.execute("PRAGMA user_version = 2")
    old.close()
    assert told(path) == before
    kept = copies_folder(path) / "before-shape-3.book"
    assert left_behind(path) == [kept]
    with sqlite3.connect(kept) as copy:
        assert copy.execute("PRAGMA user_version").fetchone() == (2,)
    copy.close()


@pytest.mark.parametrize(
    ("column", "value"),
    [("finished", "2026-04-13T08:00:00Z"), ("own", 0), ("stated", "2021-04-13T08:00:00Z"), ("stated", "2026=04"),
     ("started", "x"), ("last", "2026-04-13"), ("entries", 1)],
)  # fmt: skip
def test_a_list_of_jobs_that_lost_a_bit_hides_no_job(tmp_path: Path, column: str, value: object) -> None:
    path = tmp_path / "book.sqlite3"
    with Book(path, FakeClock(MORNING)) as book:
        book.append(JOB, JobStarted(JOB, FLOOR))
        book.append(JOB, Noted("heater lit"))
        book.copy()
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as behind:
        behind.execute(f"UPDATE joblines SET {column} = ?", (value,))
    with Book(path, FakeClock(MORNING)) as book:
        book.open_jobs()  # whatever stands there, it is read
        book.copy()
        (line,) = book.open_jobs()
    assert (line.name, line.finished, line.own, line.entries) == (JOB, None, 2, 2)
    assert line.stated == MORNING


def test_entries_behind_a_lost_one_keep_the_mark_by_which_other_books_know_them(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    written(path)
    for each in copies_folder(path).iterdir():
        if each.name.startswith("tail"):
            each.unlink()
    with Book(path, FakeClock(MORNING)) as book:
        marks = {entry.number: entry.mark for entry in book.entries(JOB)}
        own = {line.name: line.own for line in book.all_jobs()}
    one_bit_in_a_row(path)
    with Book(path, FakeClock(MORNING)) as book:
        book.restore()
        after = {entry.number: entry.mark for entry in book.entries(JOB) if not isinstance(entry.facts, Unreadable)}
        assert after == {number: marks[number] for number in after}
        assert all(entry.origin is None for entry in book.entries(JOB))
        assert {line.name: line.own for line in book.all_jobs()} == own


def test_what_was_kept_in_mind_on_a_full_disk_and_written_later_is_in_a_book_that_is_deleted_too(
    tmp_path: Path,
) -> None:
    path, in_mind = tmp_path / "book.sqlite3", UnrecordedEntries()
    before = written(path)
    with Book(path, FakeClock(MORNING), in_mind) as book:
        (last,) = book.entries(JOB)[-1:]
        in_mind.add([replace(last, number=last.number + 1, facts=Noted("said while the disk was full"))])
        book.record()
    stated = told(path)
    assert (len(stated), "said while the disk was full" in stated[-1]) == (len(before) + 1, True)
    gone(path)
    assert told(path) == stated


def test_what_is_written_while_the_book_is_opened_is_not_taken_for_a_loss(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "book.sqlite3"
    written(path)
    honest = Tail.last_number
    with Book(path, FakeClock(MORNING)) as writer:

        def written_meanwhile(tail: Tail) -> int:
            monkeypatch.setattr(Tail, "last_number", honest)
            writer.append(JOB, Noted("said by a phone at this very moment"))
            return honest(tail)

        monkeypatch.setattr(Tail, "last_number", written_meanwhile)
        with Book(path, FakeClock(MORNING)) as book:
            assert book.mended == ()


@pytest.mark.parametrize("column", ["job", "first", "started", "last", "stated", "entries", "own", "finished"])
@pytest.mark.parametrize("value", [None, "", -1, 2**62, float("inf"), b"\xff", "x"])
def test_a_damaged_line_of_the_list_of_jobs_costs_no_command_its_answer(
    tmp_path: Path, column: str, value: object
) -> None:
    path = tmp_path / "book.sqlite3"
    written(path, 2, 2)
    opened = contextlib.closing(sqlite3.connect(path, isolation_level=None))
    with opened as behind, contextlib.suppress(sqlite3.IntegrityError):
        behind.execute(f"UPDATE joblines SET {column} = ?", (value,))
    with Book(path, FakeClock(MORNING)) as book:
        assert len(listed_jobs(book)) == 1
        assert book.lost_entries(JOB) >= 0
        assert checked(book).entries == 5


def test_a_job_whose_first_entry_went_to_another_name_is_worked_out_without_its_file(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    written(path, 2, 2)
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as behind:
        behind.execute("DROP TRIGGER entries_stay")
        behind.execute("UPDATE entries SET job = 'Boat shee' WHERE number = 1")
    with Book(path, FakeClock(MORNING)) as book:
        standing = fold(JOB, book.entries(JOB))
        assert (standing.site.name, standing.site.areas) == (JOB, ())
        assert book.lost_entries(JOB) == 1


def test_who_goes_back_to_a_copy_stays_there_and_finds_what_came_after_it_set_aside(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    written(path, 10, 5)
    with Book(path, FakeClock(MORNING)) as book:
        (early,) = copies_of(path)
        book.copy()
        book.append(JOB, Noted("said after the second copy"))
        line = book.restore(early)
    assert f"It is as {early.name} has it, with 11 entries. What was written after it stays in" in line
    assert "nothing that was stated is lost" not in line
    with Book(path, FakeClock(MORNING)) as book:
        assert (len(book.entries(JOB)), book.mended) == (11, ())
        book.append(JOB, Noted("another day goes on from here"))
    gone(path)
    assert told(path)[-1].count("another day goes on from here") == 1
    assert len(told(path)) == 12
    assert len(left_behind(path)) >= 2
    assert not set(left_behind(path)) & set(copies_of(path))


def test_a_list_of_jobs_that_differs_from_the_last_copy_and_agrees_with_the_log_is_no_damage(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    written(path, 2, 2)
    clock = FakeClock(MORNING)
    clock.advance(60.0)
    with Book(path, clock) as book:
        book.append(JOB, WatchEvent("started"))
        book.copy()
        clock.advance(60.0)
        book.connection.own().execute("UPDATE joblines SET stated = last")
        assert book.copy() is not None, "a fresh copy is held against its log"
        assert book.copy() is None
        assert book.mended == ()
