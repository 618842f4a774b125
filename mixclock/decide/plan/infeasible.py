"""Nothing fits: which constraint is in the way, and the smallest change in each direction that frees it.

Nothing is guessed: every change that is offered was planned again and fits, and the constraint is the one without which
the plan fits. The search is bounded: each try may look only so often, and who asked may stop it; what was found by then
is told.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from mixclock.decide.plan.changing import Option, directions
from mixclock.decide.plan.planning import OBSTACLES, Bench, Standpoint, coats_in_order, make_plan
from mixclock.decide.plan.schedule import Ways
from mixclock.decide.plan.search import Effort
from mixclock.decide.plan.shapes import Change, Obstacle, Plan

QUICK = Effort(300, 200, 1)
RELAXABLE = ("wet-edge", "back-roll", "broadcast", "pour-out", "recoat", "hours", "conditions")
LOOKS_A_TRY = 1500
"""How often one try may ask whether to stop before it is given up; a floor of 30 batches asks about 1000 times."""

NOT_ALONE = "more than one thing is in the way: without {constraint} alone it does not fit either"


@dataclass
class _Bounded:
    """Ways with a bound on how often a try looks."""

    ways: Ways
    looks: int = LOOKS_A_TRY

    def stop(self) -> bool:
        self.looks -= 1
        return self.looks < 0 or self.ways.stop()

    def as_ways(self) -> Ways:
        return replace(self.ways, effort=QUICK, stop=self.stop)


def explain(bench: Bench, plan: Plan, ways: Ways | None = None, standpoint: Standpoint | None = None) -> Plan:
    """The plan with the constraint in the way confirmed and the changes that free it; a feasible plan as it is.

    `bench.profiles` may hold more products than the job uses: those of the same family are tried in its place, as long
    as `bench.timing` and `bench.exact` know their clocks.
    """
    if plan.obstacle is None:
        return plan
    return _Explaining(bench, ways or Ways(), standpoint).explain(plan, plan.obstacle)


class _Explaining:
    def __init__(self, bench: Bench, ways: Ways, standpoint: Standpoint | None) -> None:
        self.bench, self.ways, self.standpoint = bench, ways, standpoint

    def explain(self, plan: Plan, obstacle: Obstacle) -> Plan:
        confirmed = self._confirmed(obstacle)
        warnings = plan.warnings
        if confirmed is None and not self.ways.stop():
            warnings = (*warnings, NOT_ALONE.format(constraint=obstacle.constraint))
        found = confirmed or obstacle
        changes = tuple(self._changes(found))
        return replace(plan, obstacle=found, changes=changes, warnings=warnings, stopped_early=self.ways.stop())

    def _confirmed(self, obstacle: Obstacle) -> Obstacle | None:
        """The constraint without which it fits, the one that was met first before the others."""
        for name in sorted(RELAXABLE, key=lambda name: name != obstacle.constraint):
            if self.ways.stop():
                return None
            self.ways.progress(f"what is in the way: {name}?", 0.6)
            relaxed = replace(self.bench, ignore=self.bench.ignore | {name})
            if self._fits(relaxed, obstacle.coat) is not None:
                return obstacle if name == obstacle.constraint else _renamed(obstacle, name)
        return None

    def _changes(self, obstacle: Obstacle) -> Iterator[Change]:
        """One change a direction: the options of each go from the smallest on, and the first that fits is taken."""
        for direction, options in directions(self.bench, obstacle):
            found = self._first_that_fits(direction, options, obstacle)
            if found is not None:
                yield found

    def _first_that_fits(self, direction: str, options: list[Option], obstacle: Obstacle) -> Change | None:
        for option in options:
            if self.ways.stop():
                return None
            self.ways.progress(f"what would free it: {option.said}?", 0.8)
            tried = self._fits(option.bench, obstacle.coat)
            if tried is not None:
                return Change(direction, option.said, tried.finish, len(tried.batches))
        return None

    def _fits(self, bench: Bench, coat: str | None) -> Plan | None:
        """The whole plan with a change; first only up to the coat in question, because most tries end there."""
        upto = _only_up_to(bench, coat)
        if upto is not None and not make_plan(upto, _Bounded(self.ways).as_ways(), self.standpoint).feasible:
            return None
        tried = make_plan(bench, _Bounded(self.ways).as_ways(), self.standpoint)
        return tried if tried.feasible else None


def _only_up_to(bench: Bench, coat: str | None) -> Bench | None:
    """The same job without the coats after one; None where there are none."""
    ordered = coats_in_order(bench.site)
    names = [each.name for each in ordered]
    if coat not in names or coat == names[-1]:
        return None
    kept = tuple(ordered[: names.index(coat) + 1])
    return replace(bench, site=replace(bench.site, coats=kept))


def _renamed(obstacle: Obstacle, constraint: str) -> Obstacle:
    where = f"{obstacle.coat}" + (f" on {obstacle.area}" if obstacle.area else "")
    said = OBSTACLES.get(constraint, "{where}: {constraint} is in the way").format(where=where, constraint=constraint)
    return replace(obstacle, constraint=constraint, said=said)
