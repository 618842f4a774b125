"""How likely a plan holds when step times and cure vary: seeded days, simulated all at once.

On each day every step takes its planned time × a log-normal factor, and every clock runs its likely time × a
log-normal factor whose 10th and 90th percentile are the early and the late edge of its window. The order of work is
the plan's; `mixclock.decide.plan.judge.replay` has who waits for what. A coat below that is not ready at its hour is
waited for. A day holds if every step falls inside its windows and the work ends in working hours.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from mixclock.decide.plan.days.planner import Bench
from mixclock.decide.plan.floor.plans import Chance, Plan
from mixclock.decide.plan.judge.replay import Replay, Task, replay_of
from mixclock.decide.plan.judge.replaylimits import OF_HOURS, Limit
from mixclock.values import dataclass, field

if TYPE_CHECKING:
    from numpy import float64
    from numpy.random import Generator
    from numpy.typing import NDArray

    Days = NDArray[float64]

STEP_SIGMA = 0.2
"""Spread of step times about the planned one: log-normal, 20 % (judgement)."""

DEFAULT_DAYS = 10_000
MOST_TOLD = 8


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
        """Refuse a spread that is none."""
        for name, value in (("step_sigma", self.step_sigma), ("cure_sigma", self.cure_sigma)):
            if value is not None and not 0.0 <= value <= 2.0:
                raise ValueError(f"{name} is the spread of a logarithm, from 0 to 2, got {value}")


USUAL = Spreads()


def chance_of(plan: Plan, bench: Bench, days: int = DEFAULT_DAYS, seed: int = 1, spreads: Spreads = USUAL) -> Chance:
    """The share of simulated days on which the whole plan holds, and what breaks it first, most often first."""
    return simulate(replay_of(plan, bench), days, seed, spreads)


def simulate(replay: Replay, days: int = DEFAULT_DAYS, seed: int = 1, spreads: Spreads = USUAL) -> Chance:
    """Draw the days and count those on which every limit holds. The same seed draws the same days."""
    import numpy as np

    dice = np.random.default_rng(seed)
    lived = _LivedDays(replay, [], [], [np.zeros(days) for _ in range(replay.people)], _Draws(dice, days, spreads))
    for task in replay.tasks:
        span = task.span_s * np.exp(spreads.step_sigma * dice.standard_normal(days))
        start = lived.begin(task, span)
        lived.starts.append(start)
        lived.ends.append(start + span)
        lived.free[task.who] = start + span
    return _counted(lived, days, seed)


@dataclass(frozen=True)
class _Draws:
    """How each clock runs on each day, drawn when it is first asked for."""

    dice: Generator
    days: int
    spreads: Spreads
    known: dict[tuple[object, ...], Days] = field(default_factory=dict)

    def of(self, draw: tuple[str, ...], each: int) -> Days:
        """The draws of a clock; where batches do not share it, those of its use number `each`."""
        key = draw if self.spreads.shared_cure else (*draw, each)
        if key not in self.known:
            self.known[key] = self.dice.standard_normal(self.days)
        return self.known[key]

    def factor(self, draw: Days, early_sigma: float, late_sigma: float) -> Days:
        """How much longer or shorter than likely a clock runs."""
        import numpy as np

        if self.spreads.cure_sigma is not None and (early_sigma or late_sigma):
            early_sigma = late_sigma = self.spreads.cure_sigma
        found: Days = np.exp(draw * np.where(draw < 0.0, early_sigma, late_sigma))
        return found


@dataclass(frozen=True)
class _LivedDays:
    """The days as far as they are lived: when each task began and ended, and when each person is free."""

    replay: Replay
    starts: list[Days]
    ends: list[Days]
    free: list[Days]
    draws: _Draws

    def begin(self, task: Task, span: Days) -> Days:
        """When a task begins on each day."""
        import numpy as np

        start = self.free[task.who]
        for other, how, lag in task.waits:
            since = self.starts[other] if how == "start" else self.ends[other]
            start = np.maximum(start, since + (lag - span if how == "tail" else lag))
        for gate in task.opened:
            runs = self.draws.factor(self.draws.of(gate.draw, gate.since), gate.early_sigma, gate.late_sigma)
            start = np.maximum(start, self.ends[gate.since] + gate.likely_s * runs - gate.ahead_s)
        at: Days = np.maximum(start, self._hour_of(task))
        return at

    def _hour_of(self, task: Task) -> Any:
        """Not before its hour; a bucket later where those who need it are behind, as far as its wet edges allow."""
        import numpy as np

        if not task.on_time:
            return -math.inf
        hour: Any = task.start_s
        for ahead in task.ahead:
            free = self.free[ahead.who]
            for planned_s, span_s in ahead.steps:
                free = np.maximum(free, planned_s) + span_s
            hour = np.maximum(hour, task.start_s + free - ahead.comes_s)
        for pour, within_s in task.called_by:
            hour = np.minimum(hour, np.maximum(task.start_s, self.ends[pour] + within_s))
        return hour

    def edge(self, limit: Limit, draw: Days) -> Days:
        """When the edge of a limit falls on each day."""
        import numpy as np

        span: Days = limit.likely_s * self.draws.factor(draw, limit.early_sigma, limit.late_sigma)
        if limit.since is None:
            return np.full_like(draw, limit.likely_s)
        if limit.mixed is not None and limit.per_stood_s:
            stood = self.ends[limit.since] - self.starts[limit.mixed]
            span = span - limit.per_stood_s * np.maximum(0.0, stood - limit.stood_s)
        begun: Days = self.starts[limit.since] if limit.since_start else self.ends[limit.since]
        return begun + span


def _counted(lived: _LivedDays, days: int, seed: int) -> Chance:
    import numpy as np

    first_at = np.full(days, math.inf)
    first = np.full(days, -1)
    windows, hours = np.ones(days, dtype=bool), np.ones(days, dtype=bool)
    names = list(dict.fromkeys(limit.name for limit in lived.replay.limits))
    for number, limit in enumerate(lived.replay.limits):
        draw = lived.draws.of(limit.draw, number)
        edge = lived.edge(limit, draw)
        reached = lived.starts[limit.task] if limit.at_start else lived.ends[limit.task]
        broken = reached < edge - 1e-6 if limit.opens else reached > edge + 1e-6
        if limit.draw == OF_HOURS:
            hours &= ~broken
        else:
            windows &= ~broken
        at = reached if limit.opens else edge
        earlier = broken & (at < first_at)
        first_at = np.where(earlier, at, first_at)
        first = np.where(earlier, names.index(limit.name), first)
    shares = [(name, float(np.mean(first == number))) for number, name in enumerate(names)]
    breaks = sorted((each for each in shares if each[1] > 0.0), key=lambda each: (-each[1], each[0]))
    held = float(np.mean(first < 0))
    return Chance(days, held, tuple(breaks[:MOST_TOLD]), seed, float(np.mean(windows)), float(np.mean(hours)))
