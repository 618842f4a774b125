"""`mixclock` alone says what to do next, as things stand; the help lists commands by when they are used."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable
from pathlib import Path

import pytest

from mixclock.cli import COMMANDS, GROUPS, MOMENTS
from mixclock.job.profilereading import read_profile
from tests.running import Ran

Run = Callable[..., Ran]


def test_a_stranger_is_told_the_first_steps_and_no_book_is_made(run: Run, home: Path) -> None:
    told = run()
    assert told.code == 0
    assert "1. See it work, in two minutes:    mixclock rehearse" in told.out
    assert "mixclock profile write" in told.out
    assert list(home.iterdir()) == []


def test_who_has_a_product_is_not_asked_for_one(run: Run, home: Path) -> None:
    text = (
        'name = "My base"\nfamily = "epoxy"\n[mix]\nratio_by_volume = [2, 1]\n[pot-life]\nat = { "20 °C" = "30 min" }\n'
    )
    assert read_profile(text).name == "My base"
    (home / "profiles").mkdir()
    (home / "profiles" / "my-base.toml").write_text(text)
    assert "profile write" not in run().out


def test_a_job_without_a_bucket_is_told_how_to_state_the_first(studio: Run) -> None:
    told = studio().out
    assert "Job 'Pottery studio floor': nothing is in a bucket." in told
    assert 'mixclock mixing "Waterborne epoxy primer" "6 L" --on "bay 1"' in told
    assert "start `mixclock watch` in a second window" in told


def test_a_running_bucket_says_which_statement_it_waits_for(studio: Run) -> None:
    studio("mixing", "Slow epoxy base", "4 L", "--coat", "base", "--on", "bay 1")
    assert "batch 1 (bay 1):  mixclock mixed 1   then   mixclock poured 1" in studio().out
    studio("mixed")
    studio("poured")
    assert "nothing is in a bucket" in studio().out


def test_a_finished_job_leads_on_to_its_record(studio: Run) -> None:
    studio("job", "finish")
    assert "is finished. `mixclock record` writes it down" in studio().out


def test_every_command_stands_under_its_moment_with_an_example_that_begins_with_it(run: Run) -> None:
    shown = run("--help").out
    places = [shown.index(f"\n{moment}:\n") for moment in MOMENTS]
    assert places == sorted(places)
    for name, listed in (*COMMANDS.items(), *GROUPS.items()):
        assert listed.moment in MOMENTS
        assert shlex.split(listed.example)[0] == name
        assert re.search(rf"^  {name}\b", shown, re.MULTILINE), name


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_each_command_shows_its_example(name: str, run: Run) -> None:
    shown = " ".join(run(name, "--help").out.split())
    assert f"For example: mixclock {COMMANDS[name].example}" in shown


def test_where_names_every_place_and_how_to_take_it_off(run: Run, home: Path) -> None:
    told = run("where")
    assert told.code == 0
    assert str(home / "book.sqlite3") in told.out
    assert "pip uninstall mixclock" in told.out
    assert run("where", "--json").json["book"] == {"path": str(home / "book.sqlite3"), "there": False}
    assert list(home.iterdir()) == []
