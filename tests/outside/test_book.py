"""The book: what was stated stays, exactly as it was stated, and a book that was touched says where."""

from __future__ import annotations

import re
import sqlite3
import stat
import sys
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from mixclock.job.drafts import Draft
from mixclock.job.entry import (
    Combined,
    Entry,
    JobFinished,
    JobMended,
    JobStarted,
    MixingEnded,
    Noted,
    Poured,
    Saw,
    Unreadable,
    WatchEvent,
    Withdrawn,
)
from mixclock.job.instants import utc_text
from mixclock.job.saying import CannotTellError
from mixclock.outside.book import Book, BookError, DiskFullError
from mixclock.outside.bookdrawers import Picture, put_beside
from mixclock.outside.bookrows import FOR_READING, canonical
from mixclock.outside.clock import FakeClock
from mixclock.outside.jobs import walls_of_jobs
from mixclock.outside.unrecorded import UnrecordedEntries
from tests.boatshed import one_coat
from tests.outside.verified import verify

MORNING = datetime(2026, 4, 13, 8, 0, 0, 250_000, tzinfo=UTC)
JOB = "Pottery studio floor"


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(MORNING)


@pytest.fixture
def book(tmp_path: Path, clock: FakeClock) -> Book:
    return Book(tmp_path / "book.sqlite3", clock)


def behind_its_back(book: Book, *commands: str) -> None:
    """Change the file as a careless editor or a bad disk would, without the triggers."""
    raw = sqlite3.connect(book.path, isolation_level=None)
    for name in ("entries_only_grow", "entries_stay", "entries_are_kept"):
        raw.execute(f"DROP TRIGGER {name}")
    for command in commands:
        raw.execute(command)
    raw.close()


def test_what_was_stated_reads_back_the_same(book: Book, clock: FakeClock) -> None:
    facts = Combined("Slow epoxy base", ("bay 1", "bay 2"), volume_l=6.0, lot="L-17", mixing_s=180.0)
    happened = MORNING - timedelta(minutes=3, microseconds=7)
    written = book.append(JOB, facts, happened=happened, by="mixer", note='pail 2, "warm" – 22 °C')
    assert book.entries(JOB) == (written,)
    assert written == Entry(
        1, JOB, happened, MORNING, facts, "mixer", 'pail 2, "warm" – 22 °C', clock.boot_id(), clock.boot_s()
    )


def test_an_entry_carries_when_it_happened_and_when_it_was_written(book: Book, clock: FakeClock) -> None:
    clock.advance(600)
    late = book.append(JOB, Noted("heater lit"), happened=MORNING)
    assert (late.written - late.happened).total_seconds() == 600
    at_once = book.append(JOB, Noted("heater off"))
    assert at_once.written == at_once.happened == clock.now()


def test_only_new_entries_are_asked_for_by_number(book: Book) -> None:
    for text in ("one", "two", "three"):
        book.append(JOB, Noted(text))
    book.append("Boat shed", Noted("elsewhere"))
    assert [entry.number for entry in book.entries(JOB, after=1)] == [2, 3]
    assert book.entries(JOB, skip=("noted",)) == ()


@pytest.mark.parametrize(
    "command",
    [
        "UPDATE entries SET note = 'never mind'",
        "DELETE FROM entries WHERE number = 1",
        "INSERT OR REPLACE INTO entries SELECT * FROM entries WHERE number = 1",
        "REPLACE INTO entries SELECT * FROM entries",
        "INSERT INTO entries SELECT 7, job, kind, happened, written, facts, by_whom, note, boot_id, boot_s, origin,"
        " hash FROM entries",
        "UPDATE OR REPLACE entries SET number = 2",
    ],
)
def test_nobody_can_change_erase_or_slip_in_an_entry(book: Book, command: str) -> None:
    book.append(JOB, Noted("heater lit"))
    raw = sqlite3.connect(book.path)
    with pytest.raises(sqlite3.IntegrityError, match="the log only grows"):
        raw.execute(command)
    raw.close()
    assert verify(book) is None
    assert len(book.entries(JOB)) == 1


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no permission bits to check")
def test_the_book_and_all_beside_it_belong_to_its_owner_alone(tmp_path: Path, clock: FakeClock) -> None:
    book = Book(tmp_path / "deep" / "home" / "book.sqlite3", clock)
    book.append(JOB, Noted("heater lit"))
    files = list(book.path.parent.iterdir())
    assert {path.name for path in files} >= {"book.sqlite3", "book.sqlite3-wal", "book.sqlite3-shm"}
    assert {stat.S_IMODE(path.stat().st_mode) for path in files if path.is_file()} == {0o600}
    assert {stat.S_IMODE(path.stat().st_mode) for path in files if path.is_dir()} == {0o700}
    assert stat.S_IMODE(book.path.parent.stat().st_mode) == 0o700


def test_a_decision_sees_the_log_and_nobody_writes_in_between(book: Book) -> None:
    book.append(JOB, Noted("first"))
    other = sqlite3.connect(book.path, timeout=0, isolation_level=None)

    def build(entries: object) -> list[Draft]:
        with pytest.raises(sqlite3.OperationalError, match="locked"):
            other.execute("BEGIN IMMEDIATE")
        assert isinstance(entries, tuple)
        return [Draft(Noted(f"after {len(entries)}")), Draft(Noted("and another"))]

    written = book.append_within(JOB, build)
    other.close()
    assert [entry.number for entry in written] == [2, 3]
    assert [entry.facts for entry in written] == [Noted("after 1"), Noted("and another")]


def test_a_decision_that_fails_leaves_no_trace(book: Book) -> None:
    def build(entries: object) -> list[Draft]:
        raise ValueError("no such batch")

    with pytest.raises(ValueError, match="no such batch"):
        book.append_within(JOB, build)
    assert book.entries(JOB) == ()
    assert book.append(JOB, Noted("still works")).number == 1


def test_every_commit_is_flushed_to_the_disk(book: Book) -> None:
    connection = book.connection.own()
    assert connection.execute("PRAGMA synchronous").fetchone() == (2,)
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_another_programs_statement_changes_the_version_and_so_does_ones_own(book: Book, clock: FakeClock) -> None:
    before = book.data_version()
    assert book.data_version() == before
    with Book(book.path, clock) as other:
        other.append(JOB, Noted("from next door"))
    after_other = book.data_version()
    assert after_other != before
    book.append(JOB, Noted("mine"))
    assert book.data_version() != after_other


def test_what_is_kept_in_mind_and_what_is_written_never_make_up_for_each_other_in_the_version(book: Book) -> None:
    in_mind = SimpleNamespace(changes=0)
    book.unrecorded = in_mind  # type: ignore[assignment]
    (*_, before) = book.data_version()
    book.drawers.keep("phones", "abc", {})
    (*_, written) = book.data_version()
    assert written > before
    in_mind.changes = written - before
    assert book.data_version()[-1] == before + 2 * (written - before)


def test_the_jobs_are_listed_with_their_ends(book: Book, clock: FakeClock) -> None:
    book.append(JOB, JobStarted(JOB, "text"))
    clock.advance(3600)
    book.append("Boat shed", JobStarted("Boat shed", "text"))
    ended = book.append(JOB, JobFinished())
    lines = book.all_jobs()
    assert [line.name for line in lines] == [JOB, "Boat shed"]
    assert lines[0].finished == ended.happened
    assert lines[1].finished is None
    assert lines[0].entries == 2


def test_only_jobs_that_go_on_and_those_that_are_named_are_read_for_the_watch(book: Book, clock: FakeClock) -> None:
    for name in ("Pier", "Boat shed", JOB):
        book.append(name, JobStarted(name, "text"))
    for name in ("Pier", "Boat shed"):
        book.append(name, JobFinished())
    clock.advance(3600)
    book.append("Boat shed", Noted("the owner walked on it"))
    assert [line.name for line in book.running_jobs(())] == ["Boat shed", JOB]
    assert [line.name for line in book.running_jobs({"Pier"})] == ["Pier", "Boat shed", JOB]
    assert book.running_jobs({"Pier"}) == book.all_jobs()


def test_a_job_whose_finish_was_withdrawn_is_under_way_again(book: Book) -> None:
    book.append(JOB, JobStarted(JOB, "text"))
    finish = book.append(JOB, JobFinished())
    mistake = book.append(JOB, Withdrawn(finish.number))
    assert book.all_jobs()[0].finished is None
    assert book.current_job() == JOB
    book.append(JOB, Withdrawn(mistake.number))
    assert book.all_jobs()[0].finished == finish.happened


def test_without_a_choice_the_last_unfinished_job_is_meant(book: Book) -> None:
    assert book.current_job() is None
    book.append(JOB, JobStarted(JOB, "text"))
    book.append("Boat shed", JobStarted("Boat shed", "text"))
    book.append("Boat shed", JobFinished())
    assert book.current_job() == JOB
    book.use("Boat shed")
    assert book.current_job() == "Boat shed"
    book.use(None)
    assert book.current_job() == JOB
    book.use("Pier")
    assert book.current_job() == JOB, "the book has no such job"


def test_drawers_keep_what_is_no_part_of_the_log(book: Book) -> None:
    book.drawers.keep("phones", "abc", {"who": "roller", "seen": None})
    book.drawers.keep("phones", "abc", {"who": "mixer", "seen": 1})
    book.drawers.keep("calibrations", "base/20", [0.1, 0.2])
    assert book.drawers.kept("phones", "abc") == {"who": "mixer", "seen": 1}
    assert book.drawers.kept("settings", "abc") is None
    book.drawers.drop("phones", "abc")
    assert book.drawers.kept("phones", "abc") is None
    assert book.drawers.kept("calibrations", "base/20") == [0.1, 0.2]


def test_a_sound_book_verifies(book: Book) -> None:
    for text in ("one", "two", "three"):
        book.append(JOB, Noted(text))
    assert verify(book) is None


@pytest.mark.parametrize(
    ("command", "said"),
    [
        (
            "UPDATE entries SET facts = replace(facts, 'two', 'twp') WHERE number = 2",
            r"entry 2 \(noted.*not what was written",
        ),
        ("UPDATE entries SET happened = '2026-04-13T08:00:00Z' WHERE number = 3", r"entry 3 .*not what was written"),
        ("UPDATE entries SET boot_s = boot_s + 0.001 WHERE number = 1", r"entry 1 .*not what was written"),
        ("UPDATE entries SET by_whom = 'roller' WHERE number = 1", r"entry 1 .*not what was written"),
        ("DELETE FROM entries WHERE number = 2", r"entry 2 is missing"),
    ],
)
def test_a_changed_row_is_named_in_one_line(book: Book, command: str, said: str) -> None:
    for text in ("one", "two", "three"):
        book.append(JOB, Noted(text))
    behind_its_back(book, command)
    line = verify(book)
    assert line is not None
    assert "\n" not in line
    assert re.search(said, line)


def test_a_row_moved_with_its_own_hash_still_breaks_the_chain(book: Book) -> None:
    for text in ("one", "two"):
        book.append(JOB, Noted(text))
    behind_its_back(
        book,
        "CREATE TEMP TABLE swap AS SELECT * FROM entries",
        "DELETE FROM entries",
        "INSERT INTO entries SELECT 3 - number, job, kind, happened, written, facts, by_whom, note, boot_id, boot_s,"
        " origin, hash FROM swap",
    )
    assert "entry 1 " in str(verify(book))


def test_a_changed_picture_is_found(book: Book) -> None:
    put_beside(book.connection.own(), [Picture("ab" * 32, "image/jpeg", b"small", "00" * 32)])
    assert "the picture abababababab" in str(verify(book))


def test_a_flipped_bit_in_the_file_is_found(book: Book, clock: FakeClock) -> None:
    marks = [f"note {place:04d} about the slab in the corner" for place in range(50)]
    for mark in marks:
        book.append(JOB, Noted(mark))
    book.close()
    Book(book.path, clock).close()
    content = bytearray(book.path.read_bytes())
    for mark in marks[::7]:
        flipped = bytearray(content)
        flipped[content.index(mark.encode()) + 3] ^= 0x04
        book.path.write_bytes(flipped)
        with Book(book.path, clock) as damaged:
            assert "is not what was written" in str(verify(damaged))


def test_nothing_is_written_into_a_copy_that_is_for_reading_whoever_asks_the_book(book: Book) -> None:
    origin = canonical({"book": FOR_READING, "mark": "m", "number": 1, "stamp": [utc_text(MORNING), 0], "van": "van 2"})
    begun = Entry(1, JOB, MORNING, MORNING, JobStarted(JOB, one_coat(name=JOB)))
    book.take_over(lambda number: [(replace(begun, number=number), origin)])
    assert book.is_for_reading(JOB)
    with pytest.raises(CannotTellError, match="is for reading only"):
        book.append(JOB, Noted("the door stood open"))
    assert [entry.facts for entry in book.entries(JOB)] == [begun.facts]
    book.append("Boat shed", Noted("the door stood open"))


def test_a_newer_book_is_refused_in_one_line_and_left_alone(book: Book, clock: FakeClock) -> None:
    book.connection.own().execute("PRAGMA user_version = 99")
    with pytest.raises(BookError, match=r"book\.sqlite3: this book was written by a newer mixclock .* update mixclock"):
        Book(book.path, clock)


def test_an_older_book_is_brought_up_to_date_and_keeps_its_log(tmp_path: Path, clock: FakeClock) -> None:
    from sqlite_utils import Database

    from mixclock.outside.bookshape import SHAPE

    path = tmp_path / "old.sqlite3"
    raw = sqlite3.connect(path)
    SHAPE.apply(Database(raw), stop_before="drawers_beside_the_log")
    raw.close()
    with Book(path, clock) as book:
        book.append(JOB, Noted("carried over"))
        book.use(JOB)
        assert verify(book) is None
        assert book.current_job() == JOB


def test_a_full_disk_is_said_in_one_line_and_nothing_is_written(book: Book) -> None:
    book.append(JOB, Noted("while there was room"))
    book.connection.use_reserve()
    connection = book.connection.own()
    (pages,) = connection.execute("PRAGMA page_count").fetchone()
    connection.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(DiskFullError, match=r"the disk is full and nothing was written; free some space"):
        book.append(JOB, Noted("x" * 100_000))
    connection.execute("PRAGMA max_page_count = 1000000")
    assert [entry.facts for entry in book.entries(JOB)] == [Noted("while there was room")]
    assert book.append(JOB, Noted("room again")).number == 2


def test_a_book_that_may_not_be_written_is_said_in_one_line(book: Book) -> None:
    book.connection.own().execute("PRAGMA query_only = ON")
    with pytest.raises(BookError, match="may not be written to; nothing was written"):
        book.append(JOB, Noted("x"))


def test_a_folder_that_cannot_be_made_is_said_in_one_line(tmp_path: Path, clock: FakeClock) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(BookError, match=r"(File exists|Not a directory); set MIXCLOCK_HOME"):
        Book(tmp_path / "file" / "book.sqlite3", clock)


def test_a_file_that_is_no_book_is_said_in_one_line(tmp_path: Path, clock: FakeClock) -> None:
    (tmp_path / "book.sqlite3").write_text("not a database, but a shopping list " * 40)
    with pytest.raises(BookError, match="damaged"):
        Book(tmp_path / "book.sqlite3", clock)


def test_an_entry_of_a_newer_kind_says_which_one_it_is(book: Book) -> None:
    book.append(JOB, MixingEnded(1))
    book.append(JOB, Poured(1))
    behind_its_back(book, "UPDATE entries SET kind = 'levitated' WHERE number = 2")
    assert book.entries(JOB)[1].facts == Unreadable("levitated", "it is not what was written")


class TestLinesOfJobs:
    """Each job's line is kept up by the log itself, whoever writes."""

    def test_they_say_what_counting_the_log_through_would_say(self, book: Book) -> None:
        book.append(JOB, JobStarted(JOB, ""))
        book.append("Barn", JobStarted("Barn", ""))
        book.append(JOB, Saw("stringy", 1))
        ended = book.append("Barn", JobFinished())
        counted = (
            book.connection.own().execute("SELECT job, count(*), max(written) FROM entries GROUP BY job").fetchall()
        )
        assert {(line.name, line.entries) for line in book.all_jobs()} == {(job, count) for job, count, _ in counted}
        assert [line.name for line in book.open_jobs()] == [JOB]
        book.append("Barn", Withdrawn(ended.number))
        assert [line.name for line in book.open_jobs()] == [JOB, "Barn"]
        book.append("Barn", JobFinished())
        assert [line.name for line in book.open_jobs()] == [JOB]

    def test_what_the_daemon_writes_makes_no_job_live(self, book: Book, clock: FakeClock) -> None:
        book.append(JOB, JobStarted(JOB, ""))
        clock.advance(90 * 86400.0)
        book.append(JOB, WatchEvent("started"))
        (line,) = book.all_jobs()
        assert line.last - line.stated == timedelta(days=90)


class TestWhatIsAskedOfABook:
    def test_each_jobs_days_are_told_by_the_clock_of_its_own_file_as_it_was_mended_last(self, book: Book) -> None:
        book.append("Boat shed", JobStarted("Boat shed", one_coat(zone="Europe/Lisbon")))
        book.append(JOB, JobStarted(JOB, one_coat(name=JOB, zone="Europe/Lisbon")))
        book.append(JOB, JobMended(one_coat(name=JOB, zone="Asia/Tokyo")))
        zones = {job: wall.key for job, wall in walls_of_jobs(book).items()}
        assert zones == {"Boat shed": "Europe/Lisbon", JOB: "Asia/Tokyo"}

    """What other parts ask: entries that are missing, where a job began, whose calls are made here."""

    def test_entries_that_are_no_more_are_counted_and_a_damaged_count_vouches_for_nothing(self, book: Book) -> None:
        for words in ("one", "two", "three"):
            book.append(JOB, Noted(words))
        assert (book.lost_entries(JOB), book.lost_entries("no such job")) == (0, 0)
        behind_its_back(book, "UPDATE entries SET job = 'elsewhere' WHERE number > 1")
        assert book.lost_entries(JOB) == 2
        with closing(sqlite3.connect(book.path, isolation_level=None)) as other:
            other.execute("UPDATE joblines SET entries = 'x'")
        assert book.lost_entries(JOB) == 1

    def test_a_job_is_found_by_the_mark_of_its_first_entry(self, book: Book) -> None:
        book.append(JOB, JobStarted(JOB, "a job file"))
        book.append("Boat shed", JobStarted("Boat shed", "another"))
        begun = {row.job: row.hash for row in book.rows()}
        assert {job: book.begun_by(mark) for job, mark in begun.items()} == {job: [job] for job in begun}
        assert book.begun_by("no such mark") == []

    def test_the_books_whose_calls_are_made_here_are_those_that_were_taken_over(self, book: Book) -> None:
        assert book.called_here() == []
        book.drawers.keep("settings", "called here", ["van 2"])
        assert book.called_here() == ["van 2"]
        book.drawers.keep("settings", "called here", "a word that somebody wrote there")
        assert book.called_here() == []

    def test_once_what_was_kept_in_mind_is_written_whoever_follows_the_job_reads_it_anew(
        self, tmp_path: Path, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        with Book(tmp_path / "book.sqlite3", clock, UnrecordedEntries()) as book:
            book.append(JOB, Noted("there is room"))
            with monkeypatch.context() as full:
                full.setattr(book, "_append", lambda *_: (_ for _ in ()).throw(DiskFullError("no room")))
                book.append(JOB, Noted("on a full disk"))
            before, version = book.generation, book.data_version()
            book.record()
            assert book.generation == before + 1
            assert book.data_version() != version
            assert [entry.facts for entry in book.entries(JOB)] == [Noted("there is room"), Noted("on a full disk")]


def test_a_new_book_whose_tables_cannot_all_be_made_holds_none_of_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from mixclock.outside import bookviews
    from mixclock.outside.bookshape import bring_up_to_date

    broken = SimpleNamespace(query="no query at all")
    with closing(sqlite3.connect(tmp_path / "book.sqlite3", isolation_level=None)) as connection:
        with monkeypatch.context() as patched:
            patched.setattr(bookviews, "VIEWS", {"one": broken})
            with pytest.raises(sqlite3.OperationalError):
                bring_up_to_date(connection)
        assert connection.execute("SELECT count(*) FROM sqlite_master").fetchone() == (0,)
        assert connection.execute("PRAGMA user_version").fetchone() == (0,)
        bring_up_to_date(connection)
        assert connection.execute("PRAGMA user_version").fetchone() == (6,)
