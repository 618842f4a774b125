"""The process is killed again and again while a job of three days runs."""

from __future__ import annotations

from datetime import datetime, timedelta

from tests.days.clockwork import Day
from tests.faults.jobdays import KilledError, deadlines, dice, job_day, minutes, mix, receipt_before_sending, unmarked
from tests.faults.table import Counted, time_is_up

JOB_SPAN = timedelta(hours=72)


def run_job(kills_to_go: int, seed: int) -> tuple[Day, int]:
    """Three batches over 72 hours that nobody works on; the day, and how often the process was killed."""
    throw = dice(seed)
    day = job_day()
    killed = 0
    mixes = [(day.begins + minutes(3), 1), (day.begins + minutes(25), 2), (day.begins + timedelta(hours=26), 3)]
    end = day.begins + JOB_SPAN
    day.desktop.book = day.book if kills_to_go else None  # type: ignore[attr-defined]
    while day.clock.now() < end:
        try:
            if kills_to_go > killed and day.book.fuse is None:
                day.book.fuse = throw.randrange(0, 6)
            if mixes and day.clock.now() >= mixes[0][0]:
                mix(day, mixes[0][1])
                mixes.pop(0)
            until = min([end, *(at for at, _ in mixes[:1])])
            day.clock.set(max(day.clock.now(), min(until, day.next_look(until))))
            day.look()
        except KilledError:
            killed += 1
            started = False
            while not started:
                try:
                    day.start()
                    started = True
                except KilledError:
                    killed += 1
            mixed = {area for batch in day.ticker.watched[day.job].standing.batches for area in batch.areas}  # type: ignore[union-attr]
            mixes = [(at, bay) for at, bay in mixes if f"bay {bay}" not in mixed]
    return day, killed


def truth() -> dict[str, datetime]:
    """What the crew is told when nothing goes wrong."""
    return deadlines(run_job(0, 0)[0])


def judge_repeats(counted: Counted, day: Day, kills: int) -> None:
    """What was told twice says so, and there is at most one such message for each kill."""
    takings = day.desktop.takings  # type: ignore[attr-defined]
    marked = sum(taking.is_marked for taking in takings)
    counted.repeated += marked
    if marked > kills:
        counted.fail(f"{marked} repeats after {kills} kills")
    counted.wrong += unmarked(takings)


def random_kills(trials: int, broken: bool) -> Counted:
    """Kill the process at random writes and sends; every deadline must be called all the same."""
    counted = Counted()
    wanted = truth()
    seed = 0
    with receipt_before_sending(broken):
        while counted.trials < trials and not (seed and time_is_up()):
            seed += 1
            day, killed = run_job(min(120, trials - counted.trials), seed)
            if not killed:
                counted.fail("nothing was killed")
                break
            counted.trials += killed
            told = deadlines(day)
            gone = wanted.keys() - told.keys()
            counted.missed += len(gone)
            if gone:
                counted.wrong.append(f"never called: {sorted(gone)[0]}")
            for name in wanted.keys() & told.keys():
                counted.late((told[name] - wanted[name]).total_seconds(), 3.0, name)
            judge_repeats(counted, day, killed)
    return counted
