"""When the watch may look less often: nothing stands, nothing is under way, and nothing falls due for a while.

An idle floor is watched all day from a battery. A look costs most by being rare: everything that it touches has left
the processor's caches by then. So beside an idle floor there are fewer looks. What is stated ends the rest: the book's
files tell (`outside.bookstir`). A system that cannot tell has no such rest; one that should and does not is found out
by the next look, within the two seconds of the promise.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from mixclock.outside.clock import Clock
from mixclock.watch.tick import NOW, Ticker, TickResult

REST_S = 1.5
"""The time between two looks beside an idle floor. A statement that nobody tells of still leaves half a second."""

NEAR_S = 5.0
"""While anything may change within so long, the watch looks as often as ever (judgement)."""

SETTLES_S = 3.0
"""So long after a statement, a call or a clock that was set, the watch looks as often as ever (judgement)."""


class Rest:
    """Whether the watch rests between its looks, by what the last look found."""

    def __init__(self, ticker: Ticker, clock: Clock, keeps_awake: Callable[[], bool]) -> None:
        """`keeps_awake` tells of anything beside the jobs for which the watch must look often."""
        self._ticker, self._clock, self._keeps_awake = ticker, clock, keeps_awake
        self._stirred_s = clock.monotonic_s()
        self.is_on = False

    def stir(self) -> bool:
        """The book is being written: look often for a while, for what is written may be read only moments later. Tells
        whether the watch rested until now."""
        was_on, self.is_on, self._stirred_s = self.is_on, False, self._clock.monotonic_s()
        return was_on

    def note(self, ticked: TickResult | None) -> None:
        """A look has ended. None where it went wrong."""
        now_s = self._clock.monotonic_s()
        if ticked is None or ticked.changed or ticked.events:
            self._stirred_s = now_s
        self.is_on = now_s - self._stirred_s >= SETTLES_S and not self._keeps_awake() and self._nothing_is_near()

    def _nothing_is_near(self) -> bool:
        ticker = self._ticker
        until = self._clock.now() + timedelta(seconds=NEAR_S)
        return ticker.delivery.is_idle and all(
            job.is_quiet(until + job.clock_behind, NOW) for job in tuple(ticker.watched.values())
        )
