"""Where nothing fits: the nearest plan there is, with what it breaks and by how much.

What is in the way is loosened by as little as lets the floor be done: hours by the half hour, windows by a share of
themselves, a recoat by the quarter of an hour; conditions are left out of account. Then every step is held against the
edges as they are. A bucket is never planned past its pour-out: that heats itself in somebody's hands.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, time
from functools import partial, reduce

from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.coattask import STOPPED
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.films import coats_in_order
from mixclock.decide.plan.floor.plans import Obstacle, Plan
from mixclock.decide.plan.floor.quantities import SMALL_BUCKET
from mixclock.decide.plan.floor.timing import Bucketful, Span, Timing
from mixclock.decide.plan.judge.breaks import breaks_of
from mixclock.decide.plan.judge.changes import MORE_DAYS
from mixclock.decide.plan.judge.trying import leaves_unused
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job import practice
from mixclock.job.steps import BACK_ROLL, DWELL, RECOAT, RINSE, WET_EDGE
from mixclock.values import dataclass, replace

STRETCHED = (1.1, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.5, 8.0, 10.0, 14.0, 20.0, 40.0)
"""By how much windows are stretched. In the heat a thin coat may leave one person a tenth of the time for a bay."""

LATER_H = (*(0.25 * count for count in range(1, 25)), *(float(hours) for hours in range(7, 25)))
RATHER_THAN_SAND_H = 2.0
"""A crew stays so much longer rather than sand a floor of which the recoat has shut (judgement)."""

LONGER_H = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0)
WINDOWS = frozenset({BACK_ROLL, "broadcast", WET_EDGE, DWELL, RINSE, "sequence"})
MOST_LOOSENED = 8


def nearest_plan(
    bench: Bench,
    obstacle: Obstacle,
    ways: Ways,
    standpoint: Standpoint | None = None,
    short: Callable[[], Ways] | None = None,
    known: Callable[[Bench], Plan | None] = lambda _: None,
) -> Plan | None:
    """The nearest plan with what it breaks; None where only a bucket past its time, or no vessel, would make one.

    `short` gives the ways of each try: one that comes to nothing is left for the next, which loosens more. What was
    found of a floor before is `known`.
    """
    found = _Nearing(bench, ways, standpoint, short or (lambda: ways), known).plan(obstacle)
    if found is None:
        return None
    return replace(found, breaks=breaks_of(bench, found, standpoint), warnings=())


Loosening = Callable[[Bench], Bench]
"""A job with something in it loosened."""

Ladder = tuple[Loosening, ...]
"""The same thing loosened more and more: each rung holds those before it."""


class _Nearing:
    """What is in the way is loosened as far as it goes, one thing after the other, until there is a plan: that is found
    soon, since loose windows ask for little search. Then each of them is tightened again as far as a plan is found."""

    def __init__(
        self,
        bench: Bench,
        ways: Ways,
        standpoint: Standpoint | None,
        short: Callable[[], Ways],
        known: Callable[[Bench], Plan | None],
    ) -> None:
        self.bench, self.ways, self.standpoint, self.short, self.known = bench, ways, standpoint, short, known
        self.ladders: list[Ladder] = []
        self.rungs: list[int] = []

    def plan(self, obstacle: Obstacle) -> Plan | None:
        found = self._loosest(obstacle)
        return None if found is None else self._tightened(found)

    def _loosest(self, obstacle: Obstacle) -> Plan | None:
        """A plan with all that stands in the way loosened as far as it goes."""
        for _ in range(MOST_LOOSENED):
            found = self._freed_of(obstacle)
            if found is None or found.obstacle is None:
                return found
            obstacle = found.obstacle
            if obstacle.constraint == STOPPED:  # looser windows ask for less search
                obstacle = replace(obstacle, constraint=WET_EDGE)
        return None

    def _freed_of(self, obstacle: Obstacle) -> Plan | None:
        """The plan, or what is then in its way, with one thing more loosened: the first that frees the coat of this
        obstacle. Where none does, the first of which that is not known, as its search was stopped; or all together."""
        unknown: tuple[Ladder, Plan] | None = None
        ladders = [each for each in _ladders(self.bench, obstacle) if each not in self.ladders]
        for ladder in ladders:
            if self.ways.stop():
                return None
            found = self._loosest_of([ladder])
            left = found.obstacle
            is_unknown = left is not None and left.constraint == STOPPED and not self._is_above(left.coat, obstacle)
            if is_unknown:
                unknown = unknown or (ladder, found)
            elif not _is_as_before(left, obstacle):
                return self._taken([ladder], found)
        if unknown is not None:
            return self._taken([unknown[0]], unknown[1])
        together = self._loosest_of(ladders) if len(ladders) > 1 else None
        return (
            None if together is None or _is_as_before(together.obstacle, obstacle) else self._taken(ladders, together)
        )

    def _loosest_of(self, ladders: Sequence[Ladder]) -> Plan:
        """The plan with these loosened as far as they go, beside what is loosened already."""
        return self._tried([*self.ladders, *ladders], [*self.rungs, *(len(each) - 1 for each in ladders)])

    def _is_above(self, coat: str | None, obstacle: Obstacle) -> bool:
        """Whether a coat comes after the one in the way, which is laid by then."""
        names = [each.name for each in coats_in_order(self.bench.site)]
        return coat in names and obstacle.coat in names and names.index(coat) > names.index(obstacle.coat)

    def _taken(self, ladders: Sequence[Ladder], found: Plan) -> Plan:
        self.ladders += ladders
        self.rungs += (len(each) - 1 for each in ladders)
        return found

    def _tightened(self, found: Plan) -> Plan:
        """The plan with each thing loosened as little as still gives one: a third of the way each time, as the tighter
        ask for the longer search; in turns, so that none is left loose where the work is used up."""
        tight = [-1] * len(self.ladders)
        open_ones = list(range(len(self.ladders)))
        while open_ones and not self.ways.stop():
            for place in open_ones:
                self.rungs[place] = self._unused(place, found)
                way = self.rungs[place] - tight[place]
                if way < 2:
                    continue
                less = self.rungs[place] - (way + 1) // 3
                other = self._tried(self.ladders, [*self.rungs[:place], less, *self.rungs[place + 1 :]])
                if other.feasible:
                    found, self.rungs[place] = other, less
                else:
                    tight[place] = less
            open_ones = [place for place in open_ones if self.rungs[place] - tight[place] > 1]
        return found

    def _unused(self, place: int, found: Plan) -> int:
        """The lowest rung of a ladder on which a plan may be done as it is."""
        at = self.rungs[place]
        rungs = ([*self.rungs[:place], each, *self.rungs[place + 1 :]] for each in range(at))
        most = self._loosened(self.ladders, self.rungs)
        less = (leaves_unused(self._loosened(self.ladders, each), most, found) for each in rungs)
        return next((each for each, fits in enumerate(less) if fits), at)

    def _tried(self, ladders: Sequence[Ladder], rungs: Sequence[int]) -> Plan:
        bench = self._loosened(ladders, rungs)
        return self.known(bench) or make_plan(bench, self.short(), self.standpoint)

    def _loosened(self, ladders: Sequence[Ladder], rungs: Sequence[int]) -> Bench:
        return reduce(lambda at, each: each[0][each[1]](at), zip(ladders, rungs, strict=True), self.bench)


def _is_as_before(left: Obstacle | None, obstacle: Obstacle) -> bool:
    return left is not None and (left.constraint, left.coat) == (obstacle.constraint, obstacle.coat)


def untied(bench: Bench, plan: Plan, coat: str, standpoint: Standpoint | None = None) -> Plan:
    """A plan that leaves out the wet edge, as the nearest there is: each joint has to be taped."""
    said = f"{coat}: no batch meets the wet edge of the one before it: end each at a straight, taped line"
    return replace(plan, breaks=breaks_of(bench, plan, standpoint, said), warnings=())


def _ladders(bench: Bench, obstacle: Obstacle) -> Iterator[Ladder]:
    """What may be loosened against an obstacle; where the first does not help, the next."""
    constraint, coat = obstacle.constraint, obstacle.coat or ""
    leave_out: Loosening = partial(_left_out, constraint=constraint)
    if constraint == RECOAT:
        yield A_LITTLE_LONGER
        yield (*(partial(_shut_later, later_h=hours) for hours in LATER_H), leave_out)
    elif constraint == SMALL_BUCKET:
        stretched = (partial(_stretched, coat=coat, share=share) for share in STRETCHED)
        yield (leave_out, *(partial(_both, one=leave_out, other=each) for each in stretched))
    elif constraint == "conditions":
        yield IN_ANY_WEATHER
    elif constraint == "hours":
        yield LONGER
        if practice.hours(bench.site).value.days:
            yield DAYS_MORE
        yield IN_ANY_WEATHER
    elif constraint in WINDOWS:
        yield tuple(partial(_stretched, coat=coat, share=share) for share in STRETCHED)


def _left_out(bench: Bench, constraint: str) -> Bench:
    return replace(bench, ignore=bench.ignore | {constraint})


def _stretched(bench: Bench, coat: str, share: float) -> Bench:
    return replace(bench, loosened={**bench.loosened, coat: max(share, bench.reserve)})


def _both(bench: Bench, one: Loosening, other: Loosening) -> Bench:
    return other(one(bench))


def _longer(bench: Bench, more_h: float) -> Bench:
    hours = practice.hours(bench.site).value
    minutes = hours.end.hour * 60 + hours.end.minute + round(more_h * 60)
    end = time(23, 59) if minutes >= 24 * 60 else time(minutes // 60, minutes % 60)
    return replace(bench, site=replace(bench.site, hours=replace(hours, end=end)))


def _more_days(bench: Bench, more: int) -> Bench:
    hours = practice.hours(bench.site).value
    return replace(bench, site=replace(bench.site, hours=hours.with_days_more(more)))


LONGER: Ladder = tuple(partial(_longer, more_h=more_h) for more_h in LONGER_H)
A_LITTLE_LONGER: Ladder = LONGER[: LONGER_H.index(RATHER_THAN_SAND_H) + 1]
IN_ANY_WEATHER: Ladder = (partial(_left_out, constraint="conditions"),)
DAYS_MORE: Ladder = tuple(partial(_more_days, more=more) for more in range(1, MORE_DAYS + 1))


def _shut_later(bench: Bench, later_h: float) -> Bench:
    """The search takes a later end of the recoat; what is told of a batch keeps the sheet's own."""
    return replace(bench, timing=_ShutsLater(bench.timing, 3600.0 * later_h))


@dataclass(frozen=True)
class _ShutsLater:
    """The clocks with every recoat open so much longer."""

    timing: Timing
    later_s: float

    def closes(self, product: str, window: str, start: datetime, bucket: Bucketful) -> Span | None:
        """The closing edge, that of a recoat later."""
        found = self.timing.closes(product, window, start, bucket)
        if found is None or window != RECOAT:
            return found
        late_s = None if found.late_s is None else found.late_s + self.later_s
        return Span(found.early_s + self.later_s, found.likely_s + self.later_s, late_s)

    def opens(self, product: str, window: str, start: datetime, bucket: Bucketful) -> Span | None:
        """The opening edge, as it is."""
        return self.timing.opens(product, window, start, bucket)
