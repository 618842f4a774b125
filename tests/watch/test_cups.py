"""A running test cup is asked for its warmth by every channel, at even steps, until it has ended."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from mixclock.job.cups import Cup
from mixclock.outside.book import Book
from mixclock.outside.channels.deliver import Sender
from mixclock.outside.clock import FakeClock
from mixclock.outside.cupshelf import CupShelf
from mixclock.units import METRIC_CREW, US_CREW
from mixclock.watch.cups import CupAsker
from tests.days.clockwork import MORNING, RecordingChannel

PRODUCT = "Slow epoxy base"  # its shortest stated pot life is 20 min: asked every 2.5 min


class Evening:
    """An evening with test cups on the bench and nobody at the laptop."""

    def __init__(self, folder: Path) -> None:
        self.clock = FakeClock(MORNING)
        self.channel = RecordingChannel(self.clock, "voice")
        self.book = Book(folder / "book.sqlite", self.clock)
        self.shelf = CupShelf(self.book.drawers)
        self.faults: list[str] = []
        run: Callable[[Callable[[], None]], None] = lambda work: work()  # noqa: E731
        self.asker = CupAsker(self.shelf, Sender([self.channel]), self.clock, self.faults.append, run)

    def begin(self, lot: str) -> Cup:
        cup = Cup(PRODUCT, lot, 0.15, self.clock.now(), 21.0, 20.0)
        self.shelf.keep((*self.shelf.all(), cup))
        return cup

    def until(self, minutes: float) -> None:
        end = MORNING + timedelta(minutes=minutes)
        while self.clock.now() < end:
            self.clock.set(min(end, self.clock.now() + timedelta(seconds=5)))
            self.asker.tend()

    def said(self) -> list[tuple[float, str]]:
        return [(self.after(at), message.speech) for at, message in self.channel.sent]

    @staticmethod
    def after(at: datetime) -> float:
        return round((at - MORNING).total_seconds() / 60.0, 1)


@pytest.fixture
def evening(tmp_path: Path) -> Iterator[Evening]:
    made = Evening(tmp_path)
    yield made
    made.book.close()


def test_the_voice_asks_how_warm_the_cup_is_and_later_whether_it_draws_strings(evening: Evening) -> None:
    evening.begin("7A")
    evening.until(14)
    assert evening.said() == [
        (2.5, "Cup: how warm is it now?"),
        (5.0, "Cup: how warm is it now?"),
        (7.5, "Cup: how warm is it now?"),
        (10.0, "Cup: how warm is it now?"),
        (12.5, "Cup: how warm is it now? Does it draw strings?"),
    ]
    assert {message.rank for _, message in evening.channel.sent} == {"timely"}
    assert evening.faults == []


def test_what_was_answered_is_taken_away_and_asked_again_a_step_later(evening: Evening) -> None:
    cup = evening.begin("7A")
    evening.until(3)
    evening.shelf.change(cup, cup.with_reading(23.0, evening.clock.now()))
    evening.until(5.25)
    assert len(evening.said()) == 1
    assert len(evening.channel.withdrawn) == 1
    evening.until(5.6)
    assert [at for at, _ in evening.said()] == [2.5, 5.5]


def test_the_screen_tells_a_cup_in_the_crews_own_units(evening: Evening) -> None:
    cup = evening.begin("7A")
    evening.until(3)
    evening.shelf.change(cup, cup.with_reading(25.0, evening.clock.now()))
    evening.until(4)
    assert "25 °C" in evening.asker.lines(METRIC_CREW)[0]
    assert "77 °F" in evening.asker.lines(US_CREW)[0]


def test_a_cup_that_ended_or_was_dropped_is_asked_no_more(evening: Evening) -> None:
    cup = evening.begin("7A")
    evening.until(3)
    evening.shelf.change(cup, cup.with_end("gel", evening.clock.now()))
    evening.until(60)
    assert len(evening.said()) == 1
    assert evening.asker.lines(METRIC_CREW) == []


def test_two_cups_are_asked_by_their_lots_and_heard_quiets_one_until_its_next_time(evening: Evening) -> None:
    evening.begin("7A")
    evening.begin("8B")
    evening.until(2.6)
    first, second = (message for _, message in evening.channel.sent)
    assert first.speech == "Cup of Slow epoxy base, lot 7A: how warm is it now?"
    assert second.speech == "Cup of Slow epoxy base, lot 8B: how warm is it now?"
    assert evening.asker.heard(first.alert_id)
    assert not evening.asker.heard("b1.pour-out")
    assert [name for _, name in evening.channel.withdrawn] == [first.alert_id]
    assert evening.asker.any_runs


def test_a_forgotten_cup_falls_silent_after_six_hours(evening: Evening) -> None:
    evening.begin("7A")
    evening.clock.set(MORNING + timedelta(hours=6, minutes=1))
    evening.asker.tend()
    assert evening.said() == []


def test_a_us_crew_is_shown_how_to_answer_in_fahrenheit(tmp_path: Path) -> None:
    evening = Evening(tmp_path)
    evening.begin("7a")
    evening.clock.set(MORNING + timedelta(minutes=10))
    evening.asker.tend(US_CREW)
    assert "mixclock cup reading 88F" in evening.channel.sent[-1][1].body
