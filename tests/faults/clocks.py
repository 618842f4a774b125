"""The lid is shut, the wall clock is set, the machine comes up in another year."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from datetime import timedelta

from mixclock.job import folding, steppedclock
from mixclock.outside import followedjob
from mixclock.watch.scheduling import PastlessTrigger
from tests.days.clockwork import Day
from tests.faults.jobdays import dice, job_day, minutes, mix
from tests.faults.table import Counted

DAY_S = 86_400.0


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


def left_s(day: Day) -> float:
    """How long batch 1 may still stay in its bucket."""
    track = next(one for one in day.ticker.watched[day.job].tracks if one.name == "pour-out")
    assert track.closing is not None
    return (track.closing.early - day.now_by_the_log()).total_seconds()


def lids_and_steps(trials: int, broken: bool) -> Counted:
    """A span asleep or a step of the wall clock, then on to the deadline: it comes when it truly is."""
    counted = Counted()
    with wall_clock_alone(broken):
        for seed in range(trials):
            throw = dice(seed)
            day = job_day(1)
            mix(day, 1)
            day.until(day.clock.now() + minutes(1))
            before = left_s(day)
            kind = ("asleep", "set", "behind", "1970")[seed % 4]
            counted.trials += 1
            if kind == "asleep":
                slept_s = 10 ** throw.uniform(0, 6.08)
                day.clock.suspend(slept_s)
                before -= slept_s
            elif kind == "set":
                day.clock.step(throw.choice((-1, 1)) * 10 ** throw.uniform(0, 8.49))
            else:
                _reboot(day, counted, kind, throw.uniform(1800, 365 * DAY_S))
                continue
            day.look()
            day.look()
            elapsed_error = abs(left_s(day) - before)
            if elapsed_error > 1.0:
                counted.fail(f"{kind} (seed {seed}): the deadline moved by {elapsed_error:.0f} s")
            _called_in_time(day, counted, before)
        _memory_flat(counted)
    return counted


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
        counted.missed += 1
    counted.late(max(0.0, day.clock.boot_s() - due_s), 3.0, "pour-out after waking")


def _reboot(day: Day, counted: Counted, kind: str, behind_s: float) -> None:
    day.clock.reboot(60.0)
    day.clock.step(-behind_s if kind == "behind" else -(day.clock.now().timestamp() - 40.0))
    day.start()
    if not any("b1.pour-out" in message.alert_id for _, message in day.desktop.sent):
        counted.missed += 1
    if day.ticker.watched[day.job].clock_behind <= timedelta():
        counted.fail(f"{kind}: nobody is told that the time is unknown")


def _memory_flat(counted: Counted) -> None:
    """A wall clock put forward by ten years leaves no list of looks that were missed."""
    from datetime import UTC, datetime

    trigger, now = PastlessTrigger(0.4), datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
    later = now + timedelta(days=3650)
    runs, at = 0, trigger.get_next_fire_time(None, now)
    while at <= later and runs < 10:
        runs, at = runs + 1, trigger.get_next_fire_time(at, later)
    if runs > 2:
        counted.fail("missed looks are listed after the clock was put forward")
