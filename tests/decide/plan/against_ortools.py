"""The planner against OR-tools on random floors: `python -m tests.decide.plan.against_ortools [N] [SECONDS] [own]`;
`... halls SECONDS` compares halls of 5 to 40 bays.

CP-SAT gets the floor itself, not the planner's network: for the planner's number of batches it is free to choose where
each batch ends, who does what, and when. Source: OR-tools, https://developers.google.com/optimization.
"""

from __future__ import annotations

import math
import random
import sys
import time
from dataclasses import dataclass
from datetime import time as clock
from typing import Any
from unittest.mock import patch

from mixclock.decide.plan.days import hands
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import Area, Coat, Hours, Person, Site, Vessel
from tests.decide.plan.checker import Job, violations
from tests.decide.plan.floors import BEGINS, DAYS, PRODUCT, bench, minutes, random_floor, row_of

KINDS = ("measure", "mix", "pour", "cut-in", "squeegee", "roll", "broadcast")
MEASURE_S, MIX_S, POUR_S, CLEAN_S, FOLLOW_S, AT_ONCE_S, FLAKE_LAG_S = 180, 180, 60, 600, 60, 120, 300
MEASURED_AHEAD_S = 900
PAIL_L = 0.8 * 12.0
WASTE = 0.05


@dataclass(frozen=True)
class Compared:
    """One floor: both finishes in seconds, what CP-SAT proved, both times, and what the checker found."""

    seed: int
    people: int
    areas: int
    batches: int
    ours_s: int | None
    theirs_s: int | None
    bound_s: int | None
    proven: bool
    ours_took_s: float
    theirs_took_s: float
    wrong: tuple[str, ...]

    @property
    def gap(self) -> float | None:
        """How far ours lies over the proven optimum."""
        if not self.proven or self.ours_s is None or self.theirs_s is None:
            return None
        return self.ours_s / self.theirs_s - 1.0


def compare(seed: int, seconds: float, exact: bool = True) -> Compared:
    """One floor by both; without `exact` the planner may not use the library itself to tighten what it found."""
    return compared(seed, random_floor(seed), seconds, exact)


def compared(seed: int, floor: tuple[Site, dict[str, float]], seconds: float, exact: bool) -> Compared:
    """One floor by both."""
    site, closing = floor
    began = time.perf_counter()
    with patch.multiple(  # one person at each step, as in the model below
        hands, FEW_BUCKETS=0, MANY_HANDS=NEVER_S, FEW_AREAS=0, HELP=()
    ):
        plan = make_plan(bench(site, closing), Ways(exact=exact))
    took = time.perf_counter() - began
    count = len(plan.batches)
    if plan.finish is None or not plan.feasible:
        return _refused(seed, site, closing, seconds, took)
    ours = round((plan.finish - BEGINS).total_seconds())
    found = violations(plan, Job(site, _clock(closing), lambda *_: None))
    best, bound, proven, theirs_took = optimum(site, closing, count, seconds)
    wrong = tuple(one.text for one in found)
    return Compared(seed, len(site.crew), len(site.areas), count, ours, best, bound, proven, took, theirs_took, wrong)


def _refused(seed: int, site: Site, closing: dict[str, float], seconds: float, took: float) -> Compared:
    """A floor that was refused, with what CP-SAT finds for any number of batches: the fewest first."""
    best, theirs_took, count = None, 0.0, 0
    while best is None and count < len(site.areas) and theirs_took < seconds:
        count += 1
        best, _, _, more_took = optimum(site, closing, count, seconds - theirs_took)
        theirs_took += more_took
    wrong = () if best is None else (f"refused, and it fits in {count} batches",)
    return Compared(seed, len(site.crew), len(site.areas), 0, None, best, None, False, took, theirs_took, wrong)


def _clock(closing: dict[str, float]) -> Any:
    return lambda _product, window, *_rest: closing[window] * 60.0 if window in closing else None


def work_s(kind: str, person: Person, areas: list[Area]) -> int:
    """What a step takes this person on these areas, from their own rates."""
    fixed = {"measure": MEASURE_S, "mix": MIX_S, "pour": POUR_S}
    if kind in fixed:
        return fixed[kind]
    if kind == "cut-in":
        return math.ceil(sum(area.edge_m or 0.0 for area in areas) / (person.cut_in_m_h or 1.0) * 3600)
    rate = {"squeegee": person.squeegee_m2_h, "roll": person.roll_m2_h, "broadcast": person.broadcast_m2_h}[kind]
    return math.ceil(sum(area.size_m2 for area in areas) / (rate or 1.0) * 3600)


def optimum(
    site: Site, closing: dict[str, float], count: int, seconds: float, any_will_do: bool = False
) -> tuple[int | None, int | None, bool, float]:
    """CP-SAT's best finish for that many batches (or the first that it finds, if any will do), its bound, whether that
    is proven, and the time it took."""
    from ortools.sat.python import cp_model

    model: Any = cp_model.CpModel()
    floor = _Floor(model, site, closing, count)
    floor.build()
    solver: Any = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 2
    solver.parameters.stop_after_first_solution = any_will_do
    status = solver.Solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None, None, False, solver.WallTime()
    bound = math.ceil(solver.BestObjectiveBound() - 1e-6)
    return round(solver.ObjectiveValue()), bound, status == cp_model.OPTIMAL, solver.WallTime()


class _Floor:
    """The floor as a constraint model: batches as runs of bays, optional intervals for whoever does a step."""

    def __init__(self, model: Any, site: Site, closing: dict[str, float], count: int) -> None:
        self.model, self.site, self.count = model, site, count
        self.closing = {name: math.floor(span * 60.0) for name, span in closing.items()}
        self.areas = list(site.areas)
        self.kinds = [kind for kind in KINDS if kind != "broadcast" or site.coats[0].flake_kg_m2]
        self.horizon = 60 * 3600
        self.starts: dict[tuple[int, str], Any] = {}
        self.ends: dict[tuple[int, str], Any] = {}
        self.busy: list[list[Any]] = [[] for _ in site.crew]

    def build(self) -> None:
        """All variables, constraints and the objective."""
        runs = self._runs()
        for batch in range(self.count):
            for kind in self.kinds:
                self._step(batch, kind, runs[batch])
            self._inside(batch)
            if batch:
                self._between(batch)
        finish = self._clean_up()
        for mine in self.busy:
            self.model.AddNoOverlap(mine)
        self.model.Minimize(finish)

    def _runs(self) -> list[dict[tuple[int, int], Any]]:
        """For each batch one literal for each run of bays that a pail holds; runs follow each other."""
        size = len(self.areas)
        film_l = (self.site.coats[0].wet_film_um or 0.0) / 1000.0 / (1.0 - WASTE)
        options = [
            (first, end)
            for first in range(size)
            for end in range(first + 1, size + 1)
            if end - first == 1 or sum(area.size_m2 for area in self.areas[first:end]) * film_l <= PAIL_L + 1e-9
        ]
        rows = [{run: self.model.NewBoolVar("") for run in options} for _ in range(self.count)]
        ends = [self.model.NewIntVar(1, size, "") for _ in rows]
        for batch, row in enumerate(rows):
            self.model.AddExactlyOne(row.values())
            begin = ends[batch - 1] if batch else 0
            self.model.Add(sum(first * literal for (first, _), literal in row.items()) == begin)
            self.model.Add(sum(end * literal for (_, end), literal in row.items()) == ends[batch])
        self.model.Add(ends[-1] == size)
        return rows

    def _step(self, batch: int, kind: str, row: dict[tuple[int, int], Any]) -> None:
        start = self.model.NewIntVar(0, self.horizon, "")
        end = self.model.NewIntVar(0, self.horizon, "")
        who = []
        for person, mine in zip(self.site.crew, self.busy, strict=True):
            spans = {run: work_s(kind, person, self.areas[run[0] : run[1]]) for run in row}
            span = self.model.NewIntVar(min(spans.values()), max(spans.values()), "")
            self.model.Add(span == sum(spans[run] * literal for run, literal in row.items()))
            does = self.model.NewBoolVar("")
            mine.append(self.model.NewOptionalIntervalVar(start, span, end, does, ""))
            who.append(does)
        self.model.AddExactlyOne(who)
        self.starts[batch, kind], self.ends[batch, kind] = start, end

    def _inside(self, batch: int) -> None:
        start = {kind: self.starts[batch, kind] for kind in self.kinds}
        end = {kind: self.ends[batch, kind] for kind in self.kinds}
        add = self.model.Add
        add(start["mix"] >= end["measure"])
        add(start["mix"] <= end["measure"] + MEASURED_AHEAD_S)
        add(start["pour"] >= end["mix"])
        add(start["pour"] <= end["mix"] + AT_ONCE_S)
        add(end["pour"] <= start["mix"] + self.closing["pour-out"])
        add(start["cut-in"] >= end["pour"])
        add(start["squeegee"] >= end["pour"])
        add(start["squeegee"] <= end["pour"] + AT_ONCE_S)
        for ahead, lag in (("squeegee", FOLLOW_S), ("cut-in", 0)):
            add(start["roll"] >= start[ahead] + lag)
            add(end["roll"] >= end[ahead] + lag)
        add(end["roll"] <= end["pour"] + self.closing["back-roll"])
        if "broadcast" in self.kinds:
            add(start["broadcast"] >= start["roll"] + FLAKE_LAG_S)
            add(end["broadcast"] >= end["roll"] + FOLLOW_S)
            add(end["broadcast"] <= end["pour"] + self.closing["broadcast"])

    def _between(self, batch: int) -> None:
        add, before = self.model.Add, batch - 1
        add(self.starts[batch, "pour"] >= self.ends[before, "pour"])
        add(self.starts[batch, "squeegee"] >= self.ends[before, "squeegee"])
        add(self.starts[batch, "squeegee"] <= self.ends[before, "pour"] + self.closing["wet-edge"])
        if "broadcast" in self.kinds:
            add(self.starts[batch, "broadcast"] <= self.ends[before, "pour"] + self.closing["broadcast"])
        pails = len(self.site.vessels)
        if batch >= pails:
            add(self.starts[batch, "mix"] >= self.ends[batch - pails, "pour"])

    def _clean_up(self) -> Any:
        start = self.model.NewIntVar(0, self.horizon, "")
        who = []
        for mine in self.busy:
            does = self.model.NewBoolVar("")
            mine.append(self.model.NewOptionalIntervalVar(start, CLEAN_S, start + CLEAN_S, does, ""))
            who.append(does)
        self.model.AddExactlyOne(who)
        for batch in range(self.count):
            self.model.Add(start >= self.ends[batch, "roll"])
        finish = self.model.NewIntVar(0, self.horizon, "")
        self.model.AddMaxEquality(finish, [*self.ends.values(), start + CLEAN_S])
        return finish


def hall(bays: int, people: int, even: bool) -> tuple[Site, dict[str, float]]:
    """A hall of so many bays for so many people who can do anything; their product leaves just time enough."""
    dice = random.Random(f"hall {bays} {people} {even}")
    sizes = [7.0 if even else round(dice.uniform(4.0, 11.0), 1) for _ in range(bays)]
    edges = [2.0 if even else round(dice.uniform(1.0, 4.0), 1) for _ in range(bays)]
    rates = [(110.0, 75.0, 60.0, 35.0)] * people
    if not even:
        rates = [
            (dice.uniform(90, 130), dice.uniform(60, 90), dice.uniform(50, 70), dice.uniform(30, 45)) for _ in rates
        ]
    crew = tuple(Person(f"person {number}", (), *rate) for number, rate in enumerate(rates, start=1))
    coat = Coat("base", PRODUCT, 300.0, flake_kg_m2=0.4, kit_l=9.0, split=True)
    pails = (Vessel("pail", 12.0, 0.28), Vessel("second pail", 12.0, 0.28))
    site = Site("Long hall", "UTC", row_of(sizes, edges), (coat,), crew, pails, Hours(DAYS, clock(0, 1), clock(23, 59)))
    slow = {1: 2.2, 2: 1.2}.get(people, 1.0)
    return site, minutes(pour_out=20.0, back_roll=50.0 * slow, wet_edge=58.0 * slow, broadcast=72.0 * slow)


def halls(seconds: float) -> int:
    """Halls of 5 to 40 bays, one to four people, even and uneven, by both; 1 where a plan is wrong or 2 % over."""
    print(HEAD.replace("floor", "hall "))
    far = 0
    for bays in (5, 10, 20, 40):
        for people in (1, 2, 3, 4):
            for even in (True, False):
                row = compared(bays, hall(bays, people, even), seconds, exact=True)
                over = row.ours_s / row.theirs_s - 1.0 if row.ours_s and row.theirs_s else 0.0
                refused = row.ours_s is None and row.theirs_s is not None
                far += bool(row.wrong) or over > 0.02 or refused
                print(f"{line(row)}  {'even' if even else 'uneven'} {over:+.1%} of what CP-SAT found", flush=True)
    return 1 if far else 0


HEAD = "floor people areas batches   ours s  cp-sat s   bound s  proven    gap   ours took  cp-sat took  checker"


def line(row: Compared) -> str:
    """One row of the table."""
    gap = f"{row.gap:6.2%}" if row.gap is not None else "     -"
    shown = [f"{value:9d}" if value is not None else "        -" for value in (row.ours_s, row.theirs_s, row.bound_s)]
    return (
        f"{row.seed:5d} {row.people:6d} {row.areas:5d} {row.batches:7d} {' '.join(shown)} {row.proven!s:>7} {gap} "
        f"{row.ours_took_s:10.1f}s {row.theirs_took_s:11.1f}s  {'ok' if not row.wrong else '; '.join(row.wrong)}"
    )


def main() -> int:
    """Print the table; 1 where a plan is wrong or more than 1 % over a proven optimum."""
    if "halls" in sys.argv:
        return halls(float(sys.argv[2]) if len(sys.argv) > 2 else 60.0)
    floors = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 60.0
    exact = "own" not in sys.argv
    rows = []
    print(HEAD)
    for seed in range(floors):
        rows.append(compare(seed, seconds, exact))
        print(line(rows[-1]), flush=True)
    gaps = [row.gap for row in rows if row.gap is not None]
    far = [row for row in rows if row.gap is not None and row.gap > 0.01]
    worst = f", worst {max(gaps):.2%}" if gaps else ""
    print(f"{len(gaps)} of {len(rows)} proven{worst}; {len(far)} more than 1 % over")
    return 1 if far or any(row.wrong for row in rows) else 0


if __name__ == "__main__":
    raise SystemExit(main())
