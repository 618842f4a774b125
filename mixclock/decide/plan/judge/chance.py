"""How likely a plan holds when step times and cure vary: seeded days, simulated all at once.

On each day every step takes its planned time × a log-normal factor, and every clock runs its likely time × a
log-normal factor whose 10th and 90th percentile are the early and the late edge of its window. The order of work is
the plan's; `mixclock.decide.plan.judge.replay` has who waits for what. A coat below that is not ready at its hour is
waited for. A day holds if every step falls inside its windows and inside what the sheet allows of the weather, and the
work ends in working hours.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.floor.plans import Chance, Plan
from mixclock.decide.plan.judge.columns import Column, Columns, columns
from mixclock.decide.plan.judge.replay import Replay, Task, replay_of
from mixclock.decide.plan.judge.replaylimits import OF_HOURS, WEATHER, Limit
from mixclock.values import dataclass, field, replace

STEP_SIGMA = 0.2
"""Spread of step times about the planned one: log-normal, 20 % (judgement)."""

DEFAULT_DAYS = 10_000
MOST_STEPS_LIVED = 4_000_000
"""A plan of more than 400 steps is lived through on fewer days: ten thousand of a thousand steps took 190 MB. Three
thousand days say nineteen in twenty to within half a hundredth."""

MOST_TOLD = 8
NEVER = 99.0
"""How much a window counts as used up that was not open yet, or that the weather shut. No reserve mends that."""


@dataclass(frozen=True)
class Spreads:
    """What varies, and by how much.

    `cure_sigma` None takes each window's own band. `shared_cure` gives all batches of a product one factor a day and
    window, as one delivery in one weather has; else each batch draws its own.
    """

    step_sigma: float = STEP_SIGMA
    cure_sigma: float | None = None
    shared_cure: bool = True

    def __post_init__(self) -> None:
        """Refuse a spread below zero."""
        for name, value in (("step_sigma", self.step_sigma), ("cure_sigma", self.cure_sigma)):
            if value is not None and not 0.0 <= value <= 2.0:
                raise ValueError(f"{name} is the spread of a logarithm, from 0 to 2, got {value}")


USUAL = Spreads()


def chances_with(plan: Plan, bench: Bench, reserves: Sequence[float], seed: int = 1) -> tuple[Chance, list[Chance]]:
    """The chance of a plan, and what it would be if its windows left so much in reserve: each is longer by that on each
    day. A plan that really keeps it holds within some hundredths as often."""
    replay = replay_of(plan, bench)
    days = days_for(len(replay.tasks))
    lived = lived_days(replay, days, seed, USUAL)
    chance, used, hours = days_counted(lived, days, seed)
    share, held = lived.draws.make.share, [used < 1.0 / reserve for reserve in reserves]
    return chance, [
        replace(chance, breaks=(), holds=share(windows & hours), windows_hold=share(windows)) for windows in held
    ]


def days_for(steps: int) -> int:
    """On how many days a plan of so many steps is lived through, in thousands.

    >>> days_for(400), days_for(1016), days_for(20_000)
    (10000, 3000, 1000)
    """
    return min(DEFAULT_DAYS, max(1_000, MOST_STEPS_LIVED // max(1, steps) // 1_000 * 1_000))


def lived_days(replay: Replay, days: int, seed: int, spreads: Spreads) -> LivedDays:
    """The days as they are drawn. The same seed draws the same days. What nobody asks for any more is let go of."""
    make = columns(days, seed)
    lived = LivedDays(replay, [], [], [make.filled(0.0) for _ in range(replay.people)], _Draws(make, spreads))
    past = asked_last(replay)
    for index, task in enumerate(replay.tasks):
        span = task.span_s * make.exp(spreads.step_sigma * make.normals())
        start = lived.begin(task, span)
        lived.starts.append(start)
        lived.ends.append(start + span)
        lived.free[task.who] = lived.ends[-1]
        for edge, other in past.get(index, ()):
            lived.edges(edge)[other] = None
    return lived


Edge = tuple[str, int]
"""The start or the end of a task."""


def asked_last(replay: Replay) -> dict[int, list[Edge]]:
    """After which task nobody asks for an edge any more; what a limit asks for stays."""
    last: dict[Edge, int] = {}
    for index, task in enumerate(replay.tasks):
        own = [("start", index), ("end", index)]
        waits = [_waited_for(other, how) for other, how, _ in task.waits]
        ends = [*(gate.since for gate in task.opened), *(pour for pour, _ in task.called_by)]
        last |= dict.fromkeys((*own, *waits, *(("end", end) for end in ends)), index)
    for limit in replay.limits:
        for edge in _asked_by(limit):
            last.pop(edge, None)
    past: dict[int, list[Edge]] = {}
    for edge, index in last.items():
        past.setdefault(index, []).append(edge)
    return past


def _waited_for(other: int, how: str) -> Edge:
    return "start" if how == "start" else "end", other


def _reached(limit: Limit) -> Edge:
    """What must keep a limit."""
    return "start" if limit.at_start else "end", limit.task


def _begun(limit: Limit, since: int) -> Edge:
    """From when on a limit runs."""
    return "start" if limit.since_start else "end", since


def _asked_by(limit: Limit) -> Iterator[Edge]:
    yield _reached(limit)
    if limit.since is not None:
        yield _begun(limit, limit.since)
    if limit.since is not None and limit.mixed is not None:
        yield from (("end", limit.since), ("start", limit.mixed))


@dataclass(frozen=True)
class _Draws:
    """How each clock runs on each day. A clock is drawn when somebody first asks for it."""

    make: Columns
    spreads: Spreads
    known: dict[tuple[object, ...], Column] = field(default_factory=dict)

    def of(self, draw: tuple[str, ...], each: int) -> Column:
        """The draws of a clock. If batches do not share it, `each` counts its uses and each use has its own."""
        key = draw if self.spreads.shared_cure else (*draw, each)
        if key not in self.known:
            self.known[key] = self.make.normals()
        return self.known[key]

    def factor(self, draw: Column, early_sigma: float, late_sigma: float) -> Column:
        """How much longer or shorter than likely a clock runs."""
        if self.spreads.cure_sigma is not None and (early_sigma or late_sigma):
            early_sigma = late_sigma = self.spreads.cure_sigma
        return self.make.exp(draw * self.make.chosen(draw < 0.0, early_sigma, late_sigma))


@dataclass(frozen=True)
class LivedDays:
    """The days as far as they are played: when each task began and ended, and when each person is free."""

    replay: Replay
    starts: list[Column]
    ends: list[Column]
    free: list[Column]
    draws: _Draws

    def edges(self, edge: str) -> list[Column]:
        """The starts or the ends of all tasks."""
        return self.starts if edge == "start" else self.ends

    def at(self, edge: Edge) -> Column:
        """When a task began or ended."""
        name, task = edge
        return self.edges(name)[task]

    def begin(self, task: Task, span: Column) -> Column:
        """When a task begins on each day."""
        larger, start = self.draws.make.larger, self.free[task.who]
        for other, how, lag in task.waits:
            since = self.at(_waited_for(other, how))
            start = larger(start, since + (lag - span if how == "tail" else lag))
        for gate in task.opened:
            runs = self.draws.factor(self.draws.of(gate.draw, gate.since), gate.early_sigma, gate.late_sigma)
            start = larger(start, self.ends[gate.since] + gate.likely_s * runs - gate.ahead_s)
        return larger(start, self._hour_of(task))

    def _hour_of(self, task: Task) -> Column:
        """Not before its planned hour. A bucket waits longer for people who are behind, as long as its wet edges allow
        it."""
        if not task.on_time:
            return -math.inf
        make, hour = self.draws.make, task.start_s
        for ahead in task.ahead:
            free = self.free[ahead.who]
            for planned_s, span_s in ahead.steps:
                free = make.larger(free, planned_s) + span_s
            hour = make.larger(hour, task.start_s + free - ahead.comes_s)
        for pour, within_s in task.called_by:
            hour = make.smaller(hour, make.larger(task.start_s, self.ends[pour] + within_s))
        return hour

    def edge(self, limit: Limit, draw: Column) -> tuple[Column, Column]:
        """How long a limit lasts, and when its edge falls, on each day."""
        make = self.draws.make
        span = limit.likely_s * self.draws.factor(draw, limit.early_sigma, limit.late_sigma)
        if limit.since is None:
            return span, make.filled(limit.likely_s)
        if limit.mixed is not None and limit.per_stood_s:
            stood = self.ends[limit.since] - self.starts[limit.mixed]
            span = span - limit.per_stood_s * make.larger(0.0, stood - limit.stood_s)
        return span, self.at(_begun(limit, limit.since)) + span


def days_counted(lived: LivedDays, days: int, seed: int) -> tuple[Chance, Column, Column]:
    """The chance; which share of its tightest window each day used up; on which days the hours held."""
    make = lived.draws.make
    first_at, first = make.filled(math.inf), make.filled(-1)
    windows, hours, used = make.filled(True), make.filled(True), make.filled(0.0)
    names = list(dict.fromkeys(limit.name for limit in lived.replay.limits))
    for number, limit in enumerate(lived.replay.limits):
        draw = lived.draws.of(limit.draw, number)
        span, edge = lived.edge(limit, draw)
        reached = lived.at(_reached(limit))
        broken = reached < edge - 1e-6 if limit.opens else reached > edge + 1e-6
        if limit.draw == OF_HOURS:
            hours = hours & ~broken
        else:
            windows = windows & ~broken
            unmended = limit.opens or limit.draw == WEATHER
            used = make.larger(used, NEVER * broken if unmended else 1.0 + make.shares(reached - edge, span))
        at = reached if limit.opens else edge
        earlier = broken & (at < first_at)
        first_at = make.chosen(earlier, at, first_at)
        first = make.chosen(earlier, names.index(limit.name), first)
    shares = [(name, make.share(first == number)) for number, name in enumerate(names)]
    breaks = sorted((each for each in shares if each[1] > 0.0), key=lambda each: (-each[1], each[0]))
    held = make.share(first < 0)
    told = tuple(breaks[:MOST_TOLD])
    return Chance(days, held, told, seed, make.share(windows), make.share(hours)), used, hours
