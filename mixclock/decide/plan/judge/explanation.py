"""Nothing fits: which constraint is in the way, and the smallest change in each direction that frees it.

Nothing is guessed: every change that is offered was planned again and fits, and the constraint is the one without which
the plan fits. The search is bounded: each try may look only so often, and who asked may stop it; what was found by then
is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from itertools import islice

from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.films import coats_in_order
from mixclock.decide.plan.floor.plans import FreeingChange, Obstacle, Plan
from mixclock.decide.plan.floor.quantities import SMALL_BUCKET
from mixclock.decide.plan.judge.changes import Direction, Option, directions
from mixclock.decide.plan.judge.nearest import nearest_plan, untied
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import in_file_order
from mixclock.job.steps import BACK_ROLL, POUR_OUT, RECOAT, WET_EDGE
from mixclock.values import dataclass, replace

QUICK = Effort(150, 100)
RELAXABLE = frozenset({WET_EDGE, BACK_ROLL, "broadcast", POUR_OUT, RECOAT, "hours", "conditions", SMALL_BUCKET})
MOST_PAIRS = 3
MOST_CHANGES = 3
LOOKS_A_TRY = 400
LOOKS_AT_ALL = 900
"""How often a try for one coat, and for all of them, may ask whether to stop before it is given up; a floor of 30
batches asks about 500 times a coat."""

LOOKS_TOGETHER, LOOKS_FOR_NEAREST = 750, 200
"""How often all tries for changes, and those for the nearest plan, may ask: eight seconds on a floor of 40 bays."""

KEPT_FOR_PAIRS, LEAST_SHARE = 150, 60
"""How many of them are kept for two changes at once, and the least that a pair of directions gets."""

AREAS_A_LOOK = 6
"""A try counts as one more look for every so many areas, even if it asks nothing."""

STOPPED = "stopped"
NOT_ALONE = "more than one thing is in the way: with {constraint} left out of account it does not fit either"
CONSTRAINTS: Mapping[str, str] = {
    BACK_ROLL: "the time for back-rolling",
    "broadcast": "the time for flake",
    WET_EDGE: "the wet edge",
    POUR_OUT: "the time of the bucket",
    RECOAT: "the recoat window",
    "hours": "the working hours",
    "conditions": "what the sheet allows of the weather",
    SMALL_BUCKET: "the least size of a bucket",
}
"""What is in the way, as a crew calls it."""

NOT_TO_THE_END = "not every change was searched to the end: others may free it too"


@dataclass
class _Purse:
    """How often the tries in one direction may look. The bound counts steps and not seconds: every machine finds the
    same."""

    looks: int


@dataclass
class _BoundedWays:
    """Ways that bound how often one try looks, and how often all that share a purse do."""

    ways: Ways
    looks: int
    purse: _Purse

    @property
    def gave_up(self) -> bool:
        return self.looks < 0 or self.purse.looks < 0

    def stop(self) -> bool:
        self.looks -= 1
        self.purse.looks -= 1
        return self.gave_up or self.ways.stop()

    def as_ways(self) -> Ways:
        return replace(self.ways, effort=QUICK, stop=self.stop)


def explain(bench: Bench, plan: Plan, ways: Ways | None = None, standpoint: Standpoint | None = None) -> Plan:
    """The plan with the constraint in the way confirmed and the changes that free it; a feasible plan as it is.

    One change in each direction is looked for; where no single one is enough, two of hours, days, people and joints.
    `bench.profiles` may hold more products than the job uses: those of the same family are tried in its place, as long
    as `bench.timing` and `bench.exact` know their clocks.
    """
    if plan.obstacle is None:
        return plan
    whole = replace(bench, site=replace(bench.site, coats=in_file_order(bench.site.coats)))
    return _Explanation(whole, ways or Ways(), standpoint).explain(plan, plan.obstacle)


class _Explanation:
    def __init__(self, bench: Bench, ways: Ways, standpoint: Standpoint | None) -> None:
        self.bench, self.ways, self.standpoint = bench, ways, standpoint
        self.gave_up = False
        self.left = LOOKS_TOGETHER
        self.purse = _Purse(LOOKS_TOGETHER - KEPT_FOR_PAIRS)
        self.tried: dict[str, Plan] = {}
        self.without: Plan | None = None

    def explain(self, plan: Plan, obstacle: Obstacle) -> Plan:
        with self._share(LOOKS_A_TRY):
            confirmed = self._confirmed(obstacle)
        warnings = plan.warnings
        if confirmed is None and not self.gave_up and not self.ways.stop():
            warnings = (
                *warnings,
                NOT_ALONE.format(constraint=CONSTRAINTS.get(obstacle.constraint, obstacle.constraint)),
            )
        found = confirmed or obstacle
        changes = tuple(islice(self._changes(found), MOST_CHANGES)) or tuple(islice(self._together(found), MOST_PAIRS))
        if self.gave_up and not self.ways.stop():
            warnings = (*warnings, NOT_TO_THE_END)
        nearest = nearest_plan(self.bench, found, self.ways, self.standpoint, self._shortly)
        if nearest is None and self.without is not None and found.constraint == WET_EDGE and found.coat:
            nearest = untied(self.bench, self.without, found.coat)
        near = plan if nearest is None else nearest
        return replace(
            near,
            obstacle=found,
            changes=changes,
            warnings=tuple(dict.fromkeys((*warnings, *near.warnings))),
            assumed=tuple(dict.fromkeys((*plan.assumed, *near.assumed))),
            stopped_early=self.ways.stop(),
        )

    @contextmanager
    def _share(self, looks: int) -> Iterator[None]:
        """A purse for the tries inside; what they leave goes to those that follow."""
        self.purse = _Purse(looks)
        yield
        self.left -= looks - self.purse.looks

    def _shortly(self) -> Ways:
        return replace(_BoundedWays(self.ways, LOOKS_FOR_NEAREST, _Purse(LOOKS_FOR_NEAREST)).as_ways(), rough=True)

    def _confirmed(self, obstacle: Obstacle) -> Obstacle | None:
        """The obstacle, if its coat fits without that constraint or if nobody can ask that. Else None."""
        name = obstacle.constraint
        if name not in RELAXABLE:
            return obstacle
        self.ways.progress(f"what is in the way: {name}?", 0.6)
        relaxed = replace(self.bench, ignore=self.bench.ignore | {name})
        upto = _only_up_to(relaxed, obstacle.coat)
        found = self._made(upto or relaxed, LOOKS_AT_ALL, rough=True)
        self.without = found if found.feasible and upto is None else None
        return obstacle if found.feasible else None

    def _changes(self, obstacle: Obstacle) -> Iterator[FreeingChange]:
        """One change a direction, the smallest that fits. Each direction has a fair share of the looks."""
        tried = list(directions(self.bench, obstacle))
        for place, direction in enumerate(tried):
            with self._share((self.left - KEPT_FOR_PAIRS) // (len(tried) - place)):
                found = self._smallest(direction, obstacle)
            if found is not None:
                yield found

    def _smallest(self, direction: Direction, obstacle: Obstacle, before: str = "") -> FreeingChange | None:
        """The first change that fits, from the smallest on. If the largest holds all others in itself and fails, none
        fits."""
        options = list(direction.options)
        if direction.nested and len(options) > 2 and not self._fits(options[0], obstacle, before):
            if not self._fits(options[-1], obstacle, before):
                return None
            options = options[1:]
        fitting = (option for option in options if self._fits(option, obstacle, before))
        changes = (self._change(direction.name, option, before) for option in fitting)
        return next((change for change in changes if change is not None), None)

    def _change(self, direction: str, option: Option, before: str) -> FreeingChange | None:
        """The change with the plan that whoever makes it will get; the first that was found where there is no time for
        that, and none where that plan does not fit."""
        bounded = _BoundedWays(self.ways, LOOKS_AT_ALL, self.purse)
        fine = make_plan(option.bench, replace(self.ways, stop=bounded.stop), self.standpoint)
        if not fine.feasible and not bounded.stop():
            return None
        plan = fine if fine.feasible else self.tried[before + option.said]
        return FreeingChange(direction, before + option.said, plan.finish, len(plan.batches))

    def _together(self, obstacle: Obstacle) -> Iterator[FreeingChange]:
        """Two changes at once: where the largest of two directions fit together, the smallest of each that do."""
        pairs = list(self._pairs(obstacle))
        for place, (one, other, left) in enumerate(pairs):
            if self.left <= 0 or self.ways.stop():
                self.gave_up = True
                return
            with self._share(max(LEAST_SHARE, self.left // (len(pairs) - place))):
                found = self._pair(one, other, left)
            if found is not None:
                yield found

    def _pairs(self, obstacle: Obstacle) -> Iterator[tuple[Direction, Direction, Obstacle]]:
        """Two directions that may free it together, each pair once, with what the first of them leaves in the way."""
        seen: list[set[str]] = []
        for one in directions(self.bench, obstacle):
            most = one.options[-1]
            left = self.tried[most.said].obstacle if most.said in self.tried else None
            if not one.nested or left is None:
                continue
            left = obstacle if left.constraint == STOPPED else left
            for other in directions(most.bench, left):
                names = {one.name, other.name}
                if other.nested and len(names) == 2 and names not in seen:
                    seen.append(names)
                    yield one, other, left

    def _pair(self, one: Direction, other: Direction, left: Obstacle) -> FreeingChange | None:
        if not self._fits(other.options[-1], left, f"{one.options[-1].said}, and "):
            return None
        return self._smallest_pair(one, other.name, left)

    def _smallest_pair(self, one: Direction, other: str, left: Obstacle) -> FreeingChange | None:
        """First the smallest of the one direction that fits with any of the other. Then the smallest of the other
        beside it."""
        for option in one.options:
            for direction in directions(option.bench, left):
                found = self._smallest(direction, left, f"{option.said}, and ") if direction.name == other else None
                if found is not None:
                    return replace(found, direction=f"{one.name} and {other}")
        return None

    def _up_to(self, bench: Bench, coat: str | None) -> Plan | None:
        """A plan with a change, up to the coat in question. None if that coat is the last one."""
        upto = _only_up_to(bench, coat)
        return self._made(upto, LOOKS_A_TRY, rough=True) if upto is not None else None

    def _fits(self, option: Option, obstacle: Obstacle, before: str) -> bool:
        """Whether there is a plan with a change; first only up to the coat in question, because most tries end there.

        The plan, or what is in its way, is kept in `tried`.
        """
        key = before + option.said
        if key not in self.tried:
            if self.ways.stop():
                return False
            self.ways.progress(f"what would free it: {key}?", 0.8)
            found = self._up_to(option.bench, obstacle.coat)
            if found is None or found.feasible:
                found = self._made(option.bench, LOOKS_AT_ALL, rough=True)
            self.tried[key] = found
        return self.tried[key].feasible

    def _made(self, bench: Bench, looks: int, rough: bool = False) -> Plan:
        bounded = _BoundedWays(self.ways, looks, self.purse)
        self.purse.looks -= len(bench.site.areas) // AREAS_A_LOOK
        plan = make_plan(bench, replace(bounded.as_ways(), rough=rough), self.standpoint)
        self.gave_up = self.gave_up or (bounded.gave_up and not plan.feasible)
        return plan


def _only_up_to(bench: Bench, coat: str | None) -> Bench | None:
    """The same job without the coats after one; None where there are none."""
    ordered = coats_in_order(bench.site)
    names = [each.name for each in ordered]
    if coat not in names or coat == names[-1]:
        return None
    kept = tuple(ordered[: names.index(coat) + 1])
    return replace(bench, site=replace(bench.site, coats=kept))
