"""The watch's care for the book: how often it is copied, and that a long book does not eat the day."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

import pytest

from mixclock.outside.bookerrors import BookError, NoRoomError
from mixclock.outside.clock import FakeClock
from mixclock.watch.bookkeeping import BookKeeping

MORNING = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
TICK_S = 5.0


@dataclass
class CopiedBook:
    """A book of which a copy takes so long."""

    clock: FakeClock
    takes_s: float
    fails: BookError | None = None
    copied_s: list[float] = field(default_factory=list)

    def copy(self, _: Any) -> None:
        self.copied_s.append(self.clock.boot_s())
        self.clock.advance(self.takes_s)
        if self.fails is not None:
            raise self.fails


@dataclass
class ToldTroubles:
    """What the crew is told."""

    told: dict[str, str] = field(default_factory=dict)

    def stands(self, name: str, line: str, rank: str = "critical") -> None:
        self.told[name] = f"{rank}: {line}"

    def over(self, name: str) -> None:
        self.told.pop(name, None)


def kept_for(hours: float, book: CopiedBook, is_live: bool, troubles: ToldTroubles | None = None) -> list[float]:
    """How long each copy came after the end of the one before, over some hours of the watch."""
    keeping = BookKeeping(book, book.clock, troubles or ToldTroubles(), lambda _: None)  # type: ignore[arg-type]
    until_s = book.clock.boot_s() + hours * 3600
    while book.clock.boot_s() < until_s:
        keeping.copy_if_due(is_live)
        with keeping._at_it:  # a copy is made by a thread of its own
            book.clock.advance(TICK_S)
    return [later - before for before, later in zip(book.copied_s, book.copied_s[1:], strict=False)]


@pytest.mark.parametrize("takes_s", [0.0, 1.0, 9.0])
def test_while_a_batch_is_live_there_is_a_copy_every_five_minutes(takes_s: float) -> None:
    gaps = kept_for(2, CopiedBook(FakeClock(MORNING), takes_s), is_live=True)
    assert len(gaps) > 20
    assert max(gaps) <= 300 + TICK_S + takes_s


@pytest.mark.parametrize("takes_s", [15.0, 60.0, 100.0])
def test_a_book_that_takes_long_is_copied_for_a_few_per_cent_of_the_time(takes_s: float) -> None:
    gaps = kept_for(12, CopiedBook(FakeClock(MORNING), takes_s), is_live=True)
    assert takes_s / min(gaps) < 0.034
    assert max(gaps) <= 3600 + TICK_S + takes_s


def test_a_book_that_takes_hours_is_still_copied() -> None:
    assert kept_for(12, CopiedBook(FakeClock(MORNING), 2000.0), is_live=True)


def test_where_nothing_is_live_a_copy_a_day_will_do() -> None:
    assert len(kept_for(50, CopiedBook(FakeClock(MORNING), 1.0), is_live=False)) == 2


def test_a_failed_copy_is_tried_again_in_a_minute() -> None:
    book = CopiedBook(FakeClock(MORNING), 0.0, BookError("held"))
    assert max(kept_for(0.2, book, is_live=True)) <= 60 + TICK_S


def test_want_of_room_is_told_as_a_notice_until_there_is_room_again() -> None:
    book, troubles = CopiedBook(FakeClock(MORNING), 0.0, NoRoomError("no room for another copy")), ToldTroubles()
    kept_for(0.1, book, is_live=True, troubles=troubles)
    assert list(troubles.told.values()) == ["notice: no room for another copy"]
    book.fails = None
    kept_for(0.1, book, is_live=True, troubles=troubles)
    assert troubles.told == {}


def test_a_watch_that_ends_waits_for_its_copy_begins_no_other_and_says_nothing_of_a_half_one() -> None:
    """The book may lie on a stick that is pulled out next, and the terminal may be somebody else's by then."""
    begun, go_on, told = threading.Event(), threading.Event(), list[str]()

    class SlowBook(CopiedBook):
        def copy(self, _: Any) -> None:
            self.copied_s.append(0.0)
            begun.set()
            assert go_on.wait(20)
            raise BookError("the stick is gone")

    book = SlowBook(FakeClock(MORNING), 0.0)
    keeping = BookKeeping(book, book.clock, ToldTroubles(), told.append)  # type: ignore[arg-type]
    keeping.copy_if_due(is_live=True)
    assert begun.wait(20)
    ending = threading.Thread(target=keeping.stop, args=(20.0,))
    ending.start()
    ending.join(0.05)
    assert ending.is_alive()
    go_on.set()
    ending.join(20)
    assert not ending.is_alive()
    book.clock.advance(7200.0)
    keeping.copy_if_due(is_live=True)
    assert (len(book.copied_s), told) == (1, [])
