"""The desk between the page and the house: one thread that asks the house, one loop that keeps everybody up to date."""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Any, TypeVar

from mixclock.board.doors import DoorKey
from mixclock.board.house import BoardHouse, FirstWord, TapAnswer
from mixclock.board.hub import BEAT_S, IDLE_BEAT_S, Hub, next_turn
from mixclock.board.keptkit import ASKED_IDLE_S, NOTHING_SHOWN, SETTLES_S, KeptKit, Shown
from mixclock.board.phones import Guesses, Phone, Phones
from mixclock.board.receipts import Receipts
from mixclock.board.room import HouseRoom
from mixclock.board.taps import Ledger, Tap
from mixclock.board.view import ViewParts, build_view
from mixclock.outside.clock import Clock
from mixclock.values import dataclass

T = TypeVar("T")

LOOK_S = 0.25
SENT_WITHIN_S = 0.05
"""So long at most what was stated is let go to the phones before its consequences are worked out (judgement)."""

_RECKON_S, _RECKON_IDLE_S = 1.0, 10.0
"""How often a page is reckoned anew though nothing was written: while a batch or a call is on it, and else."""
_QUIET_DAEMON = timedelta(seconds=15)


@dataclass(frozen=True)
class Wishes:
    """What the person who started the daemon wants of the board."""

    step_key: str | None = None
    sound_check: Callable[[], str] | None = None
    power: Callable[[], Mapping[str, Any] | None] | None = None
    troubles: Callable[[], Sequence[str]] | None = None
    speed: float = 1.0
    """How much faster than real time the clock runs, in a rehearsal."""


class Desk:
    """Holds the house, the phones and the newest view. Everything that touches the house runs on one thread."""

    def __init__(self, open_house: Callable[[], BoardHouse], clock: Clock, wishes: Wishes) -> None:
        self.clock, self.wishes = clock, wishes
        self.hub, self.receipts, self.guesses = Hub(), Receipts(), Guesses()
        self._room = HouseRoom()
        self._heard_from_daemon: datetime | None = None
        self._stirred, self._told = asyncio.Event(), False
        self._beat_is_due = asyncio.Event()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._failure: str | None = None
        self._closed = False
        self.paired: Callable[[], None] = lambda: None
        self.lapsed: Callable[[], None] = lambda: None
        self.house = self._room.ask(open_house).result()
        self.phones = self._room.ask(lambda: Phones(self.house)).result()
        self.door_key = self._room.ask(lambda: DoorKey(self.house)).result()
        self._sensors: dict[str, str] = {}
        self._live_jobs: Sequence[str] = self._room.ask(self.house.jobs).result()
        self._kits: dict[str | None, KeptKit] = {None: KeptKit()}
        self._shown: dict[str | None, Shown] = {}
        self._asked: dict[str | None, asyncio.Task[None]] = {}
        self._kit_turn = asyncio.Lock()
        self._words = 0
        self._stated_s = 0.0
        self.ledger = self._room.ask(lambda: Ledger(self.house)).result()

    def house_of(self, phone: Phone) -> BoardHouse:
        """The house with the phone's own job in view, while that is under way. Only for the house's thread."""
        return self.house.of_job(self.job_of(phone))

    def job_of(self, phone: Phone) -> str | None:
        """The phone's job. None stands for the job in use: the phone has no job, or its own is over."""
        return phone.job if phone.job is not None and phone.job in self._live_jobs else None

    def next_secret(self) -> str:
        """The secret that pairs the next phone."""
        return self.phones.secret(self.clock.now())

    async def ask(self, what: Callable[[], T]) -> T:
        """Run a function on the house's thread."""
        return await asyncio.wrap_future(self._room.ask(what))

    async def ask_next_kit(self, phone: Phone) -> Mapping[str, Any]:
        """Whether the next kit may be opened, kept in the book. What others state meanwhile does not wait for it."""
        async with self._kit_turn:
            now, job = self.clock.now(), self.job_of(phone)
            await asyncio.wrap_future(self._room.ask_patiently(lambda: self._next_kit(now, job)))
            return await self.ask(lambda: self.house_of(phone).ask_next_kit(now, phone.holder))

    async def state(self, tap: Tap, by: str | None, device: str) -> tuple[TapAnswer, bool]:
        """Write a device's tap into the book, then show it to everybody: at once what was stated, then what follows."""
        now, loop = self.clock.now(), asyncio.get_running_loop()
        self._stated_s = loop.time()
        stated = await self.ask(
            lambda: self.ledger.state(tap, by, now, device, lambda word: self._say(word, device, loop))
        )
        self.changed()
        return stated

    def _say(self, word: FirstWord, device: str, loop: asyncio.AbstractEventLoop) -> None:
        """On the house's thread: give a first word to the phones, and let it get away before anything is worked out."""
        self._words += 1
        number, sent = self._words, threading.Event()
        data = json.dumps({"number": number, **word.told}, ensure_ascii=False, separators=(",", ":"))

        def send() -> None:
            self.hub.say(word.job, number, data, device)
            loop.call_soon(loop.call_soon, sent.set)  # the streams' turn comes in between

        loop.call_soon_threadsafe(send)
        sent.wait(SENT_WITHIN_S)

    async def withdraw(self, entry: int, phone: Phone, job: str | None) -> TapAnswer:
        """Take back a statement of the job that the page showed, else of the phone's job."""
        now, meant = self.clock.now(), job if job is not None else self.job_of(phone)
        answer = await self.ask(lambda: self.house.of_job(meant).withdraw(entry, now, phone.holder))
        self.ledger.forget_doubles_of(entry)
        self.changed()
        return answer

    def changed(self) -> None:
        """Reckon again now. Only for the server's own thread; others use `BoardServer.notify_change`."""
        self._told = True
        self._stirred.set()

    def defect(self, line: str) -> None:
        """Show that a part of mixclock broke while it answered a phone. It stops nothing."""
        self._failure = line[:300]
        self.trouble_told()

    def sensor_said(self, sensor: str, trouble: str | None) -> None:
        """Show what is wrong with a sensor until it sends something believable."""
        others = {name: line for name, line in self._sensors.items() if name != sensor}
        told, self._sensors = self._sensors, {**others, sensor: trouble} if trouble else others
        if told != self._sensors:
            self.trouble_told()

    def trouble_told(self) -> None:
        """Beat now: a trouble came or went. Any thread may call it."""
        if self._loop is not None:
            with suppress(RuntimeError):  # the board has ended
                self._loop.call_soon_threadsafe(self._beat_is_due.set)

    def heartbeat(self, at: datetime) -> None:
        """The daemon ticked."""
        self._heard_from_daemon = at

    def daemon_age_s(self) -> float | None:
        """How long ago the daemon ticked, or None if it never did."""
        if self._heard_from_daemon is None:
            return None
        return max(0.0, (self.clock.now() - self._heard_from_daemon).total_seconds() / self.wishes.speed)

    def daemon_alive(self) -> bool:
        """Whether the daemon ticked lately enough to be relied on."""
        age_s = self.daemon_age_s()
        return age_s is not None and age_s < _QUIET_DAEMON.total_seconds()

    def beat(self) -> str:
        """What every beat tells: this machine's time, how long ago the daemon ticked, what went wrong."""
        age_s = self.daemon_age_s()
        told = {"at": self.clock.now().isoformat(), "daemon_age_s": age_s, "trouble": self._trouble() or None}
        return json.dumps(told)

    def _trouble(self) -> str:
        standing = self.wishes.troubles() if self.wishes.troubles is not None else ()
        return " · ".join([*standing, *self._sensors.values(), *([self._failure] if self._failure else [])])

    async def current_view(self, job: str | None = None) -> Mapping[str, Any]:
        """The newest view of a job. It is reckoned now if no page showed the job before."""
        if job not in self.hub.jobs or not self.hub.view(job):
            await self._reckon_job(job)
            await self._ask_kit(job)
        return self.hub.view(job)

    async def keep_up(self) -> None:
        """Reckon when something was written or a second passed, until cancelled.

        Whether the next kit may be opened takes longer: it is worked out beside, and shown when it is known.
        """
        version, reckoned_s, loop = None, 0.0, asyncio.get_running_loop()
        while True:
            told = await self._wait_for_change()
            if not told and self.ledger.is_ahead and loop.time() - self._stated_s >= SETTLES_S:
                await self.ask(self.ledger.keep_answers)
            if not self.hub.watched:
                continue
            newest = await self.ask(self.house.version) if told or not self.house.is_still() else version
            changed = told or newest != version
            due_s = _RECKON_S if self._runs else max(_RECKON_S, _RECKON_IDLE_S / self.wishes.speed)
            if changed or loop.time() - reckoned_s >= due_s:
                version = newest
                took_s = await self._reckon(changed)
                reckoned_s = loop.time() + min(9.0 * took_s, 4.0)
            elif any(kit.is_due(loop.time()) for kit in self._kits.values()):
                self._ask_kits(changed=False)

    @property
    def _runs(self) -> bool:
        """Whether a page shows something that changes by the second: a batch, a call, or a trouble."""
        views = [self.hub.view(job) for job in self.hub.jobs]
        told = ("batches", "alerts", "deadlines")
        return self._failure is not None or any(not view or any(view.get(name) for name in told) for view in views)

    @property
    def _owes(self) -> bool:
        """Whether something waits until nobody states any more: answers to be kept, or the next kit."""
        return self.ledger.is_ahead or any(self._kits[job].is_owed for job in self.hub.jobs if job in self._kits)

    async def beat_on(self) -> None:
        """Beat until cancelled: every second, more rarely where nothing runs; at once when a trouble came or went."""
        self._loop = loop = asyncio.get_running_loop()
        while True:
            beat = loop.call_at(next_turn(loop.time(), BEAT_S if self._runs else IDLE_BEAT_S), self._beat_is_due.set)
            await self._beat_is_due.wait()
            beat.cancel()
            self._beat_is_due.clear()
            self.hub.send("beat", self.beat())

    def close(self) -> None:
        """Nobody asks any more. A second call does nothing."""
        self.hub.close()
        if not self._closed:
            self._closed = True
            self._room.close(self.ledger.keep_answers, self.house.close)

    async def _wait_for_change(self) -> bool:
        loop = asyncio.get_running_loop()
        # where nothing runs, the daemon's own look tells of what was stated, and one waking serves looks and beats
        is_soon = self._runs or self._owes or not self.daemon_alive()
        look_s = LOOK_S if is_soon else max(LOOK_S, IDLE_BEAT_S)
        look = loop.call_at(next_turn(loop.time(), look_s), self._stirred.set)
        await self._stirred.wait()
        look.cancel()
        self._stirred.clear()
        told, self._told = self._told, False
        return told

    async def _reckon(self, changed: bool) -> float:
        """Reckon every job that a page shows. Gives how long it took."""
        loop = asyncio.get_running_loop()
        began_s = loop.time()
        self._live_jobs = await self.ask(self.house.jobs)
        for job in self.hub.jobs:
            if not await self._reckon_job(job):
                return 1.0
        self._ask_kits(changed)
        return loop.time() - began_s

    def _ask_kits(self, changed: bool) -> None:
        """Have the next kit of every job that a page shows worked out, where it is time to."""
        loop = asyncio.get_running_loop()
        every_s = 0.0 if self._runs else ASKED_IDLE_S
        for job in self.hub.jobs:
            kit = self._kits.setdefault(job, KeptKit())
            if job not in self._asked and kit.is_asked(changed, loop.time(), every_s):
                self._asked[job] = loop.create_task(self._ask_kit(job))
            elif job in self._asked and changed:
                kit.owe(loop.time())

    async def _ask_kit(self, job: str | None) -> None:
        """Work out the next kit of a job, then show the answer beside whatever the page shows by then."""
        loop = asyncio.get_running_loop()
        try:
            async with self._kit_turn:
                now, shown, began_s = self.clock.now(), self._shown.get(job, NOTHING_SHOWN), loop.time()
                told = await asyncio.wrap_future(self._room.ask_patiently(lambda: self._next_kit(now, job)))
            kit = self._kits.setdefault(job, KeptKit())
            kit.took_s = loop.time() - began_s
            kit.put(told, shown)
        finally:
            self._asked.pop(job, None)
        if view := self.hub.view(job):
            self.hub.show({**view, "kit": kit.told(self._shown.get(job, NOTHING_SHOWN))}, job)

    async def _reckon_job(self, job: str | None) -> bool:
        now = self.clock.now()
        try:
            words, (view, shown) = await self.ask(lambda: (self._words, self._view(now, job)))
            self._failure = None
        except Exception as failure:
            self._failure = f"the job cannot be worked out: {failure}"[:300]
            self.hub.send("beat", self.beat())
            return False
        around = {"phones": self.phones.listed(), "step_key": self.wishes.step_key, "power": self._power()}
        self._shown[job] = shown
        kit = self._kits.setdefault(job, KeptKit()).told(shown)
        self.hub.show({**view, **around, "kit": kit, "jobs": list(self._live_jobs)}, job, words)
        return True

    def _view(self, now: datetime, job: str | None) -> tuple[dict[str, Any], Shown]:
        house = self.house.of_job(job)
        floor, planned, recent = house.floor(), house.planned_next(now), house.recent(now)
        snapshot = house.snapshot(now)
        told = ViewParts(snapshot, floor, planned, recent, cups=house.cups(now))
        said = tuple((each.entry, each.withdrawn) for each in recent)
        mark = said, snapshot.get("conditions"), snapshot.get("questions")
        return build_view(told, now), Shown(floor.job, planned[0] if planned else None, mark)

    def _next_kit(self, now: datetime, job: str | None) -> Mapping[str, Any] | None:
        """The answer for the next kit. If it can't be worked out, the rest of the page is shown all the same."""
        try:
            return self.house.of_job(job).next_kit(now)
        except Exception as defect:
            self.defect(f"the next kit: {type(defect).__name__}: {defect}")
            return None

    def _power(self) -> Mapping[str, Any] | None:
        return self.wishes.power() if self.wishes.power is not None else None
