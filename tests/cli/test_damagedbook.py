"""A book of which one column was damaged: every command answers, and says what does not count any more."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from mixclock.outside.book import Book
from mixclock.outside.clock import SystemClock
from tests.cli.conftest import Run

DAMAGE = [None, "", -1, 2**62, float("inf"), b"\xff\xfe", "nan", "9999-12-31T23:59:59Z", '{"a":1}']
TABLES = ["calibrations", "settings", "lessons"]
"""Each takes its turn with the damages; in the long form each takes all of them."""
ASKED = [("now",), ("next",), ("why",), ("jobs", "--json"), ("book", "check"), ("ticks",), ("profile", "list")]


def damage(home: Path, statement: str, *values: object) -> bool:
    """Change a row behind the book's back; False where the file takes no such value."""
    with contextlib.closing(sqlite3.connect(home / "book.sqlite3", isolation_level=None)) as behind:
        for (name,) in behind.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            behind.execute(f'DROP TRIGGER "{name}"')
        try:
            return behind.execute(statement, values).rowcount > 0
        except sqlite3.IntegrityError:
            return False


@pytest.fixture
def pouring(studio: Run, home: Path) -> Callable[[], str]:
    """A bucket under way, and what `now` says of its edges."""
    assert studio("mixing", "Slow epoxy base", "4 L", "--on", "bay 1", "--coat", "base").code == 0
    assert home.is_dir()

    def edges() -> str:
        told = studio("now", "--json")
        assert told.code == 0, told.err
        return json.dumps(
            [
                (each["name"], each.get("opens"), each.get("closes"))
                for one in told.json["batches"]
                for each in one["windows"]
            ]
        )

    return edges


@pytest.mark.parametrize("column", ["kind", "happened", "facts", "hash", "job", "number"])
def test_a_job_whose_start_is_damaged_is_shown_all_the_same_and_the_crew_is_told(
    studio: Run, pouring: Callable[[], str], home: Path, column: str
) -> None:
    pouring()
    assert damage(home, f"UPDATE entries SET {column} = '{-7 if column == 'number' else 'x'}' WHERE number = 1")
    told = studio("now")
    assert told.code == 0, told.err
    assert "check the floor" in told.out
    assert "Batch 1" in told.out
    for words in ASKED:
        assert studio(*words).code in (0, 1), words


@pytest.mark.parametrize(
    ("value", "table"),
    [
        pytest.param(value, table, marks=[] if turn % len(TABLES) == place else [pytest.mark.long])
        for turn, value in enumerate(DAMAGE)
        for place, table in enumerate(TABLES)
    ],
)
def test_what_stands_beside_the_log_moves_no_deadline_and_costs_no_command_its_answer(
    studio: Run, pouring: Callable[[], str], home: Path, table: str, value: object
) -> None:
    studio("job", "use", "Pottery studio floor")
    edges = pouring()
    damage(home, f"UPDATE {table} SET value = ?", value)
    assert pouring() == edges
    for words in ASKED:
        assert studio(*words).code in (0, 1), words


def test_a_bit_that_flips_in_what_a_bucket_was_answered_with_is_seen(
    studio: Run, pouring: Callable[[], str], home: Path
) -> None:
    def pour_out() -> object:
        (batch,) = studio("now", "--json").json["batches"]
        return next(window["closes"] for window in batch["windows"] if window["name"] == "pour-out")

    pouring()
    before = pour_out()
    assert damage(home, "UPDATE calibrations SET value = replace(value, '.', '1.') WHERE value LIKE '%edge_s%'")
    assert pour_out() == before


def test_a_list_of_jobs_with_a_name_that_no_entry_has_hides_no_job(
    studio: Run, pouring: Callable[[], str], home: Path
) -> None:
    pouring()
    assert damage(home, "UPDATE joblines SET job = 'Pottery stadio'")
    assert "Batch 1" in studio("now").out
    (told,) = studio("jobs", "--json").json["jobs"]
    assert told["job"] != "Pottery stadio"
    assert "trouble" not in told or not told["trouble"]


def test_a_choice_of_a_job_that_is_not_in_the_book_is_none(studio: Run, pouring: Callable[[], str], home: Path) -> None:
    pouring()
    with Book(home / "book.sqlite3", SystemClock()) as book:
        book.drawers.keep("settings", "current job", "Pottery stadio")
    assert "Batch 1" in studio("now").out


def test_what_is_damaged_beside_the_log_is_named_until_it_is_said_again(home: Path) -> None:
    with Book(home / "book.sqlite3", SystemClock()) as book:
        book.drawers.keep("settings", "called here", ["ab"])
    assert damage(home, "UPDATE settings SET value = replace(value, 'ab', 'cb')")
    with Book(home / "book.sqlite3", SystemClock()) as book:
        assert book.called_here() == []
        assert book.drawers.damaged == {"settings: called here"}
        book.drawers.keep("settings", "called here", ["ab"])
        assert not book.drawers.damaged


def test_what_an_older_book_kept_without_a_seal_counts(home: Path) -> None:
    with Book(home / "book.sqlite3", SystemClock()) as book:
        book.drawers.keep("settings", "called here", [])
    assert damage(home, "UPDATE settings SET value = '[\"ab\"]'")
    with Book(home / "book.sqlite3", SystemClock()) as book:
        assert book.called_here() == ["ab"]
