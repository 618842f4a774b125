"""The watchdog rests while the scheduler runs, and looks in its place when that falls silent; its seconds are fake."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import pairwise

import pytest

from mixclock.outside.clock import FakeClock
from mixclock.watch.daemon import TICK_S
from mixclock.watch.scheduling import Watchdog

PROMISED_S = 2.0
"""A call comes within two seconds of its deadline, while the machine is awake (README)."""


@dataclass
class PlayedRests:
    """Stands in for the event that ends the watchdog: it is over at once, and so much time has passed."""

    clock: FakeClock
    over_s: float
    between: Callable[[], None] = lambda: None
    rests_s: list[float] = field(default_factory=list)

    def wait(self, span_s: float) -> bool:
        """Rest; the scheduler may run meanwhile. True at the end of the play."""
        self.rests_s.append(span_s)
        end_s = self.clock.monotonic_s() + span_s
        while self.clock.monotonic_s() < end_s:
            self.clock.advance(min(0.05, end_s - self.clock.monotonic_s()))
            self.between()
        return self.clock.monotonic_s() >= self.over_s

    def set(self) -> None:
        """Nobody waits for real."""


@dataclass
class Guarded:
    """A watchdog on a fake clock, with what it did and when."""

    clock: FakeClock = field(default_factory=lambda: FakeClock(datetime(2026, 4, 13, 7, 0, tzinfo=UTC)))
    looked_s: list[float] = field(default_factory=list)
    hung_s: list[tuple[float, float]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.dog = Watchdog(self.clock, TICK_S, self._look, lambda: None, 3600.0, self._hangs)

    def play(self, for_s: float, between: Callable[[], None] = lambda: None) -> list[float]:
        """Watch over a scheduler for so long; how long the watchdog rested each time."""
        rests = PlayedRests(self.clock, self.clock.monotonic_s() + for_s, between)
        self.dog._ending = rests  # type: ignore[assignment]
        self.dog._watch_over()
        return rests.rests_s

    def _look(self) -> None:
        self.looked_s.append(self.clock.monotonic_s())
        self.dog.looked()

    def _hangs(self, span_s: float) -> None:
        self.hung_s.append((self.clock.monotonic_s(), span_s))


def test_while_the_scheduler_ticks_the_watchdog_never_looks_and_wakes_less_than_once_a_second() -> None:
    guarded = Guarded()
    ticked_s = [guarded.clock.monotonic_s()]

    def tick() -> None:
        if guarded.clock.monotonic_s() - ticked_s[-1] >= TICK_S - 1e-6:
            ticked_s.append(guarded.clock.monotonic_s())
            guarded.dog.scheduled()
            guarded.dog.looked()

    rests_s = guarded.play(60.0, tick)
    assert len(ticked_s) >= 140
    assert guarded.looked_s == []
    assert guarded.hung_s == []
    assert len(rests_s) <= 90, "it wakes when the last tick would count as missed, and not at every tick"


def test_a_scheduler_that_falls_silent_costs_a_call_no_more_than_was_promised() -> None:
    guarded = Guarded()
    silent_from_s = guarded.clock.monotonic_s()
    guarded.dog.scheduled()
    guarded.play(30.0)
    assert guarded.looked_s[0] - silent_from_s <= PROMISED_S - 0.5, "the rest is left for the call itself"
    gaps_s = [later - sooner for sooner, later in pairwise(guarded.looked_s)]
    assert len(gaps_s) >= 60
    assert max(gaps_s) <= 0.5
    assert guarded.hung_s == []


def test_a_scheduler_that_comes_back_is_left_to_it() -> None:
    guarded = Guarded()
    guarded.play(5.0)
    looked = len(guarded.looked_s)
    guarded.dog.scheduled()
    guarded.play(0.5)
    assert looked >= 10
    assert len(guarded.looked_s) == looked


def test_looks_that_never_end_are_said_to_hang_after_ten_seconds_and_a_night_of_sleep_is_no_hang() -> None:
    guarded = Guarded()
    begins_s = guarded.clock.monotonic_s()
    guarded.clock.suspend(8 * 3600.0)
    guarded.dog._look = lambda: None  # it comes back without an end: another look is still on
    guarded.play(20.0)
    first_s, said_s = guarded.hung_s[0]
    assert 10.0 < first_s - begins_s <= 11.0
    assert said_s == pytest.approx(first_s - begins_s)
