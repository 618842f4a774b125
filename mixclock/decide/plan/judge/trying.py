"""Tries for what would free a floor: each bounded by its work, none made twice, and a coat that is in the way
by itself asked alone before the whole floor.

A coat that does not fit alone, on a floor that is open from the start, fits on no other: so most changes are refused
without planning the other coats again. And of a floor of two coats it is known what stands in the way of each.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager

from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.coattask import STOPPED, TOO_LATE
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.conditions import working_stretches
from mixclock.decide.plan.floor.films import coats_in_order
from mixclock.decide.plan.floor.meter import WORK_A_SECOND, Meter
from mixclock.decide.plan.floor.plans import Obstacle, Plan
from mixclock.decide.plan.judge.changes import SHUTS_TOO_SOON, Option, alone
from mixclock.decide.plan.judge.promise import promise_of
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job import practice
from mixclock.job.site import Coat
from mixclock.values import dataclass, replace

QUICK = Effort(150, 100)
A_TRY = round(1.5 * WORK_A_SECOND)
"""How much work a try may take before it is given up."""

FEW_PEOPLE = 2
"""In a quick look, a solver finds plans of so many people that walks miss, and misses those of more (judgement)."""


@dataclass(frozen=True)
class Purse:
    """How much work the tries that share it may do: it is empty when the meter stands at `upto`. The bound counts steps
    and not seconds: every machine finds the same."""

    meter: Meter
    upto: int

    @classmethod
    def of(cls, meter: Meter, work: int) -> Purse:
        """A purse for so much work from now on."""
        return cls(meter, meter.work + work)

    @property
    def left(self) -> int:
        """For how much work it still is; none where a last step took more than was left."""
        return max(0, self.upto - self.meter.work)

    def at_most(self, work: int) -> Purse:
        """A part of it, for so much work from now on."""
        return replace(self, upto=min(self.upto, self.meter.work + work))


@dataclass
class BoundedWays:
    """Ways that end when a purse is empty; `gave_up` tells whether a search was ended so."""

    ways: Ways
    purse: Purse
    gave_up: bool = False

    def stop(self) -> bool:
        """Whether to end the search."""
        self.gave_up = self.gave_up or not self.purse.left
        return self.gave_up or self.ways.stop()

    def thorough(self) -> Ways:
        """These ways, ended when the purse is empty."""
        return replace(self.ways, stop=self.stop)

    def quick(self, people: int) -> Ways:
        """These ways, with the effort of a quick look. A solver is asked where the plan that the crew gets asks it, and
        only about few people."""
        asks = self.ways.may_ask and people <= FEW_PEOPLE
        return replace(self.ways, effort=QUICK, asks_quickly=asks, stop=self.stop)


def quick_plan(bench: Bench, ways: Ways, standpoint: Standpoint | None, purse: Purse) -> tuple[Plan, bool]:
    """A plan as a quick look finds it, or what is in its way; and whether it was stopped as the purse was empty."""
    bounded = BoundedWays(ways, purse)
    quick = bounded.quick(len(practice.crew(bench.site).value))
    return make_plan(bench, replace(quick, rough=True), standpoint), bounded.gave_up


class Trials:
    """What was tried for a floor, and how much more may be tried."""

    def __init__(self, bench: Bench, ways: Ways, standpoint: Standpoint | None, purse: Purse) -> None:
        """`purse` is what all tries together may cost."""
        self.bench, self.ways, self.standpoint = bench, ways, standpoint
        self.whole = self.purse = purse
        self.gave_up = False
        self.blocked: dict[str, str] = {}
        self.obstacle: str | None = None
        self.made: list[tuple[Bench, Plan]] = []
        self.promises: list[tuple[Bench, float]] = []

    @contextmanager
    def share(self, work: int) -> Iterator[None]:
        """A purse for the tries inside; what they leave goes to those that follow."""
        self.purse = self.whole.at_most(work)
        yield
        self.purse = self.whole

    def plan(self, bench: Bench, most: int) -> Plan:
        """A quick plan, or what is in its way. One that was stopped is no answer, and is made again when it is asked
        for again."""
        known = self.answer(bench)
        if known is not None:
            return known
        plan, gave_up = quick_plan(bench, self.ways, self.standpoint, self.purse.at_most(most))
        if plan.feasible or not gave_up:
            self.keep(bench, plan)
            return plan
        self.gave_up = True
        return replace(plan, obstacle=Obstacle(STOPPED, ""))

    def ask_coats(self, obstacle: Obstacle, most: int) -> None:
        """Learn which coats are in the way by themselves, and by what. What lies below the one that stopped the plan
        was laid in it; and that one itself, where it comes too late, is stopped by what lies below."""
        ordered = coats_in_order(self.bench.site)
        names = [coat.name for coat in ordered]
        at = names.index(obstacle.coat) + (obstacle.constraint in TOO_LATE) if obstacle.coat in names else len(names)
        if len(ordered) > 1:
            found = ((coat.name, self.plan(alone(self.bench, coat), most).obstacle) for coat in ordered[at:])
            known = {name: wrong.constraint for name, wrong in found if wrong is not None}
            self.blocked = {name: constraint for name, constraint in known.items() if constraint != STOPPED}

    def in_the_way(self, bench: Bench, most: int, first: str | None) -> Obstacle | None:
        """What is still in the way: of a coat that was in the way by itself, or of the floor. The coat that is promised
        least is asked first."""
        known = self.known(bench, first)
        if known is not None:
            return known
        for coat in self._tightest_first(bench, first):
            found = self.plan(alone(bench, coat), most).obstacle
            if found is not None:
                return found
        return self.plan(bench, most).obstacle

    def first_answer(self, bench: Bench, most: int, first: str | None) -> Plan:
        """The plan of one coat alone, of those in the way by themselves the one that promises least; where there is
        none, of the whole floor."""
        coat = next(iter(self._tightest_first(bench, first)), None)
        return self.plan(bench if coat is None else alone(bench, coat), most)

    def promise(self, bench: Bench) -> float:
        """How much a change promises, for the coat that it promises least: the more with more hands, as a quick look
        finds their plans sooner (judgement). The same for all where no window shuts too soon."""
        if self.obstacle not in SHUTS_TOO_SOON:
            return 1.0
        hands = len(practice.crew(bench.site).value)
        return min(self._promise(bench, coat) for coat in bench.site.coats) * math.sqrt(hands)

    def least_promised(self, bench: Bench) -> str | None:
        """The coat that a change promises least, where windows shut too soon."""
        if self.obstacle not in SHUTS_TOO_SOON:
            return None
        return min(bench.site.coats, key=lambda coat: self._promise(bench, coat)).name

    def fits(self, bench: Bench) -> bool:
        """Whether a plan that fits was found for the whole floor."""
        plan = self.answer(bench)
        return plan is not None and plan.feasible

    def done_with(self, less: Option, more: Option) -> bool:
        """Whether the plan that was found with one change may be done with a smaller one, as it is. Then that plan is
        also kept for the smaller."""
        plan = self.answer(more.bench)
        if plan is None or not plan.feasible or not leaves_unused(less.bench, more.bench, plan):
            return False
        self.keep(less.bench, plan)
        return True

    def answer(self, bench: Bench) -> Plan | None:
        """What is known of a floor."""
        return next((plan for tried, plan in self.made if tried == bench), None)

    def keep(self, bench: Bench, plan: Plan) -> None:
        """Know this of a floor. A plan that fits takes the place of a refusal."""
        self.made = [each for each in self.made if each[0] != bench]
        self.made.append((bench, plan))

    def _tightest_first(self, bench: Bench, first: str | None) -> list[Coat]:
        """The coats that were in the way by themselves, those that promise least first; the named one where alike."""
        blocked = [coat for coat in bench.site.coats if coat.name in self.blocked]
        if self.obstacle not in SHUTS_TOO_SOON or len(blocked) < 2:
            return sorted(blocked, key=lambda coat: coat.name != first)
        return sorted(blocked, key=lambda coat: (self._promise(bench, coat), coat.name != first))

    def _promise(self, bench: Bench, coat: Coat) -> float:
        asked = alone(bench, coat)
        known = next((promise for tried, promise in self.promises if tried == asked), None)
        if known is None:
            known = promise_of(asked, asked.site.coats[0], self.ways.meter)
            self.promises.append((asked, known))
        return known

    def known(self, bench: Bench, first: str | None) -> Obstacle | None:
        """The same, as far as it was asked already."""
        at = replace(bench.site, coats=tuple(sorted(bench.site.coats, key=lambda each: each.name != first)))
        asked = [alone(bench, coat) for coat in at.coats if coat.name in self.blocked]
        answers = (self.answer(each) for each in (*asked, bench))
        return next((plan.obstacle for plan in answers if plan is not None and plan.obstacle is not None), None)


def leaves_unused(less: Bench, more: Bench, plan: Plan) -> bool:
    """Whether a plan made with more days, hours or people may be done with less of them: every step falls into the
    fewer hours, and is done by the fewer people. False where the two differ in anything else."""
    there = replace(less, begins=more.begins, site=replace(less.site, hours=more.site.hours, crew=more.site.crew))
    if there != more:
        return False
    stretches = working_stretches(less.site, less.begins)
    crew = {person.name for person in practice.crew(less.site).value}
    return all(
        step.who in crew and any(each.start <= step.starts and step.ends <= each.end for each in stretches)
        for step in plan.steps
    )


def only_up_to(bench: Bench, coat: str | None) -> Bench | None:
    """The same job without the coats after one; None where there are none."""
    ordered = coats_in_order(bench.site)
    names = [each.name for each in ordered]
    if coat not in names or coat == names[-1]:
        return None
    kept = tuple(ordered[: names.index(coat) + 1])
    return replace(bench, site=replace(bench.site, coats=kept))
