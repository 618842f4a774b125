"""Nothing fits: which constraint is in the way, and the smallest change in each direction that frees it.

Nothing is guessed: every change that is offered was planned again and fits, and the constraint is the one without which
the plan fits. The search is bounded by its work, and who asked may stop it; what was found by then
is told.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import islice

from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.coattask import STOPPED
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.films import coats_in_order
from mixclock.decide.plan.floor.meter import WORK_A_SECOND
from mixclock.decide.plan.floor.plans import FreeingChange, Obstacle, Plan
from mixclock.decide.plan.floor.quantities import SMALL_BUCKET
from mixclock.decide.plan.judge.changes import BY_COAT, Direction, Option, directions
from mixclock.decide.plan.judge.nearest import nearest_plan, untied
from mixclock.decide.plan.judge.trying import BoundedWays, Purse, Trials
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job import practice
from mixclock.job.site import in_file_order
from mixclock.job.steps import BACK_ROLL, POUR_OUT, RECOAT, WET_EDGE
from mixclock.values import replace

RELAXABLE = frozenset({WET_EDGE, BACK_ROLL, "broadcast", POUR_OUT, RECOAT, "hours", "conditions", SMALL_BUCKET})
MOST_PAIRS = 3
MOST_CHANGES = 3
A_TRY = round(1.5 * WORK_A_SECOND)
"""How much work a try may take before it is given up."""

ALL_TOGETHER, LEAST_TOGETHER = 9 * WORK_A_SECOND, 2 * WORK_A_SECOND
"""How much work an answer may take, with the plan that came before, and how much of it is at least for what frees the
floor: the answer is there within ten seconds on an idle core."""

KEPT_FOR_NEAREST, NEAREST_AT_ONCE = WORK_A_SECOND, round(0.5 * WORK_A_SECOND)
"""How much of it is kept for the nearest plan, and how much a try for that may take."""

KEPT_FOR_PAIRS, LEAST_SHARE = WORK_A_SECOND, round(1.1 * WORK_A_SECOND)
"""How much is kept for two changes at once, and the least that a change or two together get."""

TO_CONFIRM = TO_ASK_COATS = round(0.6 * WORK_A_SECOND)
"""How much may be spent on whether the floor can be done without what is in the way, and on what is in the way of each
coat."""

PAIRS_AT_ONCE = 3
"""What is left is shared among so many pairs of changes (judgement)."""

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
        self.purse = Purse.of(ways.meter, max(LEAST_TOGETHER, ALL_TOGETHER - ways.meter.work))
        self.trials = Trials(bench, ways, standpoint, self.purse.at_most(self.purse.left - KEPT_FOR_NEAREST))
        self.without: Plan | None = None

    def explain(self, plan: Plan, obstacle: Obstacle) -> Plan:
        with self.trials.share(TO_CONFIRM):
            confirmed = self._confirmed(obstacle)
        warnings = plan.warnings
        if confirmed is None and not self.trials.gave_up and not self.ways.stop():
            warnings = (
                *warnings,
                NOT_ALONE.format(constraint=CONSTRAINTS.get(obstacle.constraint, obstacle.constraint)),
            )
        changes = self._freeing(obstacle)
        if self.trials.gave_up and not self.ways.stop():
            warnings = (*warnings, NOT_TO_THE_END)
        nearest = nearest_plan(self.bench, obstacle, self.ways, self.standpoint, self._shortly)
        if nearest is None and self.without is not None and obstacle.constraint == WET_EDGE and obstacle.coat:
            nearest = untied(self.bench, self.without, obstacle.coat)
        near = plan if nearest is None else nearest
        return replace(
            near,
            obstacle=obstacle,
            changes=changes,
            warnings=tuple(dict.fromkeys((*warnings, *near.warnings))),
            assumed=tuple(dict.fromkeys((*plan.assumed, *near.assumed))),
            stopped_early=self.ways.stop(),
        )

    def _shortly(self) -> Ways:
        people = len(practice.crew(self.bench.site).value)
        return replace(BoundedWays(self.ways, self.purse.at_most(NEAREST_AT_ONCE)).quick(people), rough=True)

    def _confirmed(self, obstacle: Obstacle) -> Obstacle | None:
        """The obstacle, if its coat fits without that constraint or if nobody can ask that. Else None."""
        name = obstacle.constraint
        if name not in RELAXABLE:
            return obstacle
        self.ways.progress(f"what is in the way: {name}?", 0.6)
        relaxed = replace(self.bench, ignore=self.bench.ignore | {name})
        upto = _only_up_to(relaxed, obstacle.coat)
        found = self.trials.plan(upto or relaxed, A_TRY)
        self.without = found if found.feasible and upto is None else None
        return obstacle if found.feasible else None

    def _freeing(self, obstacle: Obstacle) -> tuple[FreeingChange, ...]:
        """One change in each of three directions; where no single one is enough, two at once."""
        tried = list(directions(self.bench, obstacle))
        with self.trials.share(TO_ASK_COATS):
            self.trials.ask_coats(obstacle, A_TRY)
        single = tuple(islice(self._changes(tried, obstacle), MOST_CHANGES))
        return single or tuple(islice(self._together(tried, obstacle), MOST_PAIRS))

    def _changes(self, tried: Sequence[Direction], obstacle: Obstacle) -> Iterator[FreeingChange]:
        """One change a direction, the smallest that fits. The largest of each is asked first, with a fair share of
        the work; those that are refused then take no more of it."""
        alive = []
        for place, direction in enumerate(tried):
            with self._fair_share(len(tried) - place, KEPT_FOR_PAIRS):
                if self._may_free(direction, obstacle.coat):
                    alive.append(direction)
        for place, direction in enumerate(alive):
            with self._fair_share(len(alive) - place):
                found = self._smallest(direction, obstacle.coat)
            if found is not None:
                yield found

    def _may_free(self, direction: Direction, coat: str | None) -> bool:
        """False if nothing of a direction frees the coat that is in the way."""
        options = direction.options[-1:] if direction.nested else direction.options
        return any(not self._is_refused(option, coat) for option in options)

    def _is_refused(self, option: Option, coat: str | None) -> bool:
        self.ways.progress(f"what would free it: {option.said}?", 0.7)
        if self.trials.known(option.bench, coat) is not None:
            return True
        found = self.trials.first_answer(option.bench, A_TRY, coat)
        return found.obstacle is not None and found.obstacle.constraint != STOPPED

    @contextmanager
    def _fair_share(self, among: int, kept: int = 0) -> Iterator[None]:
        with self.trials.share(max(LEAST_SHARE, (self.trials.whole.left - kept) // among)):
            yield

    def _smallest(self, direction: Direction, coat: str | None) -> FreeingChange | None:
        """The first change that fits, from the smallest on. Where the largest holds all others in itself, it is asked
        first: if it fails, none fits, and it is told where there is no time to look at the smaller ones."""
        if direction.nested:
            least = self._least(direction.options, coat)
            return self._change(direction.name, least) if least is not None else None
        fitting = (option for option in direction.options if self._fits(option, coat))
        changes = (self._change(direction.name, option) for option in fitting)
        return next((change for change in changes if change is not None), None)

    def _least(self, options: Sequence[Option], coat: str | None) -> Option | None:
        """The smallest that fits of options that each hold the smaller ones, the way halved each time."""
        if not self._fits(options[-1], coat):
            return None
        return options[_first_fitting(len(options), lambda place: self._fits(options[place], coat))]

    def _change(self, direction: str, option: Option) -> FreeingChange | None:
        """The change with the plan that whoever makes it will get; the first that was found where there is no time for
        that, and none where that plan does not fit."""
        plan, share = self.trials.plan(option.bench, A_TRY), self.trials.whole.left // (MOST_CHANGES + 1)
        if share >= LEAST_SHARE:
            bounded = BoundedWays(self.ways, self.trials.whole.at_most(share))
            fine = make_plan(option.bench, replace(self.ways, stop=bounded.stop), self.standpoint)
            if not fine.feasible and not bounded.gave_up:
                return None
            plan = fine if fine.feasible else plan
        return FreeingChange(direction, option.said, plan.finish, len(plan.batches))

    def _together(self, tried: Sequence[Direction], obstacle: Obstacle) -> Iterator[FreeingChange]:
        """Two changes at once: where the largest of two directions fit together, the smallest of each that do."""
        pairs = self._pairs(tried, obstacle)
        for place, (one, other, left) in enumerate(pairs):
            if self.trials.whole.left <= 0 or self.ways.stop():
                self.trials.gave_up = True
                return
            with self._fair_share(min(PAIRS_AT_ONCE, len(pairs) - place)):
                found = self._pair(one, other, left)
            if found is not None:
                yield found

    def _pairs(self, tried: Sequence[Direction], obstacle: Obstacle) -> list[tuple[Direction, Direction, Obstacle]]:
        """Two directions that may free it together, each pair once, with what the first of them leaves in the way.
        Those come last that alone leave the very thing in the way that was there before."""
        left = {one.joinable[-1].said: self._left_by(one, obstacle) for one in tried if one.joinable}
        stuck = {said for said, rest in left.items() if rest is not None and self._is_as_before(rest, obstacle)}
        seen: list[set[str]] = []
        pairs: list[tuple[int, Direction, Direction, Obstacle]] = []
        for one in (one for one in tried if one.joinable):
            most = one.joinable[-1]
            rest = left[most.said] or obstacle
            others = (other for other in directions(most.bench, rest) if other.joinable)
            for other in (each for each in others if each.name != one.name or each.name in BY_COAT):
                said = {most.said, other.joinable[-1].said}
                if said not in seen:
                    seen.append(said)
                    pairs.append((len(said & stuck), one, other, rest))
        return [(one, other, rest) for _, one, other, rest in sorted(pairs, key=lambda pair: pair[0])]

    def _left_by(self, direction: Direction, obstacle: Obstacle) -> Obstacle | None:
        """What the largest change of a direction leaves in the way, where that is known."""
        return self.trials.known(direction.joinable[-1].bench, obstacle.coat)

    def _is_as_before(self, left: Obstacle, obstacle: Obstacle) -> bool:
        """Whether a change leaves in the way of a coat what was there without it."""
        return left.constraint == self.trials.blocked.get(left.coat or "", obstacle.constraint)

    def _pair(self, one: Direction, other: Direction, left: Obstacle) -> FreeingChange | None:
        """The smallest of the one direction that fits with any of the other; then the smallest of the other with it."""

        def beside(option: Option) -> tuple[Option, ...]:
            found = (each for each in directions(option.bench, left) if each.name == other.name)
            joined = next((each.joinable for each in found), ())
            return tuple(Option(f"{option.said}, and {each.said}", each.bench) for each in joined)

        def fits(place: int) -> bool:
            most = beside(one.joinable[place])
            return bool(most) and self._fits(most[-1], left.coat)

        if not fits(len(one.joinable) - 1):
            return None
        least = self._least(beside(one.joinable[_first_fitting(len(one.joinable), fits)]), left.coat)
        return self._change(f"{one.name} and {other.name}", least) if least is not None else None

    def _fits(self, option: Option, coat: str | None) -> bool:
        """Whether there is a plan with a change; the coat in question is asked first where it is in the way by
        itself, because most tries end there."""
        if self.ways.stop():
            return False
        self.ways.progress(f"what would free it: {option.said}?", 0.8)
        return self.trials.in_the_way(option.bench, A_TRY, coat) is None


def _first_fitting(count: int, fits: Callable[[int], bool]) -> int:
    """The first of so many that fits, the way halved each time: each holds those before it, and the last one fits."""
    low, high = -1, count - 1
    while high - low > 1:
        middle = (low + high) // 2
        if fits(middle):
            high = middle
        else:
            low = middle
    return high


def _only_up_to(bench: Bench, coat: str | None) -> Bench | None:
    """The same job without the coats after one; None where there are none."""
    ordered = coats_in_order(bench.site)
    names = [each.name for each in ordered]
    if coat not in names or coat == names[-1]:
        return None
    kept = tuple(ordered[: names.index(coat) + 1])
    return replace(bench, site=replace(bench.site, coats=kept))
