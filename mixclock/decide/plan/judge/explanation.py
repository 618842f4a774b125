"""Nothing fits: which constraint is in the way, and the smallest change in each direction that frees it.

Nothing is guessed: every change that is offered was planned again and fits, and the constraint is the one without which
the plan fits. The search is bounded by its work, and who asked may stop it; what was found by then
is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import islice

from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.coattask import STOPPED
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.days.sanding import SAND_FIRST, SANDING, all_sanded
from mixclock.decide.plan.floor.meter import WORK_A_SECOND
from mixclock.decide.plan.floor.plans import FreeingChange, Obstacle, Plan
from mixclock.decide.plan.floor.quantities import SMALL_BUCKET
from mixclock.decide.plan.judge.changes import BY_COAT, Direction, Option, directions
from mixclock.decide.plan.judge.foreman import foreman_plan
from mixclock.decide.plan.judge.nearest import nearest_plan, untied
from mixclock.decide.plan.judge.trying import A_TRY, BoundedWays, Purse, Trials, leaves_unused, only_up_to
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job import practice
from mixclock.job.site import in_file_order
from mixclock.job.steps import BACK_ROLL, POUR_OUT, RECOAT, WET_EDGE
from mixclock.values import dataclass, replace

RELAXABLE = frozenset({WET_EDGE, BACK_ROLL, "broadcast", POUR_OUT, RECOAT, "hours", "conditions", SMALL_BUCKET})
MOST_PAIRS = 3
MOST_CHANGES = 3
ALL_TOGETHER, LEAST_TOGETHER = (round(share * WORK_A_SECOND) for share in (8.5, 2.0))
"""How much work an answer may take, with the plan that came before, and how much of it is at least for what frees the
floor: the answer is there within ten seconds on an idle core. Where no more is left than that, it goes to the changes
alone, and nothing is spent on what is in the way."""

KEPT_FOR_NEAREST, LEAST_FOR_NEAREST, NEAREST_AT_ONCE = (round(share * WORK_A_SECOND) for share in (1.5, 0.5, 0.75))
KEPT_OF_LITTLE = 6
"""How much of it is kept for the nearest plan, of a small purse no more than one part in so many, but always so much
that one is found; and how much a try for that may take. A change that frees the floor is worth more to a crew."""

KEPT_FOR_PAIRS, LEAST_FOR_PAIRS, LEAST_SHARE = WORK_A_SECOND, WORK_A_SECOND, round(1.1 * WORK_A_SECOND)
"""How much is kept for two changes at once, where there is enough and at the least; and the least that a change or two
together get, but no more than half of what is left."""

LEAST_TRY = round(0.3 * WORK_A_SECOND)
"""A try for a smaller change may take half of what is left for it, and at least this."""

TO_CONFIRM, TO_ASK_COATS = round(0.3 * WORK_A_SECOND), round(0.6 * WORK_A_SECOND)
"""How much may be spent on whether the floor can be done without what is in the way, and on what is in the way of each
coat: what refuses a coat by itself spares many tries."""

FAR_MORE = 1.5
"""Two changes that promise so many times as much as any single one are asked before it (judgement)."""

PAIRS_AT_ONCE = 2
"""What is left is shared among so many pairs of changes: a pair whose smallest is known tells a crew more than two that
are larger than need be (judgement)."""

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

    One change in each direction is looked for; where no single one is enough or two promise far more, two together; and
    three where no two are.
    `bench.profiles` may hold more products than the job uses: those of the same family are tried in its place, as long
    as `bench.timing` and `bench.exact` know their clocks.
    """
    if plan.obstacle is None:
        return plan
    whole = replace(bench, site=replace(bench.site, coats=in_file_order(bench.site.coats)))
    return _Explanation(whole, ways or Ways(), standpoint).explain(plan, plan.obstacle)


@dataclass(frozen=True)
class _Pair:
    """Two directions that may free a floor together, what the first leaves in the way, and how much both promise."""

    one: Direction
    other: Direction
    left: Obstacle
    promise: float


class _Explanation:
    def __init__(self, bench: Bench, ways: Ways, standpoint: Standpoint | None) -> None:
        self.bench, self.ways, self.standpoint = bench, ways, standpoint
        self.purse = Purse.of(ways.meter, max(LEAST_TOGETHER, ALL_TOGETHER - ways.meter.work))
        kept = min(KEPT_FOR_NEAREST, self.purse.left // KEPT_OF_LITTLE)
        self.trials = Trials(bench, ways, standpoint, self.purse.at_most(self.purse.left - kept))
        self.without: Plan | None = None

    def explain(self, plan: Plan, obstacle: Obstacle) -> Plan:
        self.trials.obstacle = obstacle.constraint
        confirmed: Obstacle | None = obstacle
        if self.purse.left > LEAST_TOGETHER:
            with self.trials.share(TO_CONFIRM):
                confirmed = self._confirmed(obstacle)
        warnings = plan.warnings
        if confirmed is None and not self.trials.gave_up and not self.ways.stop():
            warnings = (
                *warnings,
                NOT_ALONE.format(constraint=CONSTRAINTS.get(obstacle.constraint, obstacle.constraint)),
            )
        changes = (*self._by_sanding(obstacle), *self._freeing(obstacle))[:MOST_CHANGES]
        if self.trials.gave_up and not self.ways.stop():
            warnings = (*warnings, NOT_TO_THE_END)
        self.purse = Purse.of(self.ways.meter, max(LEAST_FOR_NEAREST, self.purse.left))
        nearest = nearest_plan(self.bench, obstacle, self.ways, self.standpoint, self._shortly, self.trials.answer)
        if nearest is None and self.without is not None and obstacle.constraint == WET_EDGE and obstacle.coat:
            nearest = untied(self.bench, self.without, obstacle.coat, self.standpoint)
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
        upto = only_up_to(relaxed, obstacle.coat)
        found = self.trials.plan(upto or relaxed, A_TRY)
        self.without = found if found.feasible and upto is None else None
        return obstacle if found.feasible else None

    def _by_sanding(self, obstacle: Obstacle) -> Iterator[FreeingChange]:
        """The film that lies sanded, where its recoat has shut; told as a foreman plans it: the crew gets that."""
        at, bounded = self.standpoint, BoundedWays(self.ways, self.trials.whole)
        films = at.films if at is not None and obstacle.constraint == RECOAT else ()
        below = " and ".join(dict.fromkeys(film.coat for film in films if film.coat != obstacle.coat))
        if at is None or not below:
            return
        found = foreman_plan(self.bench, bounded.thorough(), replace(at, films=all_sanded(films)))
        self.trials.gave_up = self.trials.gave_up or (bounded.gave_up and not found.feasible)
        if found.feasible:
            yield FreeingChange(SANDING, SAND_FIRST.format(below=below), found.finish, len(found.batches))

    def _freeing(self, obstacle: Obstacle) -> tuple[FreeingChange, ...]:
        """One change in each of three directions; two or three at once where no single one is enough."""
        tried = list(directions(self.bench, obstacle))
        if is_enough := self.purse.left > LEAST_TOGETHER:
            with self.trials.share(TO_ASK_COATS):
                self.trials.ask_coats(obstacle, A_TRY)
        alive = self._alive(tried, obstacle) if is_enough else tried
        pairs: list[_Pair] = []
        if not any(self.trials.fits(direction.options[-1].bench) for direction in alive):
            pairs = self._pairs(tried, obstacle)
            hoped = max((self.trials.promise(each.options[-1].bench) for each in alive), default=0.0)
            if pairs and pairs[0].promise >= FAR_MORE * hoped:
                found = self._some_together(pairs)
                if found:
                    return found
        if not is_enough:
            alive = self._alive(tried, obstacle)
        single = tuple(islice(self._changes(alive, obstacle), MOST_CHANGES))
        return single or self._some_together(pairs or self._pairs(tried, obstacle))

    def _some_together(self, pairs: Sequence[_Pair]) -> tuple[FreeingChange, ...]:
        """Two changes at once. With a third beside the two that promise most, where they are not enough and the three
        promise far more than any other two, or where no two are enough."""
        found = list(self._together(pairs[:1]))
        thirds = self._with_a_third(pairs[0]) if pairs and not found else []
        at_once = thirds and thirds[0].promise >= FAR_MORE * max((pair.promise for pair in pairs[1:]), default=0.0)
        if at_once:
            found += self._together(thirds[:1])
        if at_once and found:
            return tuple(found)
        found += islice(self._together(pairs[1:]), MOST_PAIRS - len(found))
        return tuple(found) or tuple(islice(self._together(thirds), 1))

    def _alive(self, tried: Sequence[Direction], obstacle: Obstacle) -> list[Direction]:
        """The directions that may free the floor. The largest change of each is asked, those that promise most before
        the others, with twice a fair share of the work; those that are refused take no more of it."""
        alive: list[int] = []
        for place, at in enumerate(self._by_promise(tried)):
            if self.trials.whole.left < max(LEAST_FOR_PAIRS, len(alive) * LEAST_SHARE):
                self.trials.gave_up = True
                break
            left = len(tried) - place
            with self._fair_share(max(min(2, left), left // 2), KEPT_FOR_PAIRS):
                if self._may_free(tried[at], obstacle.coat):
                    alive.append(at)
        return [tried[at] for at in sorted(alive)]

    def _changes(self, alive: Sequence[Direction], obstacle: Obstacle) -> Iterator[FreeingChange]:
        """One change a direction, the smallest that fits."""
        told: set[str] = set()
        for place, direction in enumerate(alive):
            if direction.name not in told:
                with self._fair_share(len(alive) - place):
                    found = self._smallest(direction, obstacle.coat)
                if found is not None:
                    told.add(direction.name)
                    yield found

    def _by_promise(self, tried: Sequence[Direction]) -> list[int]:
        """The places of the directions, those that promise most first."""
        most = [max(self.trials.promise(option.bench) for option in one.options) for one in tried]
        return sorted(range(len(tried)), key=lambda at: -most[at])

    def _may_free(self, direction: Direction, coat: str | None) -> bool:
        """False if nothing of a direction frees the coat that is in the way."""
        largest = direction.nested or direction.last_holds_all
        options = direction.options[-1:] if largest else direction.options
        by_promise = sorted(options, key=lambda option: -self.trials.promise(option.bench))
        return any(not self._is_refused(option, coat) for option in by_promise)

    def _is_refused(self, option: Option, coat: str | None) -> bool:
        self.ways.progress(f"what would free it: {option.said}?", 0.7)
        if self.trials.known(option.bench, coat) is not None:
            return True
        found = self.trials.first_answer(option.bench, A_TRY, coat)
        return found.obstacle is not None and found.obstacle.constraint != STOPPED

    @contextmanager
    def _fair_share(self, among: int, kept: int = 0) -> Iterator[None]:
        left = self.trials.whole.left
        least = min(LEAST_SHARE, left // 2) if kept else LEAST_SHARE
        with self.trials.share(max(least, (left - kept) // among)):
            yield

    def _smallest(self, direction: Direction, coat: str | None) -> FreeingChange | None:
        """The first change that fits, from the smallest on. Where the largest holds all others in itself, it is asked
        first: if it fails, none fits, and it is told where there is no time to look at the smaller ones."""
        if direction.nested:
            return self._least_change(direction.name, direction.options, coat)
        fitting = (option for option in direction.options if self._fits(option, coat))
        changes = (self._change(direction.name, option) for option in fitting)
        return next((change for change in changes if change is not None), None)

    def _least_change(self, direction: str, options: Sequence[Option], coat: str | None) -> FreeingChange | None:
        """The smallest change that fits of options that each hold the smaller ones; a larger one that fits where
        whoever made the smallest would get no plan after all."""
        least = self._least(options, coat)
        if least is None:
            return None
        for at in range(least, len(options)):
            plan = self._made(options[at]) if self.trials.fits(options[at].bench) else None
            if plan is not None:
                return self._told_least(direction, options[: at + 1], plan)
        return None

    def _told_least(self, direction: str, options: Sequence[Option], plan: Plan) -> FreeingChange:
        """The last of these changes, which this plan is made with; a smaller one where the plan may be done with that,
        and whoever makes it gets a plan, too."""
        option = options[-1]
        less = next((each for each in options if leaves_unused(each.bench, option.bench, plan)), option)
        if less is not option:
            self.trials.keep(less.bench, plan)
            other = self._made(less)
            option, plan = (option, plan) if other is None else (less, other)
        return FreeingChange(direction, option.said, plan.finish, len(plan.batches))

    def _least(self, options: Sequence[Option], coat: str | None) -> int | None:
        """The place of the smallest that fits of options that each hold the smaller ones, the way halved each time.

        A plan that leaves a day, an hour or a person of the largest unused fits with less, and no search is needed.
        """
        if not self._fits(options[-1], coat):
            return None
        low, high = -1, self._unused(options, len(options) - 1)
        while high - low > 1:
            middle = (low + high + 1) // 2
            if self._fits(options[middle], coat, max(LEAST_TRY, self.trials.purse.left // 2)):
                high = self._unused(options, middle)
            else:
                low = middle
        return high

    def _unused(self, options: Sequence[Option], fits: int) -> int:
        """The place of the smallest option in which the plan of another, larger one may be done as it is."""
        return next(at for at in range(fits + 1) if at == fits or self.trials.done_with(options[at], options[fits]))

    def _change(self, direction: str, option: Option) -> FreeingChange | None:
        plan = self._made(option)
        return None if plan is None else FreeingChange(direction, option.said, plan.finish, len(plan.batches))

    def _made(self, option: Option) -> Plan | None:
        """The plan that whoever makes a change will get; the first that was found where there is no time for that, and
        none where that plan does not fit."""
        plan, share = self.trials.plan(option.bench, A_TRY), self.trials.whole.left // (MOST_CHANGES + 1)
        if share >= LEAST_SHARE:
            bounded = BoundedWays(self.ways, self.trials.whole.at_most(share))
            fine = make_plan(option.bench, bounded.thorough(), self.standpoint)
            if not fine.feasible and not bounded.gave_up:
                return None
            plan = fine if fine.feasible else plan
        return plan

    def _together(self, pairs: Sequence[_Pair]) -> Iterator[FreeingChange]:
        """Two changes at once: where the largest of two directions fit together, the smallest of each that do."""
        for place, pair in enumerate(pairs):
            if self.trials.whole.left <= 0 or self.ways.stop():
                self.trials.gave_up = True
                return
            with self._fair_share(min(PAIRS_AT_ONCE, len(pairs) - place)):
                found = self._pair(pair.one, pair.other, pair.left)
            if found is not None:
                yield found

    def _pairs(self, tried: Sequence[Direction], obstacle: Obstacle) -> list[_Pair]:
        """Two directions that may free it together, each pair once, with what the first of them leaves in the way.
        Those that promise most come first, and those last that alone leave the very thing in the way that was there
        before."""
        left = {one.joinable[-1].said: self._left_by(one, obstacle) for one in tried if one.joinable}
        stuck = {said for said, rest in left.items() if rest is not None and self._is_as_before(rest, obstacle)}
        seen: list[set[str]] = []
        ranked: list[tuple[int, float, _Pair]] = []
        for one in (one for one in tried if one.joinable):
            most = one.joinable[-1]
            rest = left[most.said] or self._likely_left(most, obstacle)
            others = (other for other in directions(most.bench, rest) if other.joinable)
            for other in (each for each in others if each.name != one.name or each.name in BY_COAT):
                both = other.joinable[-1]
                said = {most.said, both.said}
                if said not in seen and len(said) > 1:
                    seen.append(said)
                    pair = _Pair(one, other, rest, self.trials.promise(both.bench))
                    ranked.append((len(said & stuck), -pair.promise, pair))
        return [pair for _, _, pair in sorted(ranked, key=lambda each: each[:2])]

    def _with_a_third(self, pair: _Pair) -> list[_Pair]:
        """The largest of two changes, taken as one, with a third beside them; what promises most first."""
        beside = [found for option in pair.one.joinable if (found := self._beside(option, pair.other, pair.left))]
        joined = tuple(each[-1] for each in beside)
        rest = self.trials.known(joined[-1].bench, pair.left.coat) or pair.left
        two = Direction(f"{pair.one.name} and {pair.other.name}", joined, nested=True, joinable=joined)
        names = {pair.one.name, pair.other.name}
        thirds = (each for each in directions(joined[-1].bench, rest) if each.joinable and each.name not in names)
        three = [_Pair(two, third, rest, self.trials.promise(third.joinable[-1].bench)) for third in thirds]
        return sorted(three, key=lambda each: -each.promise)

    def _likely_left(self, option: Option, obstacle: Obstacle) -> Obstacle:
        """What a change leaves in the way where that is not known: where windows shut too soon, those of the coat that
        is promised least."""
        coat = self.trials.least_promised(option.bench)
        return obstacle if coat is None or coat == obstacle.coat else replace(obstacle, coat=coat, area=None)

    def _left_by(self, direction: Direction, obstacle: Obstacle) -> Obstacle | None:
        """What the largest change of a direction leaves in the way, where that is known."""
        return self.trials.known(direction.joinable[-1].bench, obstacle.coat)

    def _is_as_before(self, left: Obstacle, obstacle: Obstacle) -> bool:
        """Whether a change leaves in the way of a coat what was there without it."""
        return left.constraint == self.trials.blocked.get(left.coat or "", obstacle.constraint)

    def _pair(self, one: Direction, other: Direction, left: Obstacle) -> FreeingChange | None:
        """The smallest of the one direction that fits with any of the other; then the smallest of the other with it."""

        with_most = [joined[-1] for option in one.joinable if (joined := self._beside(option, other, left))]
        if len(with_most) < len(one.joinable):
            return None
        least = self._least(with_most, left.coat)
        if least is None:
            return None
        both = self._beside(one.joinable[least], other, left)
        return self._least_change(f"{one.name} and {other.name}", both, left.coat)

    def _beside(self, option: Option, other: Direction, left: Obstacle) -> tuple[Option, ...]:
        """A change with each of another direction beside it."""
        found = (each for each in directions(option.bench, left) if each.name == other.name and each.joinable)
        joined = next((each.joinable for each in found), ())
        return tuple(Option(f"{option.said}, and {each.said}", each.bench) for each in joined)

    def _fits(self, option: Option, coat: str | None, most: int = A_TRY) -> bool:
        """Whether there is a plan with a change; the coat in question is asked first where it is in the way by
        itself, because most tries end there."""
        if self.ways.stop():
            return False
        self.ways.progress(f"what would free it: {option.said}?", 0.8)
        return self.trials.in_the_way(option.bench, min(most, A_TRY), coat) is None
