"""What makes the daemon look: a trigger that ignores missed runs, and a watchdog that depends on nothing else.

APScheduler lists every run that an interval job has missed. A wall clock put forward by a year makes that list millions
long, under the scheduler's lock. A run of this trigger is never in the past, so there is nothing to list.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from apscheduler.triggers.base import BaseTrigger

from mixclock.outside.clock import Clock

SILENT_AFTER_TICKS = 2.5
HANGS_AFTER_S = 10.0
_BEYOND_S = 0.005


class PastlessTrigger(BaseTrigger):  # type: ignore[misc]
    """Fires every so many seconds, from now on. Missed runs are not made up for.

    `sooner_s` may name an earlier run, in seconds from now. That only saves time: no deadline depends on it. A step
    that is a function is asked each time a run is set.
    """

    def __init__(
        self, step_s: float | Callable[[], float], sooner_s: Callable[[], float | None] = lambda: None
    ) -> None:
        self._step_s: Callable[[], float] = step_s if callable(step_s) else lambda: step_s
        self._sooner_s = sooner_s

    def get_next_fire_time(self, previous_fire_time: datetime | None, now: datetime) -> datetime:
        """The run after the previous one, or now where that has passed."""
        step = timedelta(seconds=self._step_s())
        if previous_fire_time is None:
            return now + step
        coming: datetime = max(previous_fire_time + step, now)
        sooner_s = self._sooner_s()
        return coming if sooner_s is None else min(coming, now + timedelta(seconds=sooner_s))


class Watchdog:
    """Looks on a thread of its own while the scheduler is silent; it goes by the boot clock.

    The scheduler waits on the wall clock, so setting that back by an hour silences it for an hour. The watchdog asks
    the scheduler for nothing and waits for none of its locks.
    """

    def __init__(
        self,
        clock: Clock,
        tick_s: float,
        look: Callable[[], Any],
        chores: Callable[[], Any],
        chores_every_s: float,
        hangs: Callable[[float], None],
    ) -> None:
        """`hangs` takes the seconds for which no look has ended."""
        self._clock, self._tick_s = clock, tick_s
        self._look, self._chores, self._chores_every_s, self._hangs = look, chores, chores_every_s, hangs
        self._ending, self._rests_s = threading.Event(), 0.0
        self._scheduled_s = self._chores_s = clock.boot_s()
        self._looked_awake_s = clock.monotonic_s()
        self._thread = threading.Thread(target=self._watch_over, name="watchdog", daemon=True)

    def start(self) -> None:
        """Begin to watch over the scheduler."""
        self._thread.start()

    def stop(self) -> None:
        """Watch no more."""
        self._ending.set()
        if self._thread.is_alive():
            self._thread.join(self._tick_s + HANGS_AFTER_S)

    def scheduled(self, rests_s: float = 0.0) -> None:
        """Note that the scheduler has run. Beside an idle floor it may rest so long before it runs again."""
        self._scheduled_s, self._rests_s = self._clock.boot_s(), rests_s

    def looked(self) -> None:
        """Note that a look has ended, whoever looked."""
        self._looked_awake_s = self._clock.monotonic_s()

    def did_chores(self) -> None:
        """Note that the chores were done, whoever did them."""
        self._chores_s = self._clock.boot_s()

    def _silent_after_s(self) -> float:
        return max(SILENT_AFTER_TICKS * self._tick_s, self._rests_s + 0.5 * self._tick_s)

    def _rest_s(self) -> float:
        """How long to wait: until the scheduler, if it does not run meanwhile, would count as silent."""
        left_s = self._scheduled_s + self._silent_after_s() - self._clock.boot_s()
        return left_s + _BEYOND_S if left_s > 0.0 else self._tick_s

    def _watch_over(self) -> None:
        while not self._ending.wait(self._rest_s()):
            now_s = self._clock.boot_s()
            hung_s = self._clock.monotonic_s() - self._looked_awake_s  # a sleep of the machine is no hang
            if hung_s > HANGS_AFTER_S:
                self._hangs(hung_s)
            if now_s - self._scheduled_s <= self._silent_after_s():
                continue
            self._look()
            if now_s - self._chores_s > SILENT_AFTER_TICKS * self._chores_every_s:
                self.did_chores()
                threading.Thread(target=self._chores, name="chores", daemon=True).start()
