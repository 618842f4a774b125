"""A rehearsal is a whole job by the real daemon, and touches nothing of the user's."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from mixclock.outside.book import Book
from mixclock.outside.clock import SystemClock
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


def test_the_made_up_job_is_played_to_its_record_with_one_bay_poured_late(
    run_process: Runner, tmp_path: Path, home: Path
) -> None:
    to = tmp_path / "played"
    ran = run_process("rehearse", "--quiet", "--speed", "600", "--to", str(to), timeout_s=240)
    assert ran.code == 0, ran.err
    assert ran.out.startswith("Pottery studio floor: 5 areas")
    assert "skipped ~~" in ran.out
    assert "Batch 4, bay 4: pour it all out now" in ran.out
    assert "bay 4, dull" in ran.out
    assert "old batch" in ran.out
    assert "the record does not show why" not in ran.out
    assert "[100 %]" in ran.out
    record = (to / "record.html").read_text(encoding="utf-8")
    assert "bay 4" in record
    kinds = kinds_of(to / "book.sqlite3", "Pottery studio floor")
    assert kinds.count("combined") == kinds.count("poured") == 10
    assert kinds.count("raised") > 20
    assert "heard" in kinds
    assert kinds[-1] == "job finished"
    assert not (home / "book.sqlite3").exists()


def test_a_job_file_of_ones_own_is_played_by_one_person(run_process: Runner, tmp_path: Path) -> None:
    file = tmp_path / "step.toml"
    file.write_text(LONE)
    to = tmp_path / "played"
    ran = run_process("rehearse", str(file), "--quiet", "--speed", "600", "--to", str(to), timeout_s=120)
    assert ran.code == 0, ran.err
    assert "stood in the sun" not in ran.out
    assert kinds_of(to / "book.sqlite3", "Boat shed step").count("poured") == 1
    assert (to / "record.html").exists()


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
