"""The daemon in the foreground: a scheduler that ticks, a watchdog outside it, and what belongs to both.

The scheduler holds no deadline: it only says "look now", at most half a second apart, and less often beside an idle
floor (`resting`). When it falls silent the
watchdog looks in its place (`scheduling`). What is wrong with the daemon itself is said by every channel (`troubles`).
"""

from __future__ import annotations

import logging
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import UTC, timedelta
from typing import Any

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.jobstores.base import JobLookupError
from apscheduler.schedulers.background import BackgroundScheduler

from mixclock.job.entry import WatchEvent
from mixclock.outside.book import Book
from mixclock.outside.bookstir import BookStir
from mixclock.outside.channels.deliver import Sender
from mixclock.outside.channels.heard_button import HeardButton
from mixclock.outside.clock import Clock, SystemClock
from mixclock.outside.cupshelf import CupShelf
from mixclock.outside.power import Power, read_power
from mixclock.outside.stayawake import StayAwake
from mixclock.values import dataclass, field
from mixclock.watch.bookkeeping import BookKeeping
from mixclock.watch.channels import Channels
from mixclock.watch.cups import CupAsker
from mixclock.watch.delivery import Delivery, in_a_thread
from mixclock.watch.faults import Faults
from mixclock.watch.jobwatch import Reckoning
from mixclock.watch.resting import REST_S, Rest
from mixclock.watch.scheduling import PastlessTrigger, Watchdog
from mixclock.watch.tick import Ticker, TickResult
from mixclock.watch.troubles import Troubles

TICK_S = 0.4
"""Two looks a second and a little more: a look must never be more than 0.5 s after the one before, but
beside an idle floor."""

READY_BEFORE_S = 1.0
"""So long before a call the way to the desktop is opened: a look or two ahead."""

LOOKS_AT_MOST = 5
"""So many looks follow each other at once when calls fall due while one is at work; the rest is for the next tick."""

READ_AFTER_S = 0.05
"""So long after the first of its writes a statement may be read, nearly always: it is on the disk by then."""

CHORES_EVERY_S = 5.0
HANGS = "The alarm clock hangs. Check the floor yourself, and start mixclock watch again."
LOW_BATTERY_PCT = 30
LAST_RECEIPTS_S, LAST_COPY_S = 2.0, 1.0

SWITCH_S = 0.0005
"""How long a thread that reckons keeps the others waiting: an alert on its way changes threads a dozen times."""

Follower = Callable[[TickResult], None]


@dataclass
class Daemon:
    """Ticks until told to stop."""

    book: Book
    clock: Clock
    channels: Channels
    reckoning: Reckoning
    faults: Faults
    tick_s: float = TICK_S
    followers: list[Follower] = field(default_factory=list)
    stay_awake: StayAwake | None = field(default_factory=StayAwake)
    power: Callable[[], Power | None] = read_power
    extra_channels: Sequence[Any] = ()
    keeps_copies: bool = True
    awake_words: str = ""
    power_words: str = ""

    def __post_init__(self) -> None:
        sender = Sender((*self.channels.every, *self.extra_channels))
        self.troubles = Troubles(sender, self.clock, self.faults.tell, in_a_thread)
        self.delivery = Delivery(sender, self.book, self.clock, self.faults.tell)
        self.ticker = Ticker(self.book, self.clock, self.delivery, self.reckoning, self.faults.tell)
        self.bookkeeping = BookKeeping(self.book, self.clock, self.troubles, self.faults.tell)
        self.cups = CupAsker(CupShelf(self.book.drawers), sender, self.clock, self.faults.tell, in_a_thread)
        self._rest = Rest(self.ticker, self.clock, self._keeps_awake)
        self._stir, self._is_told = BookStir(self.book.path, self._stirred), False
        self._button = HeardButton(self.channels.desktop.alert_of, self._pressed_heard)
        # the scheduler and its watchdog live in real time, also in a rehearsal
        self._watchdog = Watchdog(
            SystemClock(), self.tick_s, self.look, self.do_chores, CHORES_EVERY_S, self._look_hangs
        )
        self._scheduler = BackgroundScheduler(
            executors={"default": ThreadPoolExecutor(1)},  # the next look is set while this one begins, not after it
            job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1},
            timezone=UTC,
        )

    def start(self) -> None:
        """Look at once, then begin to tick."""
        logging.getLogger("apscheduler").setLevel(logging.ERROR)  # the next tick does whatever this one left out
        sys.setswitchinterval(SWITCH_S)
        self.delivery.start()
        self._is_told = self._stir.start()
        self.look()
        self.ticker.tell(WatchEvent("started"))
        # one more look may wait while one is at work: a book that is written meanwhile is looked at once more
        trigger = PastlessTrigger(self._step_s, self.ticker.next_call_s)
        self._scheduler.add_job(self._scheduled_look, trigger, id="tick", max_instances=2)
        self._scheduler.add_job(self.do_chores, PastlessTrigger(CHORES_EVERY_S), id="chores")
        self._scheduler.start()
        self._watchdog.start()
        self._button.start()
        self.do_chores()

    def stop(self) -> None:
        """End in order: no more looks, no more sounds, receipts written, sleep allowed again."""
        self._stir.stop()
        self._scheduler.shutdown(wait=True)
        self._watchdog.stop()
        self._button.close()
        self.bookkeeping.stop(LAST_COPY_S)
        if self.reckoning.beside is not None:
            self.reckoning.beside.stop()
        self.channels.sound_queue.close()
        self.delivery.stop(LAST_RECEIPTS_S)
        self.channels.desktop.close()
        self.ticker.tell(WatchEvent("stopped"))
        if self.stay_awake is not None:
            self.stay_awake.release()

    def look(self) -> bool:
        """Tick once; no error gets out. False where another thread ticks now or the tick went wrong."""
        try:
            ticked = self.ticker.tick()
        except Exception as error:  # the next look must come, whatever went wrong in this one
            self.faults.tell(f"a look went wrong: {type(error).__name__}: {error}")
            self._rest.note(None)
            return False
        if ticked is None:
            return False
        self._watchdog.looked()
        self.troubles.over("hangs", "looks come to their end again")
        self.bookkeeping.look(self.ticker)
        self.troubles.tend()
        self._get_ready()
        for follower in self.followers:
            try:
                follower(ticked)
            except Exception as error:  # a fault in a follower, such as the page, must not stop the alarm clock
                self.faults.tell(f"{getattr(follower, '__name__', 'a follower')}: {type(error).__name__}: {error}")
        self._rest.note(ticked)
        return True

    def _get_ready(self) -> None:
        """Connect to the desktop ahead of a call that is near, on a thread of its own."""
        wait_s, desktop = self.ticker.next_call_s(), self.channels.desktop
        if wait_s is not None and wait_s <= READY_BEFORE_S and not desktop.is_ready:
            in_a_thread(desktop.get_ready)

    def do_chores(self) -> None:
        """Ask test cups for their warmth, hold off sleep while a cup or a batch is live, look at the battery."""
        self._watchdog.did_chores()
        self.cups.tend(self.ticker.units)
        now = self.clock.now()
        live = self.cups.any_runs or any(job.is_live(now) for job in tuple(self.ticker.watched.values()))
        if self.keeps_copies:
            self.bookkeeping.copy_if_due(live)
        if self.stay_awake is not None:
            if live:
                self.awake_words = self.stay_awake.hold().words
            else:
                self.stay_awake.release()
                self.awake_words = ""
        self.power_words = battery_words(self.power())

    def _keeps_awake(self) -> bool:
        """Whether anything beside the jobs needs many looks, such as a system that does not tell of written files. A
        rehearsal's clock runs too fast to rest."""
        is_cup, troubled = self.cups.any_runs, bool(self.book.unrecorded or self.troubles.lines())
        return not self._is_told or self.tick_s < TICK_S or is_cup or troubled

    def _stirred(self) -> None:
        """The book is being written: look now, where the watch rests."""
        if self._rest.stir():
            self._look_sooner(READ_AFTER_S)

    def _step_s(self) -> float:
        return self._rests_s() or self.tick_s

    def _rests_s(self) -> float:
        return REST_S if self._rest.is_on else 0.0

    def _look_sooner(self, in_s: float = 0.0) -> None:
        """Bring the next look forward: one that was set while the watch rested may be far for what was stated.

        No look waits for the scheduler's own lock: a scheduler that ends holds it while it waits for the last look.
        """
        at = SystemClock().now() + timedelta(seconds=in_s)

        def bring_forward() -> None:
            with suppress(JobLookupError):  # the watch ends
                self._scheduler.modify_job("tick", next_run_time=at)

        in_a_thread(bring_forward)

    def _scheduled_look(self) -> None:
        rested = self._rest.is_on
        self._watchdog.scheduled(self._rests_s())
        for _ in range(LOOKS_AT_MOST):
            if not self.look() or not self.ticker.is_behind():
                break
        self._watchdog.scheduled(self._rests_s())
        if rested and not self._rest.is_on:
            call_s = self.ticker.next_call_s()
            self._look_sooner(self.tick_s if call_s is None else max(0.0, min(self.tick_s, call_s)))

    def _look_hangs(self, span_s: float) -> None:
        self.faults.tell(f"a look has hung for {span_s:.0f} s")
        self.troubles.stands("hangs", HANGS)
        self.troubles.tend()

    def _pressed_heard(self, message_id: str) -> None:
        try:
            if not self.troubles.heard(message_id) and not self.cups.heard(message_id):
                self.ticker.heard(message_id)
        except Exception as error:
            self.faults.tell(f"'heard' could not be written: {error}")


def battery_words(power: Power | None) -> str:
    """What a person should know of the battery; empty on mains or where nothing is known."""
    if power is None or not power.on_battery:
        return ""
    charge = f" at {power.charge_pct} %" if power.charge_pct is not None else ""
    low = power.charge_pct is not None and power.charge_pct < LOW_BATTERY_PCT
    return f"on battery{charge}: {'PLUG IT IN NOW, ' if low else 'plug it in, '}an empty laptop calls out nothing"
