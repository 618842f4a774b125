"""How fast the physics is: `python -m tests.bench.physics` prints a row each. CPU time, best of several."""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from scipy.integrate import solve_ivp

from mixclock.decide import bucketmodel
from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.tracks import tracks
from mixclock.decide.windows import seen_at
from mixclock.formulas.cure import History, time_of_ripeness
from mixclock.formulas.ensemble import BucketLoad, Calibration, SheetPot, edge_times, hand_over
from mixclock.formulas.ensemble_members import calibrate_ensemble
from mixclock.formulas.rate_law import law_from_points, tau_s
from mixclock.job.entry import Combined, Did, Poured, Reading
from tests.decide.worlds import Log, instant

EQUAL_ACCURACY = 1e-9
LAW = law_from_points([(10.0, 60000.0), (20.0, 40000.0), (30.0, 20000.0)], 47e3)
CUP, THREE = (
    SheetPot(((25.0, 1800.0),), 0.15),
    SheetPot(((10.0, 4200.0), (20.0, 2400.0), (30.0, 1200.0)), 1.0),
)


@dataclass(frozen=True)
class Row:
    """One measurement and its limit (None where it is only told)."""

    name: str
    value: float
    unit: str
    most: float | None = None
    least: float | None = None

    @property
    def kept(self) -> bool:
        return (self.most is None or self.value <= self.most) and (self.least is None or self.value >= self.least)


def best_s(work: Callable[[], object], repeats: int = 7) -> float:
    """CPU seconds of the fastest of some runs: what the work takes, not what the machine was busy with."""
    taken = []
    for _ in range(repeats):
        began = time.process_time()
        work()
        taken.append(time.process_time() - began)
    return min(taken)


def morning(readings: int, shift: float = 0.0) -> History:
    """A morning's temperatures, a reading a minute; another morning for each shift."""
    times = [60.0 * index for index in range(readings)]
    return History(tuple(times), tuple(20.0 + 5.0 * math.sin(time_s / 3000.0 + 0.01 * shift) for time_s in times))


def by_scipy(history: History, end_s: float, method: str, tolerance: float) -> float:
    """The clock by one run of scipy's solver over the whole history."""

    def rate(time_s: float, _: object) -> list[float]:
        return [1.0 / tau_s(LAW, history.at(time_s))]

    solved = solve_ivp(rate, (0.0, end_s), [0.0], method, rtol=tolerance, atol=tolerance * 1e-2)
    return float(solved.y[0, -1])


def by_scipy_from_reading_to_reading(history: History, end_s: float) -> float:
    """The same restarted at each reading, which spares the solver the kinks there."""
    total = 0.0
    for begin_s, finish_s in pairwise([*(time_s for time_s in history.times_s if time_s < end_s), end_s]):
        ends = (history.after(begin_s), history.before(finish_s))

        def rate(
            time_s: float, _: object, span: tuple[float, float] = (begin_s, finish_s), ends: tuple[float, float] = ends
        ) -> list[float]:
            return [1.0 / tau_s(LAW, ends[0] + (ends[1] - ends[0]) * (time_s - span[0]) / (span[1] - span[0]))]

        total = float(solve_ivp(rate, (begin_s, finish_s), [total], "RK45", rtol=1e-8, atol=1e-10).y[0, -1])
    return total


def clock_rows() -> list[Row]:
    """600 readings: the edge by our clock, and the fastest way that we know to have it from scipy to a billionth."""
    history = morning(600)
    edge_s = time_of_ripeness(LAW, history, 0.0)
    unseen = iter([morning(600, shift) for shift in range(1, 30)])
    ours_s = best_s(lambda: time_of_ripeness(LAW, next(unseen), 0.0))  # each asks of a morning that it never saw
    rivals: list[Callable[[], float]] = [
        lambda: by_scipy(history, edge_s, "LSODA", 1e-12),
        lambda: by_scipy(history, edge_s, "RK45", 1e-12),
        lambda: by_scipy_from_reading_to_reading(history, edge_s),
    ]
    exact_enough = [rival for rival in rivals if abs(rival() - 1.0) <= EQUAL_ACCURACY]
    theirs_s = min(best_s(rival, repeats=2) for rival in exact_enough)
    return [
        Row("clock, 600 readings, edge found", 1e3 * ours_s, "ms"),
        Row("clock, times faster than scipy", theirs_s / ours_s, "x", least=100.0),
    ]


def bucket_rows() -> list[Row]:
    """Calibration and the three edges of a bucket that was never asked for before."""
    rows: list[Row] = []
    for name, sheet in (("one point", CUP), ("three points", THREE)):
        rows += _rows_of(name, sheet)
    return rows


def _rows_of(name: str, sheet: SheetPot) -> list[Row]:
    calibration, bucket = calibrate_ensemble(sheet), BucketLoad(12.0, 22.0, 24.0)
    return [
        Row(f"calibration, {name}", 1e3 * best_s(lambda: calibrate_ensemble(sheet)), "ms", most=1000.0),
        Row(f"early, likely, late, {name}", 1e3 * best_s(lambda: edge_times(calibration, bucket)), "ms", most=40.0),
        Row(f"hand-over, {name}", 1e3 * best_s(lambda: hand_over(calibration, bucket, 600.0)), "ms", most=40.0),
    ]


def job_rows() -> list[Row]:
    """What a product and a small job cost: a calibration out of the book, and every window of five batches."""
    log = five_batches()
    standing = log.standing()
    fresh = bucket_model()
    tracks(standing, fresh)  # calibrates, as the book would have it already

    def asked() -> object:
        forget_answers()
        return [seen_at(track, instant(200)) for track in tracks(standing, fresh)]

    text = calibrate_ensemble(THREE).to_json()
    return [
        Row("calibration out of the book", 1e3 * best_s(lambda: Calibration.from_json(text)), "ms"),
        Row("windows of 5 batches, none asked before", 1e3 * best_s(asked), "ms", most=400.0),
        Row("tracks of 5 batches, asked again", 1e3 * best_s(lambda: tracks(standing, fresh)), "ms"),
    ]


def five_batches() -> Log:
    """A morning in the shed: five batches of different size, poured and rolled, with a reading every ten minutes."""
    log = Log()
    for number in range(30):
        log.add(10.0 * number - 60.0, Reading(air_c=18.0 + 0.1 * number, rh_pct=55.0, slab_c=16.0 + 0.1 * number))
    for batch in range(5):
        start = 35.0 * batch
        log.add(start, Combined("Shed base", (f"bay {batch % 3 + 1}",), volume_l=4.0 + 0.3 * batch, material_c=19.0))
        log.add(start + 5.0, Poured(batch + 1))
        log.add(start + 15.0, Did("back-roll", batch + 1))
    return log


def forget_answers() -> None:
    """Let no bucket be remembered."""
    bucketmodel._edges_of.cache_clear()
    bucketmodel._used_of.cache_clear()


def main() -> int:
    """Print the rows; 1 where a limit was not kept."""
    rows = [*clock_rows(), *bucket_rows(), *job_rows()]
    for row in rows:
        limit = f"at most {row.most:g}" if row.most is not None else f"at least {row.least:g}" if row.least else ""
        print(f"{row.name:40}{row.value:12.3g} {row.unit:3}{limit:18}{'' if row.kept else ' NOT KEPT'}")
    return 0 if all(row.kept for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
