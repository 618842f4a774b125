"""Vans, an office and somebody who may only read: a job goes from hand to hand by files, as it is typed and told."""

from __future__ import annotations

import gzip
import re
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest

from mixclock.job.statements import VERBS
from tests.cli.studio import STUDIO
from tests.running import Ran, Runner

JOB = "Pottery studio floor"
WITHOUT = f"{JOB}, without names"
MIXING = ("mixing", "Slow epoxy base", "4 L", "--coat", "base")
CREW = (
    STUDIO.replace('"mixer"', '"Petra Lind"')
    .replace('"roller"', '"Jo"  # Jo is new')
    .replace("[[areas]]", 'contact = "Petra Lind, gatehouse"\n[[areas]]', 1)
)

Typed = Callable[..., Ran]


def ok(ran: Ran) -> Ran:
    assert ran.code == 0, ran.err
    return ran


def refused(ran: Ran, *parts: str) -> None:
    """One line, exit code 2, and it says what it should."""
    assert (ran.code, ran.err.count("\n"), ran.out) == (2, 1, ""), ran
    assert all(part in ran.err for part in parts), ran.err


@pytest.fixture
def crew(tmp_path: Path, run_as: Callable[..., Ran]) -> dict[str, Typed]:
    """A van and an office, each with a home; their files lie in one folder."""

    def typed(name: str) -> Typed:
        (tmp_path / name).mkdir()
        runner = Runner(tmp_path / name, cwd=tmp_path)
        return lambda *words: run_as(runner, *words)

    return {name: typed(name) for name in ("van", "office")}


@pytest.fixture
def van(crew: dict[str, Typed], tmp_path: Path) -> Typed:
    """The studio under way in a van: a bucket is mixed, things are noted, a photo is taken."""
    from PIL import Image

    (tmp_path / "studio.toml").write_text(CREW)
    Image.new("RGB", (40, 40), "gray").save(tmp_path / "face.jpg")
    van = crew["van"]
    ok(van("book", "name", "van 1"))
    ok(van("job", "start", "studio.toml"))
    ok(van(*MIXING, "--on", "bay 1", "--ago", "50 min", "--by", "petra lind", "--note", "PETRA LIND stirred it"))
    ok(van("noted", "Jo opened for Mr Birch; Petra was late"))
    ok(van("photo", "face.jpg", "--on", "bay 1", "--by", "Jo"))
    return van


@pytest.fixture
def reader(van: Typed, crew: dict[str, Typed]) -> Typed:
    """The office, which has the copy without names and nothing else."""
    ok(van("job", "export", "read.mixclock", "--without-names"))
    ok(crew["office"]("job", "import", "read.mixclock"))
    return crew["office"]


class TestACopyForReading:
    def test_what_still_stands_in_it_is_told_before_it_is_handed_on(self, van: Typed, tmp_path: Path) -> None:
        whole = ok(van("job", "export", "whole.mixclock", "--json")).json
        told = ok(van("job", "export", "read.mixclock", "--without-names")).out.splitlines()
        assert told[1].startswith("It is for reading: no book joins it with what it has")
        assert told[2] == "No photo is in it."
        assert told[3] == "The names of the job, its areas, products and lots stand in it as they are."
        assert told[-1].endswith("crew 2 opened for Mr Birch; crew 1 was late")
        assert whole["state"] not in told[0]
        content = gzip.decompress((tmp_path / "read.mixclock").read_bytes()).decode()
        names = ("Petra", "PETRA", "petra", "Jo ", '"Jo"', "face.jpg", "gatehouse", "van 1")
        assert not [name for name in names if name in content]
        marks = gzip.decompress((tmp_path / "whole.mixclock").read_bytes()).decode().split('"mark":"')[1:]
        assert not [mark for mark in marks if mark[:64] in content], "who guesses a name could prove it by the hash"

    @pytest.mark.parametrize(
        "words",
        [
            ("reading", "--air", "20 °C"), ("noted", "a word"), ("poured", "1"), ("withdraw", "3"),
            (*MIXING, "--on", "bay 2"), ("found", "bay 1", "dull"), ("photo", "face.jpg", "--on", "bay 1"),
            ("job", "mend", "studio.toml"), ("job", "finish"), ("job", "take-over"), ("next",),
        ],
        ids=lambda words: " ".join(words[:2]),
    )  # fmt: skip
    def test_nothing_is_stated_changed_or_called_out_in_it(self, reader: Typed, words: tuple[str, ...]) -> None:
        before = ok(reader("job", "list", "--json")).json
        refused(reader(*words, "--job", WITHOUT), f"'{WITHOUT}' is for reading only", "name another with --job")
        assert reader("job", "list", "--json").json == before

    def test_it_takes_no_statement_by_being_alone_or_chosen(self, reader: Typed) -> None:
        refused(reader("noted", "a word"), "no job is under way")
        refused(reader("job", "use", WITHOUT), "is for reading only")
        ok(reader("book", "clock-is-right"))
        assert f"  {WITHOUT}: begun " in (listed := ok(reader("job", "list")).out)
        assert listed.endswith(", for reading only, 5 entries\n")
        assert reader("jobs").code == 1, "no foreman is told that it is late"

    def test_it_is_asked_like_any_job(self, reader: Typed) -> None:
        assert ok(reader("now", "--job", WITHOUT, "--json")).json["alerts"] == []
        assert ok(reader("why", "bay 1", "--job", WITHOUT)).out

    def test_beside_the_whole_job_it_counts_for_nothing(self, van: Typed, reader: Typed) -> None:
        ok(van("saw", "1", "stringy"))
        ok(van("job", "export", "whole.mixclock"))
        ok(van("job", "export", "read2.mixclock", "--without-names"))
        ok(reader("job", "import", "read2.mixclock", "--as", "second copy"))
        assert ok(reader("profile", "show", "Slow epoxy base", "--json")).json["learned"] == []
        ok(reader("job", "import", "whole.mixclock"))
        (learned,) = ok(reader("profile", "show", "Slow epoxy base", "--json")).json["learned"]
        assert [seen["job"] for seen in learned["observations"]] == [JOB]
        assert "2 copies of other jobs are left out" in ok(reader("why", "--all")).out

    def test_a_copy_of_it_is_for_reading_too(self, reader: Typed, van: Typed) -> None:
        for name, more in (("again", ()), ("once more", ("--without-names",))):
            ok(reader("job", "export", f"{name}.mixclock", "--job", WITHOUT, *more))
            refused(van("job", "import", f"{name}.mixclock", "--as", JOB), "is for reading only and never joined")
        assert "This copy is only for reading" in ok(van("job", "import", "again.mixclock")).out
        refused(van("job", "import", "once more.mixclock"), f"never joined with '{WITHOUT}'", "--as NAME")

    def test_another_name_is_another_persons_alone(self, van: Typed, crew: dict[str, Typed]) -> None:
        refused(van("job", "export", "x", "--rename", "Jo=petra lind"), "two people would be called 'petra lind'")
        refused(van("job", "export", "x", "--rename", "Jo=A", "--rename", "Petra Lind=a"), "two people would be called")
        refused(van("job", "export", "x", "--rename", "Jo"), "say it as 'OLD=NEW'")
        refused(van("job", "export", "x", "--rename", "Joe=A"), "nobody is called 'Joe' here; did you mean 'Jo'?")
        refused(van("job", "export", "x", "--rename", "Jo=A", "--without-names"), "give one of them")
        ok(van("job", "export", "swapped.mixclock", "--rename", "jo=Petra Lind", "--rename", "Petra Lind=Jo"))
        ok(crew["office"]("job", "import", "swapped.mixclock"))
        told = ok(crew["office"]("now", "--job", f"{JOB}, other names")).out
        assert told.startswith(f"{JOB}, other names")
        ok(crew["office"]("job", "export", "both.mixclock", "--job", f"{JOB}, other names", "--without-names"))
        assert "This copy is only for reading" in ok(van("job", "import", "both.mixclock")).out

    def test_a_phone_cannot_state_in_it_either(self, reader: Typed, tmp_path: Path) -> None:
        from mixclock.board.house import RefusedError
        from mixclock.board.joining import JoinedHouse
        from mixclock.wiring import open_house

        assert reader
        with open_house(tmp_path / "office") as house:
            board = JoinedHouse(house)
            assert WITHOUT not in board.jobs()
            shown = board.of_job(WITHOUT)
            for verb, told in (("noted", {"text": "x"}), ("poured", {"batch": 1})):
                with pytest.raises(RefusedError, match="is for reading only"):
                    shown.state(VERBS[verb].told(told), house.clock.now(), None)
            with pytest.raises(RefusedError, match="is for reading only"):
                shown.withdraw(3, house.clock.now(), None)
            with pytest.raises(RefusedError, match="is for reading only"):
                shown.ask_next_kit(house.clock.now(), None)


class TestBetweenVans:
    def test_a_book_has_a_name_that_others_know_it_by(self, van: Typed, crew: dict[str, Typed]) -> None:
        office = crew["office"]
        assert "Others will know this book as book " in ok(_started(office)("job", "export", "o.mixclock")).out
        refused(van("book", "name", "x" * 41), "41 letters long; 40 is the most")
        refused(van("book", "name", ""), "name")
        assert ok(van("book", "name")).out == "This book is van 1.\n"
        assert "stays with van 1" in ok(van("book", "name", "van 7")).out
        assert len(ok(van("book", "name", "van 7")).out.splitlines()) == 1

    def test_an_office_that_only_took_jobs_in_is_told_which_it_can_ask_about(
        self, van: Typed, crew: dict[str, Typed]
    ) -> None:
        ok(van("job", "export", "van.mixclock"))
        ok(crew["office"]("job", "import", "van.mixclock"))
        refused(crew["office"]("now"), "no job of this book is under way; name one that was taken in: --job ")
        ok(crew["office"]("now", "--job", JOB))

    def test_a_lost_laptops_buckets_are_called_out_by_who_takes_its_place(
        self, van: Typed, crew: dict[str, Typed]
    ) -> None:
        office = crew["office"]
        ok(van("job", "export", "van.mixclock"))
        taken = ok(office("job", "import", "van.mixclock")).out
        assert "This one calls nobody for the other" in taken
        assert ok(office("now", "--job", JOB, "--json")).json["alerts"] == []
        refused(office("job", "take-over", "van 7", "--job", JOB), "van 7", "van 1")
        assert "what van 1 stated is called out here" in ok(office("job", "take-over", "--job", JOB)).out
        assert ok(office("now", "--json")).json["alerts"]
        refused(van("job", "take-over"), "all of this job was stated in this book; there is nothing to take over")

    def test_the_same_file_twice_is_told_as_nothing_new(self, van: Typed, crew: dict[str, Typed]) -> None:
        ok(van("job", "export", "van.mixclock"))
        refused(van("job", "export", "van.mixclock"), "is already there; give another name, or say --replace")
        ok(crew["office"]("job", "import", "van.mixclock"))
        assert "nothing new, 5 were here already" in ok(crew["office"]("job", "import", "van.mixclock")).out

    @pytest.mark.parametrize(
        ("spoilt", "says"),
        [
            (lambda whole: whole[: len(whole) // 2], "the file is cut short or damaged; nothing was imported, copy it"),
            (lambda _: b"", "this is no exported job"),
            (lambda _: b"\xff\xd8 a picture", "this is no exported job"),
            (lambda whole: gzip.compress(gzip.decompress(whole).replace(b"Birch", b"Beech")), "its seal differs"),
            (lambda whole: gzip.compress(gzip.decompress(whole).rsplit(b"\n", 2)[0]), "lines are there"),
        ],
        ids=["cut short", "empty", "a picture", "altered", "a line lost"],
    )
    def test_what_is_no_whole_file_is_refused_in_a_line(
        self, van: Typed, crew: dict[str, Typed], tmp_path: Path, spoilt: Callable[[bytes], bytes], says: str
    ) -> None:
        ok(van("job", "export", "van.mixclock"))
        (tmp_path / "spoilt.mixclock").write_bytes(spoilt((tmp_path / "van.mixclock").read_bytes()))
        refused(crew["office"]("job", "import", "spoilt.mixclock"), "spoilt.mixclock: ", says)
        assert ok(crew["office"]("job", "list", "--json")).json == {"jobs": []}


def test_a_list_tells_the_days_of_each_floor(run: Typed, home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from datetime import UTC, datetime

    from mixclock.outside.clock import SystemClock

    monkeypatch.setattr(SystemClock, "now", lambda _: datetime(2026, 4, 13, 23, 30, tzinfo=UTC))
    for name, zone in (("Lisbon floor", "Europe/Lisbon"), ("Denver floor", "America/Denver")):
        (home / "job.toml").write_text(STUDIO.replace(JOB, name).replace("Europe/Lisbon", zone))
        ok(run("job", "start", str(home / "job.toml")))
    ok(run("job", "finish", "--job", "Denver floor"))
    told = ok(run("job", "list")).out.splitlines()
    assert _days(told) == {"Lisbon floor": ["2026-04-14"], "Denver floor": ["2026-04-13", "2026-04-13"]}


def _days(lines: Iterable[str]) -> dict[str, list[str]]:
    told = (line.removeprefix("*").strip().split(": ", 1) for line in lines)
    return {name: re.findall(r"\d{4}-\d\d-\d\d", said) for name, said in told}


def _started(typed: Typed) -> Any:
    ok(typed("job", "start", "studio.toml"))
    return typed
