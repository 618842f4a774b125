"""What a second laptop window writes is seen by the files alone, however fast one statement follows the other."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import pytest

from mixclock.job.entry import Noted
from mixclock.outside import stillness
from mixclock.outside.book import Book
from mixclock.outside.clock import FakeClock
from mixclock.outside.stillness import ASKED_EVERY_S, STANDS_AFTER_S, Stillness, mark_of

NOW = datetime(2026, 4, 13, 10, 42, tzinfo=UTC)


@pytest.fixture
def books(tmp_path: Path) -> tuple[Book, Book]:
    """The same book as two programs have it open."""
    clock = FakeClock(NOW)
    return Book(tmp_path / "book.sqlite3", clock), Book(tmp_path / "book.sqlite3", clock)


def test_what_another_program_writes_ends_the_stillness(books: tuple[Book, Book]) -> None:
    ours, other = books
    other.append("shed", Noted("first"))
    now = [0.0]
    still = Stillness(lambda: mark_of(ours), lambda: now[0])
    looks = []
    for now[0] in (0.0, 0.25, 0.5):
        looks.append(still.holds())
    assert looks == [False, False, True]
    for number in range(20):
        other.append("shed", Noted(f"word {number}"))
        now[0] += 0.01
        assert not still.holds()


def test_writes_that_the_files_cannot_tell_apart_are_asked_for() -> None:
    """A second write within the same step of the file's time leaves the same mark: the look after it asks again."""
    now = [0.0]
    still = Stillness(lambda: ("log", 4096), lambda: now[0])
    assert not still.holds()
    now[0] = STANDS_AFTER_S / 2
    assert not still.holds()
    now[0] = STANDS_AFTER_S
    assert not still.holds()
    now[0] = STANDS_AFTER_S + 0.25
    assert still.holds()


def test_a_disk_that_keeps_no_times_is_asked_every_second() -> None:
    now = [0.0]
    still = Stillness(lambda: ("log", 4096), lambda: now[0])
    asked = []
    for look in range(4 * 60):
        now[0] = look / 4
        if not still.holds():
            asked.append(now[0])
    gaps = [later - sooner for sooner, later in pairwise(asked)]
    assert max(gaps) <= ASKED_EVERY_S
    assert len(asked) < 70


@pytest.mark.parametrize("without", ["a log", "sure times"])
def test_where_the_files_tell_nothing_the_book_is_asked_at_every_look(
    books: tuple[Book, Book], without: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    ours, _ = books
    told: Callable[[], stillness.Mark | None] = lambda: mark_of(ours)  # noqa: E731
    ours.append("shed", Noted("first"))
    assert told() is not None
    if without == "a log":
        ours.path.with_name(f"{ours.path.name}-wal").unlink()
    else:
        monkeypatch.setattr(stillness.os, "name", "nt")
    still = Stillness(told, lambda: 1.0)
    assert not any(still.holds() for _ in range(5))
