"""A job goes from one book to another whole, or not at all."""

from __future__ import annotations

import gzip
import json
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path

import pytest

from mixclock.job.entry import Delivered, Facts, JobStarted, Noted, PhotoTaken, Raised, Withdrawn
from mixclock.job.saying import CannotTellError
from mixclock.job.statements import PhotoStatement
from mixclock.outside.book import Book, BookError
from mixclock.outside.bookcheck import checked
from mixclock.outside.bookdrawers import Picture, put_beside
from mixclock.outside.bookrows import mark_in
from mixclock.outside.clock import FakeClock
from mixclock.outside.jobexchange import export_job, import_job, pictures_missing
from mixclock.outside.withoutnames import export_for_reading
from mixclock.wiring import open_house
from tests.boatshed import one_coat
from tests.outside.verified import verify

MORNING = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
JOB = "Pottery studio floor"
FLOOR = one_coat(name="Pottery studio floor")
SMALL = b"\xff\xd8 a small picture"
ORIGINAL = "ab" * 32


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """A job of six entries; their numbers in the book are 1, 3, 5, 6, 7 and 8."""
    book = Book(tmp_path / "site.sqlite3", FakeClock(MORNING))
    book.append(JOB, JobStarted(JOB, FLOOR))
    book.append("Boat shed", Noted("another job in between"))
    wrong = book.append(JOB, Noted("heater lit"), by="mixer", happened=MORNING - timedelta(hours=1))
    book.append("Boat shed", Noted("and again"))
    book.append(JOB, Withdrawn(wrong.number), note="was the kettle – nothing else")
    raised = book.append(JOB, Raised("b1.pour-out", "now", "critical", "Pour it out", "2026-04-13T08:09:00Z"))
    book.append(JOB, Delivered(raised.number, "sound", "sent"))
    put_beside(book.connection.own(), [Picture(ORIGINAL, "image/jpeg", SMALL, sha256(SMALL).hexdigest())])
    book.append(JOB, PhotoTaken("bay.jpg", ORIGINAL, area="bay 1"))
    return book


@pytest.fixture
def elsewhere(tmp_path: Path) -> Book:
    book = Book(tmp_path / "office.sqlite3", FakeClock(MORNING + timedelta(days=1)))
    for text in ("one", "two", "three"):
        book.append("Garage", Noted(text))
    return book


def told(book: Book, job: str) -> list[tuple[datetime, datetime, str | None, str | None, str, float]]:
    return [(e.happened, e.written, e.by, e.note, e.boot_id, e.boot_s) for e in book.entries(job)]


def test_a_job_arrives_whole_with_its_times_people_and_pictures(book: Book, elsewhere: Book, tmp_path: Path) -> None:
    assert export_job(book, JOB, tmp_path / "job.mixclock") == 6
    taken = import_job(elsewhere, tmp_path / "job.mixclock")
    assert (taken.job, taken.new, taken.known) == (JOB, 6, 0)
    assert told(elsewhere, JOB) == told(book, JOB)
    picture = elsewhere.drawers.picture(ORIGINAL)
    assert picture is not None
    assert picture.small == SMALL
    assert verify(elsewhere) is None


def test_entries_are_numbered_anew_and_what_names_them_follows(book: Book, elsewhere: Book, tmp_path: Path) -> None:
    export_job(book, JOB, tmp_path / "job.mixclock")
    import_job(elsewhere, tmp_path / "job.mixclock")
    entries = {entry.number: entry.facts for entry in elsewhere.entries(JOB)}
    assert sorted(entries) == [4, 5, 6, 7, 8, 9]
    assert entries[6] == Withdrawn(5)
    assert entries[8] == Delivered(7, "sound", "sent")


def test_each_entry_keeps_the_hash_that_it_had_where_it_was_written(
    book: Book, elsewhere: Book, tmp_path: Path
) -> None:
    export_job(book, JOB, tmp_path / "job.mixclock")
    import_job(elsewhere, tmp_path / "job.mixclock")
    export_job(elsewhere, JOB, tmp_path / "again.mixclock")
    third = Book(tmp_path / "third.sqlite3", FakeClock(MORNING))
    import_job(third, tmp_path / "again.mixclock")
    assert [mark_in(row.origin) for row in third.rows(JOB)] == [row.hash for row in book.rows(JOB)]


def test_the_same_job_is_not_taken_twice_but_may_take_another_name(book: Book, elsewhere: Book, tmp_path: Path) -> None:
    export_job(book, JOB, tmp_path / "job.mixclock")
    import_job(elsewhere, tmp_path / "job.mixclock")
    again = import_job(elsewhere, tmp_path / "job.mixclock")
    assert (again.new, again.known) == (0, 6)
    copied = import_job(elsewhere, tmp_path / "job.mixclock", "Studio, copy")
    assert (copied.job, copied.new) == ("Studio, copy", 6)
    assert verify(elsewhere) is None


def unpacked(path: Path) -> str:
    """The lines of an exported file, packed or not."""
    content = path.read_bytes()
    return (gzip.decompress(content) if content[:2] == b"\x1f\x8b" else content).decode()


def refused(elsewhere: Book, path: Path, said: str) -> None:
    before = list(elsewhere.rows())
    with pytest.raises(BookError, match=said) as caught:
        import_job(elsewhere, path)
    assert "\n" not in str(caught.value)
    assert list(elsewhere.rows()) == before


@pytest.mark.parametrize("line", range(8))
def test_a_changed_line_is_refused_and_named(book: Book, elsewhere: Book, tmp_path: Path, line: int) -> None:
    path = tmp_path / "job.mixclock"
    export_job(book, JOB, path)
    lines = unpacked(path).splitlines()
    changed = json.loads(lines[line])
    key = {0: "job", 7: "media"}.get(line, "happened")
    changed[key] = changed[key].replace("1", "2").replace("o", "0").replace("jpeg", "png")
    lines[line] = json.dumps(changed)
    path.write_text("\n".join(lines) + "\n")
    refused(elsewhere, path, f"line {line + 1} is not what was exported: its seal differs; nothing was imported")


@pytest.mark.parametrize(("kept", "said"), [(slice(0, 4), "4 of 8 lines"), (slice(0, 7), "7 of 8 lines")])
def test_a_file_that_was_cut_off_is_refused(
    book: Book, elsewhere: Book, tmp_path: Path, kept: slice, said: str
) -> None:
    path = tmp_path / "job.mixclock"
    export_job(book, JOB, path)
    path.write_text("\n".join(unpacked(path).splitlines()[kept]) + "\n")
    refused(elsewhere, path, said)
    path.write_text(unpacked(path)[:-20])
    refused(elsewhere, path, "cut short")


def test_a_dropped_line_in_the_middle_is_refused(book: Book, elsewhere: Book, tmp_path: Path) -> None:
    path = tmp_path / "job.mixclock"
    export_job(book, JOB, path)
    lines = unpacked(path).splitlines()
    path.write_text("\n".join(lines[:3] + lines[4:]) + "\n")
    refused(elsewhere, path, "line 4 is not what was exported")


@pytest.mark.parametrize("content", [b"", b"shopping list", b"\xff\xfe\x00", b"[1]\n", b'{"a": 1}\n', b"5\n"])
def test_a_file_that_is_no_exported_job_is_refused(elsewhere: Book, tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "job.mixclock"
    path.write_bytes(content)
    refused(elsewhere, path, "no exported job|not what was exported")


def test_what_cannot_be_exported_is_said_and_leaves_no_file(book: Book, tmp_path: Path) -> None:
    with pytest.raises(BookError, match="'Barn' is no job of this book"):
        export_job(book, "Barn", tmp_path / "barn.mixclock")
    with pytest.raises(BookError, match="nothing was exported"):
        export_job(book, JOB, tmp_path / "nowhere" / "job.mixclock")
    (tmp_path / "taken").write_text("mine")
    with pytest.raises(BookError, match="give another name"):
        export_job(book, JOB, tmp_path / "taken")
    assert sorted(path.name for path in tmp_path.iterdir() if "sqlite3" not in path.name) == ["taken"]


def test_facts_of_every_kind_survive_the_way(tmp_path: Path, elsewhere: Book) -> None:
    from mixclock.job.entry import Combined, Measured, Reading

    every: list[Facts] = [
        JobStarted(JOB, FLOOR),
        Combined("Slow epoxy base", ("bay 1",), mass_kg=6.25, material_c=17.5, mixing_s=185.0, ended=True),
        Reading(air_c=21.3, rh_pct=54.0, slab_c=0.1 + 0.2),
        Measured("wet film", 310.0, "um", area="bay 1"),
    ]
    book = Book(tmp_path / "site.sqlite3", FakeClock(MORNING))
    for facts in every:
        book.append(JOB, facts)
    export_job(book, JOB, tmp_path / "job.mixclock")
    import_job(elsewhere, tmp_path / "job.mixclock")
    assert [entry.facts for entry in elsewhere.entries(JOB)] == every


def test_an_exported_job_is_its_owners_alone(book: Book, tmp_path: Path) -> None:
    export_job(book, JOB, tmp_path / "job.mixclock")
    assert (tmp_path / "job.mixclock").stat().st_mode & 0o777 == 0o600


def test_a_note_with_any_line_break_of_the_world_comes_back(book: Book, elsewhere: Book, tmp_path: Path) -> None:
    book.append(JOB, Noted("heater\u2028lit\x85again"))
    export_job(book, JOB, tmp_path / "job.mixclock")
    import_job(elsewhere, tmp_path / "job.mixclock")
    assert elsewhere.entries(JOB)[-1].facts == Noted("heater\u2028lit\x85again")


def sealed(path: Path, lines: list[dict[str, object]]) -> None:
    """A file whose seals are right although nothing else is."""
    from mixclock.outside.bookfile import _sealed

    path.write_text("\n".join(_sealed(lines)) + "\n")


@pytest.mark.parametrize(
    ("line", "key", "value"),
    [
        (0, "job", 7),
        (0, "job", None),
        (1, "number", "one"),
        (1, "facts", []),
        (1, "happened", 5),
        (1, "written", "9999-99-99"),
        (1, "boot_s", "long"),
        (1, "kind", "wedding"),
        (1, "facts", {"name": "x", "text": "not a job file"}),
        (4, "facts", {"entry": 777}),
        (6, "facts", {"raised": None, "channel": "sound", "outcome": "sent"}),
        (7, "small", 5),
        (7, "small", "not base64"),
    ],
)
def test_a_file_with_right_seals_and_wrong_insides_is_refused_in_one_line(
    book: Book, elsewhere: Book, tmp_path: Path, line: int, key: str, value: object
) -> None:
    path = tmp_path / "job.mixclock"
    export_job(book, JOB, path)
    lines = [json.loads(text) for text in unpacked(path).splitlines()]
    for each in lines:
        each.pop("seal")
    lines[line][key] = value
    sealed(path, lines)
    refused(elsewhere, path, "nothing was imported")


def test_an_imported_job_is_not_the_crews_until_it_is_used(book: Book, elsewhere: Book, tmp_path: Path) -> None:
    export_job(book, JOB, tmp_path / "job.mixclock")
    import_job(elsewhere, tmp_path / "job.mixclock")
    assert elsewhere.current_job() == "Garage"
    assert {line.name: line.own for line in elsewhere.all_jobs()} == {"Garage": 3, JOB: 0}
    elsewhere.use(JOB)
    assert elsewhere.current_job() == JOB


class TestAPictureComesAndGoesWithItsPhoto:
    def test_a_photo_that_is_refused_leaves_nothing_in_the_book(self, tmp_path: Path) -> None:
        picture = Picture(ORIGINAL, "image/jpeg", SMALL, sha256(SMALL).hexdigest())
        photo = PhotoStatement("bay.jpg", sha256=ORIGINAL, area="attic")
        with open_house(tmp_path, FakeClock(MORNING)) as house:
            house.start(FLOOR)
            with pytest.raises(CannotTellError, match="attic"):
                house.state(photo, beside=[picture])
            assert list(house.book.drawers.pictures()) == []
            house.state(photo.but(area="bay 1"), beside=[picture])
            assert [each.sha256 for each in house.book.drawers.pictures()] == [ORIGINAL]

    def test_a_file_that_is_refused_leaves_none_of_its_pictures(self, book: Book, tmp_path: Path) -> None:
        export_job(book, JOB, tmp_path / "job.mixclock")
        with open_house(tmp_path / "other", FakeClock(MORNING)) as house:
            house.start(one_coat(size="30 m2", name=JOB))
            with pytest.raises(BookError, match="another job"):
                import_job(house.book, tmp_path / "job.mixclock")
            assert list(house.book.drawers.pictures()) == []

    def test_a_job_is_sent_without_the_picture_that_is_lost_here_and_gets_it_back(
        self, book: Book, elsewhere: Book, tmp_path: Path
    ) -> None:
        export_job(book, JOB, tmp_path / "whole.mixclock")
        book.connection.own().execute("UPDATE pictures SET small = 'rotten'")
        assert pictures_missing(book, JOB) == 1
        assert export_job(book, JOB, tmp_path / "without.mixclock") == 6
        assert import_job(elsewhere, tmp_path / "without.mixclock").new == 6
        assert pictures_missing(elsewhere, JOB) == 1
        for receiver in (elsewhere, book):
            assert import_job(receiver, tmp_path / "whole.mixclock").new == 0
            assert pictures_missing(receiver, JOB) == 0
            assert verify(receiver) is None

    def test_a_check_names_every_photo_whose_picture_is_lost_or_altered_and_what_puts_it_back(
        self, tmp_path: Path
    ) -> None:
        picture = Picture(ORIGINAL, "image/jpeg", SMALL, sha256(SMALL).hexdigest())
        whole, without, reading = (tmp_path / name for name in ("whole", "without", "reading"))
        with open_house(tmp_path / "van", FakeClock(MORNING)) as van:
            van.start(FLOOR)
            name = van.job()
            van.state(PhotoStatement("bay.jpg", sha256=ORIGINAL, area="bay 1"), beside=[picture])
            assert checked(van.book).wrong == ()
            export_job(van.book, name, whole)
            van.book.connection.own().execute("UPDATE pictures SET small = 'rotten'")
            (altered,) = checked(van.book).wrong
            assert altered.endswith(f"the picture {ORIGINAL[:12]} is not what was put in")
            export_job(van.book, name, without)
            van.book.connection.own().execute("DELETE FROM pictures")
            (lost,) = checked(van.book).wrong
            assert lost.endswith("'bay.jpg' is missing; restore a copy of the book, or state `photo` with its file")
            export_for_reading(van.book, name, reading, None)
        with open_house(tmp_path / "office", FakeClock(MORNING)) as office:
            import_job(office.book, without)
            (left_behind,) = checked(office.book).wrong
            assert "export again, or state `photo` with its file" in left_behind
            import_job(office.book, whole)
            assert checked(office.book).wrong == ()
            import_job(office.book, reading)
            assert checked(office.book).wrong == ()
