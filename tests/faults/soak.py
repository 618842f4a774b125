"""Days upon days, compressed, with kills, a deaf channel and a full disk at random; clocks have a row of their own."""

from __future__ import annotations

from mixclock.outside.channels.message import Outcome
from tests.days.clockwork import Day
from tests.faults.jobdays import (
    FusedBook,
    KilledError,
    dice,
    job_day,
    minutes,
    mix,
    receipt_before_sending,
)
from tests.faults.table import Counted

WITHIN_S = 3.0
OF_MINUTES = ("pour-out", "back-roll", "broadcast", "wet-edge", "mixing", "hot")
"""Deadlines that run by elapsed time alone; those of days wait for working hours, which a clock that is set moves."""

DAY_SPAN = minutes(60 * 24)


def _day(seed: int, faulty: bool) -> Day:
    """A day of three batches; where it is faulty, something befalls it every few minutes."""
    throw = dice(seed)
    mixes = [
        (minutes(throw.uniform(2, 30)), 1),
        (minutes(throw.uniform(40, 90)), 2),
        (minutes(throw.uniform(120, 400)), 3),
    ]
    fate = dice(seed + 1_000_000)
    day = job_day()
    assert isinstance(day.book, FusedBook)
    if faulty:
        day.desktop.book = day.book  # type: ignore[attr-defined]
    elapsed_end = day.clock.boot_s() + DAY_SPAN.total_seconds()
    begins_s = day.clock.boot_s()
    mended_at: float | None = None
    while day.clock.boot_s() < elapsed_end:
        now_s = day.clock.boot_s()
        if mended_at is not None and now_s >= mended_at:
            day.desktop.outcome, day.book.broken, mended_at = Outcome.SENT, False, None
        due = [bay for at, bay in mixes if now_s >= begins_s + at.total_seconds()]
        mixed = {area for batch in day.ticker.watched[day.job].seen().batches for area in batch.areas}
        try:
            for bay in due:
                if f"bay {bay}" not in mixed:
                    fuse, full = day.book.fuse, day.book.broken
                    day.book.fuse, day.book.broken = None, False
                    mix(day, bay)
                    day.book.fuse, day.book.broken = fuse, full
            if faulty and mended_at is None and fate.random() < 0.2:
                mended_at = _befall(day, fate, now_s)
            stops = [begins_s + at.total_seconds() for at, _ in mixes] + ([mended_at] if mended_at else [])
            ahead = min([s - day.clock.boot_s() for s in (*stops, elapsed_end) if s > day.clock.boot_s()], default=0.4)
            until = day.clock.now() + minutes(max(ahead, 0.05) / 60)
            day.clock.set(max(day.clock.now(), min(until, day.next_look(until))))
            day.look()
        except KilledError:
            day.book.fuse = None
            day.start()
    return day


def _befall(day: Day, fate, now_s: float) -> float | None:  # type: ignore[no-untyped-def]
    """One fault; when it is over, for those that last."""
    kind = fate.choice(("kill", "kill", "kill", "channel", "disk"))
    if kind == "kill":
        day.book.fuse = fate.randrange(0, 5)
    elif kind == "channel":
        day.desktop.outcome = Outcome.RETRY
        return now_s + fate.uniform(1, 3)
    else:
        day.book.broken = True
        return now_s + fate.uniform(5, 60)
    return None


def soak(trials: int, broken: bool) -> Counted:
    """So many deadlines, each against the same day without a fault."""
    counted = Counted()
    late: list[float] = []
    seed = 0
    with receipt_before_sending(broken):
        while counted.trials < trials:
            seed += 1
            wanted, day = _day(seed, False), _day(seed, True)
            told = _by_boot(day)
            for name, at_s in _by_boot(wanted).items():
                counted.trials += 1
                if name not in told:
                    counted.missed += 1
                    counted.wrong.append(f"day {seed}: {name} was never called")
                    continue
                late.append(told[name] - at_s)
            counted.repeated += sum("perhaps for the second time" in m.body for _, m in day.desktop.sent)
    late.sort()
    if late:
        p99 = late[min(len(late) - 1, int(0.99 * len(late)))]
        counted.worst_s = late[-1]
        if p99 > WITHIN_S:
            counted.fail(f"99 % of the calls came within {p99:.1f} s, not 2 s and a second's fault")
    return counted


def _by_boot(day: Day) -> dict[str, float]:
    """When each alert was first sent, in elapsed seconds: the wall clock may have been set meanwhile."""
    found: dict[str, float] = day.desktop.first_s  # type: ignore[attr-defined]
    return {name: at_s for name, at_s in found.items() if name.rpartition(".")[2] in OF_MINUTES}
