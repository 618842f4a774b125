"""What is measured inside one process, each a function that gives figures by name.

    python -m tests.bench.measures NAME [NUMBER ...]

prints them as JSON: the table runs each in a process of its own, over this tree and over an earlier commit's.
"""

from __future__ import annotations

import json
import math
import random
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from typing import Any

Figures = dict[str, float]


class TakingChannel:
    """Takes whatever it is sent, at once."""

    name, limit_s = "desktop", 5.0
    ranks = frozenset(("critical", "timely", "notice"))

    def send(self, message: Any) -> Any:
        """Taken."""
        from mixclock.outside.channels.message import Outcome, Receipt

        return Receipt(self.name, Outcome.SENT, "taken", True)

    def withdraw(self, alert_id: str) -> Any:
        """Taken away."""
        return self.send(None)

    def probe(self) -> Any:
        """It works."""
        return self.send(None)


def tick(live: int, entries: int, finished: int, ticks: int = 60) -> Figures:
    """Looks of the daemon's ticker 0.4 s apart, on a book on the disk; in ms. Nothing is warm at the first."""
    from mixclock.decide.bucketmodel import bucket_model
    from mixclock.outside.channels.deliver import Sender
    from mixclock.outside.clock import FakeClock
    from mixclock.watch.delivery import Delivery
    from mixclock.watch.jobwatch import Reckoning
    from mixclock.watch.tick import Ticker
    from tests.bench.livejob import BEGINS, make_live_job

    with tempfile.TemporaryDirectory() as folder:
        clock = FakeClock(BEGINS)
        book = make_live_job(Path(folder) / "book.sqlite3", live, entries, finished, clock)
        sent: list[Callable[[], None]] = []  # what is sent is sent between the looks, as by a thread of its own
        delivery = Delivery(Sender((TakingChannel(),)), book, clock, _fail, sent.append)
        ticker = Ticker(book, clock, delivery, Reckoning(bucket_model()), _fail)
        ticker.eye.stall_from_s = math.inf
        first_ms = _took_ms(ticker.tick)
        every, quiet = list[float](), list[float]()
        for number in range(-5, ticks):
            while sent:
                sent.pop()()
            clock.advance(0.4)
            began = time.perf_counter()
            ticked = ticker.tick()
            took_ms = 1000 * (time.perf_counter() - began)
            if number >= 0:
                every.append(took_ms)
                quiet += [took_ms] if ticked is not None and not ticked.changed else []
                quiet += _looks_after(ticker, clock, sent)
        every.sort()
        return {
            "first": first_ms,
            "median": every[len(every) // 2],
            "p99": every[min(len(every) - 1, int(0.99 * len(every)))],
            "idle": sorted(quiet)[len(quiet) // 2] if quiet else math.nan,
        }


def _looks_after(ticker: Any, clock: Any, sent: list[Callable[[], None]]) -> Iterator[float]:
    """How long a look takes a moment after another one, when the receipts are read and nobody is called; in ms.

    With a thousand buckets somebody is called at nearly every tick, so there would be none else.
    """
    while sent:
        sent.pop()()
    for _ in range(2):  # the first reads the receipts
        clock.advance(0.002)
        began = time.perf_counter()
        ticked = ticker.tick()
        took_ms = 1000 * (time.perf_counter() - began)
        if ticked is not None and not ticked.changed:
            yield took_ms


def record(batches: int) -> Figures:
    """The record of a job of so many batches: seconds for the page, for CSV and JSON, and MB of the page."""
    from tests.bench.record import measure

    page_s, tables_s, size = measure(batches)
    return {"page_s": page_s, "tables_s": tables_s, "mb": size / 1e6}


def window_clock(readings: int = 600, edges: int = 40) -> Figures:
    """The edge of a window over histories that nobody has seen, and the fastest way to it from scipy at 1e-8; in ms."""
    from mixclock.formulas.cure import time_of_ripeness
    from tests.bench.physics import LAW, by_scipy, by_scipy_from_reading_to_reading, morning

    histories = [morning(readings, shift) for shift in range(edges)]
    fresh = iter(histories)
    ours = [_cpu_ms(lambda: time_of_ripeness(LAW, next(fresh), 0.0)) for _ in histories]
    theirs = []
    for shift in range(3 if edges > 10 else 1):
        history = morning(readings, shift)
        edge_s = time_of_ripeness(LAW, history, 0.0)
        rivals: list[Callable[[], float]] = [
            lambda history=history, edge_s=edge_s, by=by, to=to: by_scipy(history, edge_s, by, to)  # type: ignore[misc]
            for by in ("LSODA", "RK45", "DOP853")
            for to in ((1e-8, 1e-9, 1e-10, 1e-11, 1e-12) if edges > 10 else (1e-10,))
        ]
        rivals.append(lambda history=history, edge_s=edge_s: by_scipy_from_reading_to_reading(history, edge_s))  # type: ignore[misc]
        theirs.append(min(_cpu_ms(rival) for rival in rivals if abs(rival() - 1.0) <= 1e-8))
    return {"ours": sorted(ours)[len(ours) // 2], "scipy": min(theirs)}


def bucket_edges(buckets: int = 7) -> Figures:
    """Early, likely and late of buckets of products that nobody has asked for, calibration and all; in ms.

    Beside it a stiff solver runs every resin of the ensemble once.
    """
    from mixclock.formulas.ensemble import BucketLoad, SheetPot, edge_times
    from mixclock.formulas.ensemble_members import calibrate_ensemble
    from tests.bench.stiff import every_member_ms
    from tests.lacking import without_numpy

    def asked(offset: int) -> float:
        took = []
        for number in range(offset, offset + buckets):
            sheet = SheetPot(((25.0, 1800.0 + 13.0 * number),), 0.15)
            bucket = BucketLoad(12.0, 22.0 + number / 9, 24.0)
            took.append(_cpu_ms(lambda sheet=sheet, bucket=bucket: edge_times(calibrate_ensemble(sheet), bucket)))  # type: ignore[misc]
        return sorted(took)[len(took) // 2]

    with without_numpy():
        plain = asked(100)
    return {"ours": asked(0), "plain": plain, "stiff": every_member_ms()}


def five_windows(times: int = 9) -> Figures:
    """Every window of a job of five batches, none of them asked before; in ms."""
    from mixclock.decide.bucketmodel import bucket_model
    from mixclock.decide.tracks import tracks
    from tests.bench.physics import five_batches, forget_answers

    standing, model = five_batches().standing(), bucket_model()
    tracks(standing, model)  # calibrated, as the book has it
    took = []
    for _ in range(times):
        forget_answers()
        took.append(_cpu_ms(lambda: tracks(five_batches().standing(), model)))
    return {"ours": min(took), "fold": min(_cpu_ms(lambda: five_batches().standing()) for _ in range(5))}


def plan(areas: int) -> Figures:
    """The plan of a hall of so many areas for two people, by the sheets and with its chance, in s; Python and the
    modules are loaded."""
    from importlib import import_module

    from mixclock.decide.plan.judge.foreman import foreman_plan
    from mixclock.decide.plan.search import solver
    from mixclock.decide.plan.search.schedule import Ways
    from mixclock.formulas.arrays import numpy_at_hand
    from tests.bench.plan import by_the_sheets, hall

    numpy_at_hand(worth_loading=True)
    if solver.available():
        import_module(solver.LIBRARY)
    at = by_the_sheets(hall(areas))
    return {"s": _took_ms(lambda: foreman_plan(at, Ways(progress=lambda *_: None))) / 1000}


def scan(home: str) -> Figures:
    """Every entry of a book read once by SQLite, in ms."""
    import sqlite3

    book = sqlite3.connect(f"{home}/book.sqlite3")
    asked = "SELECT sum(length(facts)), count(*) FROM entries NOT INDEXED"
    began = time.perf_counter()
    _, entries = book.execute(asked).fetchone()
    return {"scan": 1000 * (time.perf_counter() - began), "entries": entries}


def watch_start(home: str) -> Figures:
    """The first look of a daemon on a book, and the one after it, in ms; Python and the modules are loaded."""
    from mixclock.outside.channels.deliver import Sender
    from mixclock.watch.delivery import Delivery
    from mixclock.watch.jobwatch import Reckoning
    from mixclock.watch.tick import Ticker
    from mixclock.wiring import open_house

    began = time.perf_counter()
    with open_house(Path(home)) as house:
        delivery = Delivery(Sender((TakingChannel(),)), house.book, house.clock, _fail, lambda _: None)  # type: ignore[arg-type]
        beside = _fold_beside(house.home)
        reckoning = Reckoning(house.bucket_model, **({"beside": beside} if beside else {}))
        ticker = Ticker(house.book, house.clock, delivery, reckoning, lambda _: None)
        ticker.tick()
        first_ms = 1000 * (time.perf_counter() - began)
        second_ms = _took_ms(ticker.tick)
        if beside:
            beside.stop()
        return {"first": first_ms, "second": second_ms}


def _fold_beside(home: Path) -> Any:
    """What works out a very long log beside the watch; an earlier commit has none."""
    try:
        from mixclock.watch.foldbeside import FoldBeside
    except ImportError:
        return None
    return FoldBeside(home)


def noisy(start: float, seed: int) -> Iterator[float]:
    """Temperatures that wander, never twice the same."""
    dice = random.Random(seed)
    for _ in count():
        start += dice.gauss(0.0, 0.02)
        yield start


def _fail(line: str) -> None:
    print(line, file=sys.stderr)


def _took_ms(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return 1000 * (time.perf_counter() - began)


def _cpu_ms(work: Callable[[], object]) -> float:
    began = time.process_time()
    work()
    return 1000 * (time.process_time() - began)


MEASURES: dict[str, Callable[..., Figures]] = {
    each.__name__: each for each in (tick, record, window_clock, bucket_edges, five_windows, plan, scan, watch_start)
}

if __name__ == "__main__":
    name, *words = sys.argv[1:]
    print(json.dumps(MEASURES[name](*(int(word) if word.isdecimal() else word for word in words))))
