"""A rehearsal is a whole job by the real daemon, and touches nothing of the user's."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from mixclock.decide.tracks import Track
from mixclock.job.site import Area, Coat, Person, Site
from mixclock.job.sitereading import read_site
from mixclock.job.statements import MixingStatement, RolledStatement, Statement
from mixclock.outside.book import Book
from mixclock.outside.clock import SystemClock
from mixclock.outside.profilefiles import find
from mixclock.watch.rehearsing.crewwork import BatchPiece
from mixclock.watch.rehearsing.playedcrew import PlayedCrew, Script
from mixclock.watch.rehearsing.pottery import DUMPED_BAY, JOB, LATE_BAY
from mixclock.watch.rehearsing.rehearsal import FASTEST, Rehearsal
from tests.boatshed import ALONE, shed_base, shed_job, shed_top
from tests.running import Ran, Runner

LONE = """
name = "Boat shed step"
zone = "Europe/Lisbon"
[[areas]]
name = "step"
size = "4 m2"
[[coats]]
name = "seal"
product = "Slow epoxy base"
wet_film = "300 um"
"""


def kinds_of(book: Path, job: str) -> list[str]:
    with Book(book, SystemClock()) as opened:
        return [entry.facts.kind for entry in opened.entries(job)]


@pytest.mark.long
def test_the_made_up_job_is_played_to_its_record_with_one_bay_poured_late(
    run_process: Runner, tmp_path: Path, home: Path
) -> None:
    to = tmp_path / "played"
    ran = run_process("rehearse", "--quiet", "--speed", "600", "--to", str(to), timeout_s=240)
    assert ran.code == 0, ran.err
    assert ran.out.startswith("Pottery studio floor: 3 areas, 48 m²")
    assert "skipped ~~" in ran.out
    plan = ran.out.partition("The plan, in short")[2].partition("The board")[0].splitlines()[1:]
    assert 5 <= len([line for line in plan if line.startswith("   ")]) <= 10
    assert any("batch 1, base: " in line or "stopped" in line for line in plan), "on a busy machine it is cut short"
    assert "The board: http://127.0.0.1:" in ran.out
    assert "Batch 2, bay 2: keep it off the floor" in ran.out
    assert "Batch 2: dumped at" in ran.out
    assert "roller, on the phone in the bag: touches Heard." in ran.out
    assert "Batch 4, bay 3: pour it all out now" in ran.out
    assert "bay 3, dull" in ran.out
    assert ran.out.count("selfcheck") == 1, "what is not here is said in one line"
    assert "did not take it" not in ran.out
    assert "The sheet for the owner" in ran.out
    assert "bay 3" in (to / "owner.html").read_text(encoding="utf-8")
    assert "old batch" in ran.out
    assert "the record does not show why" not in ran.out
    assert "[100 %]" in ran.out
    record = (to / "record.html").read_text(encoding="utf-8")
    assert "bay 3" in record
    kinds = kinds_of(to / "book.sqlite3", "Pottery studio floor")
    assert (kinds.count("combined"), kinds.count("poured"), kinds.count("dumped")) == (6, 5, 1)
    assert kinds.count("raised") > 20
    assert "heard" in kinds
    assert kinds[-1] == "job finished"
    assert not (home / "book.sqlite3").exists()


def test_a_job_file_of_ones_own_is_played_by_one_person_and_touches_no_book_of_ones_own(
    run: Callable[..., Ran], tmp_path: Path, home: Path
) -> None:
    file = tmp_path / "step.toml"
    file.write_text(LONE)
    to = tmp_path / "played"
    ran = run("rehearse", str(file), "--quiet", "--speed", "600", "--to", str(to))
    assert ran.code == 0, ran.err
    assert "stood in the sun" not in ran.out
    assert "[100 %] The job is finished." in ran.out
    kinds = kinds_of(to / "book.sqlite3", "Boat shed step")
    assert (kinds.count("combined"), kinds.count("poured"), kinds[-1]) == (1, 1, "job finished")
    assert 1 <= kinds.count("raised") <= kinds.count("delivered"), "what was raised went out"
    assert "step" in (to / "record.html").read_text(encoding="utf-8")
    assert not (home / "book.sqlite3").exists()


@pytest.mark.long
def test_a_flaked_job_of_ones_own_whose_sheet_knows_no_scraping_is_played_to_its_end(
    run_process: Runner, tmp_path: Path, home: Path
) -> None:
    (home / "profiles").mkdir()
    (home / "profiles" / "shed-base.toml").write_text(shed_base(scrape=False), encoding="utf-8")
    (home / "profiles" / "shed-top.toml").write_text(shed_top(), encoding="utf-8")
    file, to = tmp_path / "shed.toml", tmp_path / "played"
    file.write_text(shed_job(bays=1, size="5 m2", crew=ALONE), encoding="utf-8")
    ran = run_process("rehearse", str(file), "--quiet", "--speed", "1200", "--to", str(to), timeout_s=120)
    assert ran.code == 0, ran.err
    assert "[100 %] The job is finished." in ran.out
    kinds = kinds_of(to / "book.sqlite3", "Boat shed")
    assert kinds.count("combined") == kinds.count("poured") >= 2
    assert (to / "owner.html").exists()


class _Floor:
    """Takes a crew's statements and keeps when each was made."""

    def __init__(self) -> None:
        self.now = datetime(2026, 3, 2, 8, tzinfo=UTC)
        self.rolled: list[datetime] = []
        self.said: list[str] = []

    def state(self, statement: Statement, by: str | None) -> int | None:
        self.rolled += [self.now] if isinstance(statement, RolledStatement) else []
        return 1 if isinstance(statement, MixingStatement) else None

    def tracks(self) -> tuple[Track, ...]:
        return ()

    def ask_next(self, by: str) -> None:
        pass

    def tell(self, line: str) -> None:
        self.said.append(line)


def rolled_at(rolled_by: tuple[str, ...]) -> tuple[timedelta, list[str]]:
    """When a bucket of 12 m² is rolled out, and what is told of it."""
    crew = (Person("mixer", ("mix", "pour", "squeegee"), helps=("roll",)), Person("roller", ("roll",)))
    site = Site("Shed", "UTC", (Area("bay 1", 12.0),), (Coat("base", "Slow epoxy base", 300.0),), crew)
    piece = BatchPiece(("bay 1",), 12.0, 3.8, rolled_by)
    floor = _Floor()
    played = PlayedCrew(site, Script({"slow epoxy base": find("Slow epoxy base").profile}, {"base": (piece,)}), floor)
    played.begin(floor.now)
    while (then := played.next_at()) is not None:
        floor.now = then
        played.act(then)
    return floor.rolled[0] - datetime(2026, 3, 2, 8, tzinfo=UTC), floor.said


def test_a_second_person_who_helps_to_roll_by_the_plan_does_so_in_the_rehearsal() -> None:
    """12 m² at 75 m² an hour take one 576 s, begun a third of the 393 s behind the squeegee, and two side by side 288 s
    once the mixer has spread it: 707 against 681 s after the pour."""
    alone, _ = rolled_at(())
    by_two, said = rolled_at(("mixer", "roller"))
    assert any("mixer and roller roll batch 1 side by side" in line for line in said)
    assert (alone - by_two).total_seconds() == pytest.approx(26.2, abs=0.1)


class _Clock:
    """What a rehearsal does to its clock."""

    speed = 90.0

    def pace(self, speed: float) -> None:
        self.speed = speed


def test_the_made_up_job_is_over_in_two_minutes_also_where_its_plan_took_long() -> None:
    site = read_site(JOB)
    sheets = {coat.product.casefold(): find(coat.product).profile for coat in site.coats}
    script, real_s = Script(sheets, late=LATE_BAY, dumps=DUMPED_BAY), SystemClock().monotonic_s()
    paces = []
    for left_s in (100.0, 60.0, 20.0):
        clock, house = _Clock(), SimpleNamespace(site=lambda: site)
        played = Rehearsal(house, None, clock, SimpleNamespace(), script, real_s + left_s)  # type: ignore[arg-type]
        played._keep_pace()
        paces.append(clock.speed)
        assert played.crew.left_s / clock.speed <= left_s + 1.0 or clock.speed == FASTEST
    assert 60.0 < paces[0] < paces[1] < paces[2] <= FASTEST


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--speed", "0"), "--speed must be between"),
        (("nowhere.toml",), "nowhere.toml"),
        (("bad.toml",), "zone"),
        (("unknown.toml",), "no product is named"),
    ],
)
def test_what_cannot_be_played_is_refused_in_a_line(
    run: Callable[..., Ran], home: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], said: str
) -> None:
    monkeypatch.chdir(home)
    (home / "bad.toml").write_text('name = "x"\n')
    (home / "unknown.toml").write_text(LONE.replace("Slow epoxy base", "Sticky stuff"))
    ran = run("rehearse", *words)
    assert ran.code == 2
    assert said in ran.err
    assert "Traceback" not in ran.err
