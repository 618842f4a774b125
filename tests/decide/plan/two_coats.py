"""Floors of one coat or two beside a model of OR-tools' CP-SAT, at any start in the days: `python -m
tests.decide.plan.two_coats [FLOORS] [SECONDS] [FIRST]`; `... halls [SECONDS]` for halls of 5 to 40 bays, one coat and
two, one to four people, even and uneven: 64 rows, an hour and a quarter with 60 seconds for CP-SAT in each.

CP-SAT gets both coats in one model and shares nothing with the planner but the formats: where each batch ends, who does
what, on which day and when are all free. Every step lies in the working hours of some day, and each bay is poured on
while the recoat of what lies there is open. Source: OR-tools, https://developers.google.com/optimization.
"""

from __future__ import annotations

import math
import random
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import time as clock
from itertools import combinations, product
from typing import Any

from mixclock.decide.plan.days.planner import make_plan
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from tests.decide.plan.against_ortools import _Floor, hall
from tests.decide.plan.checker import Job, violations
from tests.decide.plan.floors import BEGINS, DAYS, PRODUCT, bench, minutes, row_of

TOP = "Clear top coat"
DAY_S = 86_400
OPENS_S, SHUTS_S = round(1.5 * 3600), round(11.5 * 3600)
"""The working hours of each day, 7:30 to 17:30, from when plans begin, at 6:00."""

WITHIN = 0.02
Windows = dict[str, float]


@dataclass(frozen=True)
class TwoCoatFloor:
    """A floor with the closing windows of its products in minutes, and its recoat in hours."""

    site: Site
    closing: Windows
    recoat_h: tuple[float, float] | None


@dataclass(frozen=True)
class Beside:
    """Both answers: finishes in seconds from the beginning, whether the other's is proven, what the checker found."""

    seed: int
    people: int
    bays: int
    coats: int
    batches: tuple[int, ...]
    ours_s: int | None
    theirs_s: int | None
    proven: bool
    ours_took_s: float
    theirs_took_s: float
    wrong: tuple[str, ...]

    @property
    def gap(self) -> float | None:
        """How far ours is over theirs, as a share of the hours worked until then: nights are nobody's work."""
        if self.ours_s is None or self.theirs_s is None:
            return None
        return worked_s(self.ours_s) / worked_s(self.theirs_s) - 1.0


def worked_s(finish_s: int) -> int:
    """The working time until an instant.

    >>> worked_s(OPENS_S + 3600), worked_s(DAY_S + OPENS_S + 60)
    (3600, 36060)
    """
    days, of_day = divmod(finish_s, DAY_S)
    return days * (SHUTS_S - OPENS_S) + min(max(of_day - OPENS_S, 0), SHUTS_S - OPENS_S)


def floor_of(seed: int) -> TwoCoatFloor:
    """One to four people, one coat or two, even and uneven by turns; some recoats leave a few hours of a day only."""
    dice = random.Random(f"two coats {seed}")
    people, coats, even = 1 + seed % 4, 1 + (seed // 4) % 2, (seed // 8) % 2 == 0
    bays = dice.randint(3, 6)
    sizes = [dice.choice((7.0, 9.0))] * bays if even else [round(dice.uniform(5.0, 11.0), 1) for _ in range(bays)]
    edges = [3.0] * bays if even else [round(dice.uniform(2.0, 5.0), 1) for _ in range(bays)]
    crew = tuple(
        Person(
            f"person {number}", (), *(dice.choice(row) for row in ((90.0, 110.0), (65.0, 80.0), (60.0,), (30.0, 40.0)))
        )
        for number in range(1, people + 1)
    )
    base = Coat("base", PRODUCT, 300.0, kit_l=9.0, split=True)
    top = Coat("top", TOP, 150.0, after="base", kit_l=9.0, split=True)
    pails = (Vessel("pail", 12.0, 0.28), Vessel("second pail", 12.0, 0.28))
    hours = Hours(DAYS, clock(7, 30), clock(17, 30))
    site = Site("Boat shed", "UTC", row_of(sizes, edges), (base, top)[:coats], crew, pails, hours)
    slow = 1.9 if people == 1 else 1.1
    closing = minutes(pour_out=20.0, back_roll=50.0 * slow, wet_edge=55.0 * slow, broadcast=70.0 * slow)
    opens_h = dice.choice((10.0, 12.0, 14.0))
    recoat = (opens_h, opens_h + dice.choice((4.0, 8.0, 30.0))) if coats == 2 else None
    return TwoCoatFloor(site, closing, recoat)


def beside(seed: int, seconds: float) -> Beside:
    """One floor by both."""
    return laid_beside(seed, floor_of(seed), seconds)


def laid_beside(seed: int, floor: TwoCoatFloor, seconds: float) -> Beside:
    """The same of any floor; what ours takes is told in seconds of the processor."""
    site, recoat = floor.site, floor.recoat_h
    shut = floor.closing | ({"recoat": recoat[1] * 60.0} if recoat else {})
    began = time.process_time()
    plan = make_plan(bench(site, shut, {"recoat": recoat[0] * 60.0} if recoat else None))
    took = time.process_time() - began
    names = [coat.name for coat in site.coats]
    counts = tuple(sum(batch.coat == name for batch in plan.batches) for name in names)
    wrong: tuple[str, ...] = ()
    ours = None
    if plan.feasible and plan.finish is not None:
        ours = round((plan.finish - BEGINS).total_seconds())
        wrong = tuple(one.text for one in violations(plan, job_of(site, shut, recoat)))
    best, proven, theirs_took = None, False, 0.0
    for tried in (counts,) if ours is not None else _all_counts(len(site.areas), len(names)):
        best, proven, more = soonest(floor, tried, seconds - theirs_took)
        theirs_took += more
        if best is not None or theirs_took >= seconds - 0.5:
            break
    if ours is None and best is not None:
        wrong = (f"refused, and it fits: {plan.obstacle.said if plan.obstacle else ''}",)
    return Beside(
        seed, len(site.crew), len(site.areas), len(names), counts, ours, best, proven, took, theirs_took, wrong
    )


def job_of(site: Site, shut: Windows, recoat: tuple[float, float] | None) -> Job:
    """What the checker holds a plan against."""
    opens = {"recoat": recoat[0] * 3600.0} if recoat else {}
    return Job(site, lambda _p, name, *_: shut[name] * 60.0 if name in shut else None, lambda _p, n, *_: opens.get(n))


def _all_counts(bays: int, coats: int) -> Iterator[tuple[int, ...]]:
    """How many batches of each coat: the fewest first."""
    for in_all in range(coats, coats * bays + 1):
        for first in range(1, bays + 1):
            rest = in_all - first
            if coats == 1 and rest == 0:
                yield (first,)
            elif coats == 2 and 1 <= rest <= bays:
                yield first, rest


def soonest(floor: TwoCoatFloor, counts: tuple[int, ...], seconds: float) -> tuple[int | None, bool, float]:
    """CP-SAT's best finish for so many batches of each coat, whether it is proven, and the time it took."""
    from ortools.sat.python import cp_model

    model: Any = cp_model.CpModel()
    busy: list[list[Any]] = [[] for _ in floor.site.crew]
    coats = [
        _Coat(model, replace(floor.site, coats=(coat,)), floor.closing, count, busy)
        for coat, count in zip(floor.site.coats, counts, strict=True)
    ]
    finishes = [coat.laid() for coat in coats]
    for mine in busy:
        model.AddNoOverlap(mine)
    if floor.recoat_h is not None:
        opens, closes = (round(hours * 3600) for hours in floor.recoat_h)
        for below, over in zip(coats[0].poured, coats[1].poured, strict=True):
            model.Add(over.begun >= below.over + opens)
            model.Add(over.over <= below.over + closes)
    model.Minimize(finishes[-1])
    solver: Any = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = max(seconds, 0.5)
    solver.parameters.num_workers = 2
    status = solver.Solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None, status == cp_model.INFEASIBLE, solver.WallTime()
    return round(solver.ObjectiveValue()), status == cp_model.OPTIMAL, solver.WallTime()


@dataclass(frozen=True)
class _Poured:
    """When the bucket of a bay is begun to be poured, and when it is out."""

    begun: Any
    over: Any


class _Coat(_Floor):
    """One of the coats: as a floor of its own, in the hours of some day, by people who do the other coat as well."""

    def __init__(self, model: Any, site: Site, closing: Windows, count: int, busy: list[list[Any]]) -> None:
        super().__init__(model, site, closing, count)
        self.busy, self.horizon = busy, len(DAYS) * DAY_S
        self.poured = [_Poured(self._instant(), self._instant()) for _ in self.areas]

    def laid(self) -> Any:
        """All of the coat's variables and constraints; the variable for when it is done."""
        runs = self._runs()
        for batch in range(self.count):
            for kind in self.kinds:
                self._step(batch, kind, runs[batch])
                self._by_day(self.starts[batch, kind], self.ends[batch, kind])
            self._inside(batch)
            if batch:
                self._between(batch)
            for (first, end), chosen in runs[batch].items():
                for bay in self.poured[first:end]:
                    self.model.Add(bay.begun == self.starts[batch, "pour"]).OnlyEnforceIf(chosen)
                    self.model.Add(bay.over == self.ends[batch, "pour"]).OnlyEnforceIf(chosen)
        finish = self._clean_up()
        self._by_day(finish - 1, finish)
        return finish

    def _step(self, batch: int, kind: str, row: dict[tuple[int, int], Any]) -> None:
        """A step by one of the crew; the rolling also by two side by side, at their joined rates."""
        if kind != "roll" or len(self.site.crew) < 2:
            super()._step(batch, kind, row)
            return
        start, end = self._instant(), self._instant()
        hands = [(one,) for one in range(len(self.site.crew))] + list(combinations(range(len(self.site.crew)), 2))
        chosen = []
        for mine in hands:
            rate = sum(self.site.crew[one].roll_m2_h or 0.0 for one in mine)
            spans = {
                run: math.ceil(sum(area.size_m2 for area in self.areas[run[0] : run[1]]) / rate * 3600) for run in row
            }
            span = self.model.NewIntVar(min(spans.values()), max(spans.values()), "")
            self.model.Add(span == sum(spans[run] * literal for run, literal in row.items()))
            chosen.append(self.model.NewBoolVar(""))
            for one in mine:
                self.busy[one].append(self.model.NewOptionalIntervalVar(start, span, end, chosen[-1], ""))
        self.model.AddExactlyOne(chosen)
        self.starts[batch, kind], self.ends[batch, kind] = start, end

    def _instant(self) -> Any:
        return self.model.NewIntVar(0, len(DAYS) * DAY_S, "")

    def _by_day(self, start: Any, end: Any) -> None:
        """Inside the working hours of one day."""
        chosen = [self.model.NewBoolVar("") for _ in DAYS]
        self.model.AddExactlyOne(chosen)
        hours = self.site.hours
        assert hours is not None
        opens_s, shuts_s = (60 * (60 * at.hour + at.minute) - BEGINS.hour * 3600 for at in (hours.start, hours.end))
        for day, literal in enumerate(chosen):
            self.model.Add(start >= day * DAY_S + opens_s).OnlyEnforceIf(literal)
            self.model.Add(end <= day * DAY_S + shuts_s).OnlyEnforceIf(literal)


HEAD = "floor people bays coats  batches   ours s  cp-sat s  proven    gap   ours took  cp-sat took  checker"


def line(row: Beside, over: float | None) -> str:
    """One row of the table; `over` is how far ours lies over theirs."""
    gap = f"{over:6.2%}" if over is not None else "     -"
    shown = [f"{value:8d}" if value is not None else "       -" for value in (row.ours_s, row.theirs_s)]
    batches = "+".join(str(count) for count in row.batches)
    return (
        f"{row.seed:5d} {row.people:6d} {row.bays:4d} {row.coats:5d} {batches:>8} {'  '.join(shown)} {row.proven!s:>7} "
        f"{gap} {row.ours_took_s:10.1f}s {row.theirs_took_s:11.1f}s  {'; '.join(row.wrong) or 'ok'}"
    )


RECOAT_H = (12.0, 42.0)


def hall_of(bays: int, coats: int, people: int, even: bool) -> TwoCoatFloor:
    """A hall that is worked on round the clock, so that the finish tells the work alone; nothing is thrown into it."""
    site, closing = hall(bays, people, even)
    base = replace(site.coats[0], flake_kg_m2=None)
    top = Coat("top", TOP, 150.0, after="base", kit_l=9.0, split=True)
    return TwoCoatFloor(replace(site, coats=(base, top)[:coats]), closing, RECOAT_H if coats == 2 else None)


def halls(seconds: float) -> int:
    """The table of the halls; 1 where a plan is wrong, a hall that fits is refused, or one is over 2 % later."""
    print(HEAD.replace("floor", "hall ").replace("ours took", "processor"))
    far = number = 0
    for bays, coats, people, even in product((5, 10, 20, 40), (1, 2), (1, 2, 3, 4), (True, False)):
        row = laid_beside(number, hall_of(bays, coats, people, even), seconds)
        number += 1
        over = row.ours_s / row.theirs_s - 1.0 if row.ours_s and row.theirs_s else None
        far += bool(row.wrong) or (over or 0.0) > WITHIN
        alone = f", {_of_the_work(row, coats):+.1%} of the work alone" if over is not None and coats == 2 else ""
        print(f"{line(row, over)}  {'even' if even else 'uneven'}{alone}", flush=True)
    print(f"{number} halls; {far} refused, wrong or over {WITHIN:.0%}")
    return 1 if far else 0


def _of_the_work(row: Beside, coats: int) -> float:
    """How far ours is over theirs where the hours in which the base hardens are left out: nobody works in them."""
    stands_s = RECOAT_H[0] * 3600.0 * (coats - 1)
    return ((row.ours_s or 0) - stands_s) / ((row.theirs_s or 0) - stands_s) - 1.0


def main() -> int:
    """Print the table; 1 where a plan is wrong, a floor that fits is refused, or one is over 2 % later."""
    if "halls" in sys.argv:
        return halls(float(sys.argv[2]) if len(sys.argv) > 2 else 60.0)
    floors, seconds, first = (
        float(sys.argv[place]) if len(sys.argv) > place else usual for place, usual in ((1, 40), (2, 20), (3, 0))
    )
    rows = []
    print(HEAD)
    for seed in range(math.floor(first), math.floor(first + floors)):
        rows.append(beside(seed, seconds))
        print(line(rows[-1], rows[-1].gap), flush=True)
    gaps = [row.gap for row in rows if row.gap is not None]
    far = [row for row in rows if (row.gap or 0.0) > 0.02 or row.wrong]
    worst = f"worst {max(gaps, default=0.0):.2%}"
    print(f"{len(rows)} floors, {len(gaps)} fit by both, {worst}; {len(far)} refused, wrong or over 2 %")
    return 1 if far else 0


if __name__ == "__main__":
    raise SystemExit(main())
