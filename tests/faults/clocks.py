"""The lid is shut, the wall clock is set, the machine comes up in another year."""

from __future__ import annotations

import contextlib
import gc
import threading
import tracemalloc
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, tzinfo

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers import base as apscheduler
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.interval import IntervalTrigger

from mixclock.job import folding, steppedclock
from mixclock.outside import followedjob
from mixclock.watch.scheduling import PastlessTrigger, Watchdog
from tests.days.clockwork import Day
from tests.faults.jobdays import dice, job_day, minutes, mix
from tests.faults.starving import Stopwatch
from tests.faults.table import CLOCK, Counted, each

DAY_S = 86_400.0
TICK_S = 0.2
KINDS = ("asleep", "set", "set by hours", "behind", "1970")


@contextlib.contextmanager
def wall_clock_alone(broken: bool) -> Iterator[None]:
    """The deliberate break: elapsed time is taken from the wall clock."""
    honest = steppedclock.on_one_clock
    if broken:
        folding.on_one_clock = followedjob.on_one_clock = lambda entries, here=None: entries
    try:
        yield
    finally:
        folding.on_one_clock = followedjob.on_one_clock = honest


def lefts(day: Day) -> dict[str, float]:
    """How far off the edges of every window are."""
    now, found = day.now_by_the_log(), {}
    for track in day.ticker.watched[day.job].tracks:
        for sense, edge in (("closes", track.closing), ("opens", track.opening)):
            for mark, at in (("early", edge.early), ("late", edge.late or edge.likely)) if edge else ():
                found[f"{track.name} {track.area or ''} {sense} {mark}"] = (at - now).total_seconds()
    return found


def lids_and_steps(trials: int, broken: bool) -> Counted:
    """A span asleep or a step of the wall clock, then on to the deadline: it comes when it truly is."""
    counted = Counted()
    with wall_clock_alone(broken):
        for seed in each(trials):
            _one(counted, seed)
    counted.add(scheduler_under_steps(broken))
    return counted


def _one(counted: Counted, seed: int) -> None:
    throw = dice(seed)
    day = job_day(1)
    mix(day, 1)
    day.until(day.clock.now() + minutes(throw.uniform(0.5, 6)))
    kind = KINDS[seed % len(KINDS)]
    counted.trials += 1
    if kind in ("behind", "1970"):
        _reboot(day, counted, f"{kind} (seed {seed})", throw.uniform(1800, 365 * DAY_S) if kind == "behind" else None)
        return
    before, slept_s = lefts(day), 0.0
    if kind == "asleep":
        slept_s = 10 ** throw.uniform(0, 6.08)
        day.clock.suspend(slept_s)
    else:
        day.clock.step(throw.choice((-1, 1)) * 10 ** (throw.uniform(0, 8.49) if kind == "set" else throw.uniform(2, 4)))
    day.look()
    day.look()
    after = lefts(day)
    worst = max(before, key=lambda name: abs(after[name] - before[name] + slept_s))
    if (off_s := abs(after[worst] - before[worst] + slept_s)) > 1.0:
        counted.fail(f"{kind} (seed {seed}): {worst} moved by {off_s:.0f} s")
    _called_in_time(day, counted, before["pour-out  closes early"] - slept_s)


def _called_in_time(day: Day, counted: Counted, left: float) -> None:
    """On to the deadline by the boot clock: the call comes within 3 s of it, or of waking."""
    due_s = day.clock.boot_s() + max(0.0, left)
    while day.clock.boot_s() < due_s + 3.0:
        if any(day.raised("b1.pour-out", stage) for stage in ("now", "late", "lost")):
            break
        span_s = max(0.4, min(20.0, due_s - day.clock.boot_s() - 0.4))
        day.clock.advance(span_s)
        day.look()
    if not any(day.raised("b1.pour-out", stage) for stage in ("now", "late", "lost")):
        counted.miss("pour-out was not called after waking")
    counted.late(max(0.0, day.clock.boot_s() - due_s), 3.0, "pour-out after waking")


def _reboot(day: Day, counted: Counted, what: str, behind_s: float | None) -> None:
    """Off for a minute, then up with a clock behind the log; later the network sets it right."""
    before, called, began_s = lefts(day), len(day.desktop.sent), day.clock.boot_s()
    day.clock.reboot(60.0)
    behind_s = day.clock.now().timestamp() - 40.0 if behind_s is None else behind_s
    day.clock.step(-behind_s)
    day.start()
    if not any("b1.pour-out" in message.alert_id for _, message in day.desktop.sent[called:]):
        counted.miss(f"{what}: an open deadline was not called at the start")
    if day.ticker.watched[day.job].clock_behind <= timedelta():
        counted.fail(f"{what}: nobody is told that the time is unknown")
    day.clock.step(behind_s)
    day.look()
    name = "pour-out  closes early"
    if abs(lefts(day)[name] - (before[name] - 60.0)) > 1.0:
        counted.fail(f"{what}: put right by the network, the deadline is off (up since {began_s:.0f} s)")


class _SetCalendar(datetime):
    """The calendar that the scheduler reads, with a wall clock that somebody sets."""

    ahead = timedelta()

    @classmethod
    def now(cls, tz: tzinfo | None = None) -> datetime:  # type: ignore[override]
        return datetime.now(UTC).astimezone(tz) + cls.ahead  # noqa: TID251  the scheduler's own door


def scheduler_under_steps(broken: bool) -> Counted:
    """The scheduler and its watchdog, for real, while the wall clock is set by a day, by ten years, and back.

    The deliberate break is a trigger that has a past; a day is enough to show it.
    """
    counted, looked = Counted(trials=1), threading.Event()
    scheduler = BackgroundScheduler(
        executors={"default": ThreadPoolExecutor(1)},
        job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1},
        timezone=UTC,
    )
    dog = Watchdog(CLOCK, TICK_S, looked.set, lambda: None, 60.0, lambda _: None)

    def look() -> None:
        dog.scheduled()
        dog.looked()
        looked.set()

    honest, apscheduler.datetime = apscheduler.datetime, _SetCalendar
    tracemalloc.start()
    try:
        scheduler.add_job(look, IntervalTrigger(seconds=TICK_S) if broken else PastlessTrigger(TICK_S), id="tick")
        scheduler.start()
        dog.start()
        looked.wait(3.0)
        gc.collect()
        base = tracemalloc.get_traced_memory()[0]
        for ahead in (timedelta(days=1),) if broken else (timedelta(days=3650), timedelta(days=-3650), timedelta(30)):
            tracemalloc.reset_peak()
            _SetCalendar.ahead = ahead
            scheduler.wakeup()
            _looks_go_on(counted, looked, ahead)
            grown = (tracemalloc.get_traced_memory()[1] - base) / 1e6
            counted.notes.append(f"the clock set to {ahead.days:+} days: memory grew by {grown:.2f} MB")
            if grown > 1.0:
                counted.fail(f"set by {ahead.days} days, memory grew by {grown:.1f} MB")
    finally:
        tracemalloc.stop()
        dog.stop()
        scheduler.shutdown(wait=False)
        _SetCalendar.ahead, apscheduler.datetime = timedelta(), honest
    return counted


def _looks_go_on(counted: Counted, looked: threading.Event, ahead: timedelta) -> None:
    """A few looks after the step, none late."""
    for _ in range(3):
        looked.clear()
        watch = Stopwatch()
        if not looked.wait(3.0):
            counted.miss(f"set by {ahead.days} days, nobody looked for 3 s")
        counted.judge(watch.took(), 2.0, f"the next look after the clock was set by {ahead.days} days")
