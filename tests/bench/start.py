"""How long a command takes from a cold start and with the watch running, beside argparse and sqlite3 appending one row.

    python -m tests.bench.start [runs] [TREE ...]

They run in turns, each as a process of its own, WAL and synchronous=FULL, so that whatever else the machine does falls
on all. Wall time and processor time are medians; on a busy machine trust the second. A first bucket of its kind is of
an amount that no run had before, and its resins are known. TREE is another checkout, told beside ours.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import NamedTuple

from mixclock.outside.clock import SystemClock
from mixclock.warmclient import SOCKET
from tests.bench.trees import FLOOR, ROOT, Tree
from tests.boatshed import PAIL, one_coat

CLOCK = SystemClock()
LIVE, WARM_UPS = 30, 2
COLD, WARM = "cold", "with the watch"

JOB = one_coat("slip", "400 m2", zone="Europe/Lisbon", vessel=PAIL)

MIXED = ("mixed", "Slow epoxy base", "--on", "slip", "--material", "19 C")
READING = ("reading", "--air", "18 C", "--rh", "60", "--slab", "16 C")
GOALS = {
    "mixed, like one before": 4.0,
    "mixed, the first of its kind": 6.0,
    "poured": 6.0,
    "reading": 6.0,
}
NOW_GOAL = 6.0
WARM_GOAL = 3.0


class StartFigure(NamedTuple):
    """One row: what, its milliseconds and the floor's, how many times that is, by the processor too, and the goal."""

    what: str
    ours_ms: float
    floor_ms: float
    ratio: float
    processor_ratio: float
    goal: float
    how: str


class _Spent(NamedTuple):
    wall_s: float
    processor_s: float


class _Bench:
    """A home with a job and some live batches in it."""

    def __init__(self, tree: Tree, home: Path, live: int) -> None:
        self.home, self._runs, self._env = home, 0, tree.env(home)
        home.mkdir(mode=0o700)
        (home / "job.toml").write_text(JOB)
        self.run("job", "start", str(home / "job.toml"))
        self.run(*READING)
        for _ in range(live):
            self.run(*MIXED, "6 L")

    def run(self, *words: str) -> _Spent:
        return _timed([sys.executable, "-m", "mixclock", *words], self._env, self.home)

    def floor(self) -> _Spent:
        return _timed([sys.executable, "-c", FLOOR, str(self.home / "floor.sqlite3"), "one row"], self._env, self.home)

    def turn(self) -> dict[str, _Spent]:
        """Each row of `GOALS` once."""
        self._runs += 1
        spent = (
            self.run(*MIXED, "6 L"),
            self.run(*MIXED, f"{7 + self._runs / 100:.2f} L"),
            self.run("poured", str(2 * self._runs)),
            self.run(*READING),
        )
        self.run("poured", str(2 * self._runs + 1))  # so that one bucket is open, as on a floor
        return dict(zip(GOALS, spent, strict=True))

    @contextmanager
    def watched(self) -> Iterator[None]:
        """A watch that runs; its warm process begins a moment after it."""
        command = [sys.executable, "-m", "mixclock", "watch", "--plain", "--no-sound", "--no-board"]
        with subprocess.Popen(command, env=dict(self._env), cwd=self.home, stdout=subprocess.DEVNULL) as watch:
            while not (self.home / SOCKET).exists() and watch.poll() is None:
                CLOCK.sleep(0.05)
            try:
                yield
            finally:
                watch.terminate()
                watch.wait(20)


def start_figures(tree: Tree, runs: int = 15, live: int = LIVE) -> list[StartFigure]:
    """Every command beside the floor, cold and, where the tree has a warm process, with the watch running."""
    figures, now = [], f"now, {live} live batches"
    hows = (COLD, WARM) if (tree.root / "mixclock" / "warmclient.py").exists() else (COLD,)
    for how in hows:
        with tempfile.TemporaryDirectory(prefix="start-") as folder, ExitStack() as open_until_the_end:
            day, many = (
                _Bench(tree, Path(folder) / f"{name}", number) for name, number in (("day", 1), ("many", live))
            )
            if how == WARM:
                open_until_the_end.enter_context(day.watched())
                open_until_the_end.enter_context(many.watched())
            turns = runs + WARM_UPS if runs > 1 else 1
            taken = [{"floor": day.floor(), **day.turn(), now: many.run("now")} for _ in range(turns)][-runs:]
            goals = {**GOALS, now: NOW_GOAL}
            figures += [_figure(what, goal if how == COLD else WARM_GOAL, how, taken) for what, goal in goals.items()]
    return figures


def _figure(what: str, goal: float, how: str, taken: Sequence[Mapping[str, _Spent]]) -> StartFigure:
    ours_s, floor_s = (statistics.median(turn[name].wall_s for turn in taken) for name in (what, "floor"))
    ours, floor = (statistics.median(turn[name].processor_s for turn in taken) for name in (what, "floor"))
    return StartFigure(what, ours_s * 1000, floor_s * 1000, ours_s / floor_s, ours / floor, goal, how)


def _timed(command: Sequence[str], env: Mapping[str, str], folder: Path) -> _Spent:
    before, began_s = resource.getrusage(resource.RUSAGE_CHILDREN), CLOCK.monotonic_s()
    subprocess.run(command, env=dict(env), cwd=folder, check=True, capture_output=True)
    took_s, after = CLOCK.monotonic_s() - began_s, resource.getrusage(resource.RUSAGE_CHILDREN)
    return _Spent(took_s, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)


def main(words: Sequence[str]) -> int:
    """Measure and print; 1 where a goal is missed."""
    runs = int(words[0]) if words else 15
    missed = False
    for root in (ROOT, *(Path(word).resolve() for word in words[1:])):
        print(f"{root.name}; load {os.getloadavg()[0]:.1f}")
        with tempfile.TemporaryDirectory(prefix="compiled-") as compiled:
            figures = start_figures(Tree(root, Path(compiled)), runs)
        for each in figures:
            missed |= root == ROOT and each.ratio > each.goal
            processor = f" (processor {each.processor_ratio:.1f})" if each.how == COLD else ""
            took = f"{each.ours_ms:6.0f} ms beside {each.floor_ms:4.0f}, {each.ratio:4.1f} times"
            print(f"{each.what:32}{each.how:16}{took}{processor}, goal {each.goal:g}", flush=True)
    return int(missed)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
