"""How likely a plan holds when step times and cure vary: seeded days, simulated all at once.

Each day every step takes its planned time × a log-normal factor, and every window lasts its likely time × a log-normal
factor whose 10th percentile is the early edge. A step begins when its person is free and what it waits for is there,
mixing and measuring not before the timetable says so. A day holds if every step ends inside its window.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from mixclock.decide.plan.chain import FOLLOW_S
from mixclock.decide.plan.shapes import Chance, Plan, PlannedStep, PlannedWindow
from mixclock.job import practice

P90_SIGMAS = 1.2816
STEP_SIGMA = 0.2
"""Spread of step times about the planned one: log-normal, 20 % (judgement)."""

DEFAULT_DAYS = 10_000
TIMETABLE = frozenset({"measure", "mix", "scrape"})


@dataclass(frozen=True)
class Spreads:
    """What varies, and by how much.

    `cure_sigma` None takes each window's own band. `shared_cure` gives all batches of a product one factor a day and
    window, as one delivery has; else each batch draws its own.
    """

    step_sigma: float = STEP_SIGMA
    cure_sigma: float | None = None
    shared_cure: bool = True


@dataclass(frozen=True)
class _Task:
    """A step with the numbers of what it waits for: (step, "end" | "start" | "both", lag)."""

    step: PlannedStep
    start_s: float
    span_s: float
    person_before: int | None
    waits: tuple[tuple[int, str, float], ...]


@dataclass(frozen=True)
class _Limit:
    """A step (by its start or end) must come within a window that began with another step."""

    step: int
    at_start: bool
    since: int
    since_start: bool
    likely_s: float
    sigma: float
    draw: tuple[str, ...]
    name: str


@dataclass(frozen=True)
class Network:
    """A plan as a network of tasks and limits, ready to be drawn."""

    tasks: tuple[_Task, ...]
    limits: tuple[_Limit, ...] = field(default=())


def chance_of(plan: Plan, days: int = DEFAULT_DAYS, seed: int = 1, spreads: Spreads | None = None) -> Chance:
    """The share of simulated days on which the whole plan holds, and which step breaks it first, most often first."""
    return simulate(network_of(plan), days, seed, spreads or Spreads())


def network_of(plan: Plan) -> Network:
    """The tasks of a plan and what they wait for, in the order of their planned starts."""
    steps = sorted(plan.steps, key=lambda step: (step.starts, step.ends, step.who))
    number = {id(step): index for index, step in enumerate(steps)}
    by_kind = {(step.batch, step.kind): number[id(step)] for step in steps if step.batch is not None}
    last: dict[str, int] = {}
    tasks = []
    for index, step in enumerate(steps):
        start_s = (step.starts - plan.begins).total_seconds()
        span_s = (step.ends - step.starts).total_seconds()
        tasks.append(_Task(step, start_s, span_s, last.get(step.who), _waits(plan, step, by_kind)))
        last[step.who] = index
    return Network(tuple(tasks), tuple(_limits(plan, steps, by_kind)))


def _waits(plan: Plan, step: PlannedStep, by_kind: Mapping[tuple[int, str], int]) -> tuple[tuple[int, str, float], ...]:
    flake_lag = practice.FLAKE_LAG_S.value
    before: Mapping[str, tuple[tuple[str, str, float], ...]] = {
        "mix": (("measure", "end", 0.0),),
        "pour": (("mix", "end", _stand_s(plan, step.batch)),),
        "cut-in": (("pour", "end", 0.0),),
        "squeegee": (("pour", "end", 0.0),),
        "roll": (("squeegee", "both", FOLLOW_S), ("cut-in", "both", 0.0)),
        "broadcast": (("roll", "both", FOLLOW_S), ("roll", "start", flake_lag)),
        "neutralise": (("pour", "end", _stand_s(plan, step.batch, "dwell")),),
        "rinse": (("neutralise", "end", 0.0), ("pour", "end", 0.0)),
    }
    found = []
    for kind, how, lag in before.get(step.kind, ()):
        other = by_kind.get((step.batch or 0, kind))
        if other is not None:
            found.append((other, how, lag))
    return tuple(found)


def _stand_s(plan: Plan, batch: int | None, name: str = "induction") -> float:
    for planned in plan.batches:
        for window in planned.windows:
            if planned.number == batch and window.name == name and window.opens is not None:
                return (window.opens - window.starts).total_seconds()
    return 0.0


def _limits(plan: Plan, steps: Sequence[PlannedStep], by_kind: Mapping[tuple[int, str], int]) -> list[_Limit]:
    windows = [(batch.product, window) for batch in plan.batches for window in batch.windows]
    found = []
    for index, step in enumerate(steps):
        if step.window is None or step.by is None:
            continue
        match = _window_of(step, windows)
        if match is None:
            continue
        product, window = match
        since_start = window.name == "pour-out"
        since = by_kind.get((window.batch, "mix" if since_start else _since_kind(window, plan, by_kind)))
        if since is None:
            continue
        likely = window.likely_closes or step.by
        likely_s = (likely - window.starts).total_seconds()
        early_s = (step.by - window.starts).total_seconds()
        sigma = math.log(likely_s / early_s) / P90_SIGMAS if 0 < early_s < likely_s else 0.0
        at_start = step.kind == "squeegee" and step.slack_s is not None and step.slack_s > _left_s(step)
        draw = (product, window.name)
        found.append(_Limit(index, at_start, since, since_start, likely_s, sigma, draw, _said(step)))
    return found


def _left_s(step: PlannedStep) -> float:
    assert step.by is not None
    return (step.by - step.ends).total_seconds() + 0.5


def _window_of(step: PlannedStep, windows: Sequence[tuple[str, PlannedWindow]]) -> tuple[str, PlannedWindow] | None:
    own = step.kind != "squeegee"
    for product, window in windows:
        if window.name == step.window and window.closes == step.by and (not own or window.batch == step.batch):
            return product, window
    return None


def _since_kind(window: PlannedWindow, plan: Plan, by_kind: Mapping[tuple[int, str], int]) -> str:
    """Which step of its batch a window began with."""
    ends = {step.kind: step.ends for step in plan.steps if step.batch == window.batch}
    for kind in ("pour", "mix", "roll", "broadcast", "neutralise", "rinse"):
        if ends.get(kind) == window.starts and (window.batch, kind) in by_kind:
            return kind
    return "pour"


def _said(step: PlannedStep) -> str:
    where = ", ".join(step.areas)
    return f"batch {step.batch}, {where}: {step.kind}" if step.batch is not None else f"{where}: {step.kind}"


def simulate(network: Network, days: int, seed: int, spreads: Spreads) -> Chance:
    """Draw the days and count those on which every limit holds."""
    import numpy as np

    random = np.random.default_rng(seed)
    starts: list[Any] = []
    ends: list[Any] = []
    for task in network.tasks:
        span = task.span_s * np.exp(spreads.step_sigma * random.standard_normal(days))
        start = np.full(days, task.start_s if task.step.kind in TIMETABLE else -math.inf)
        if task.person_before is not None:
            start = np.maximum(start, ends[task.person_before])
        for other, how, lag in task.waits:
            if how in ("start", "both"):
                start = np.maximum(start, starts[other] + lag)
            if how == "end":
                start = np.maximum(start, ends[other] + lag)
            if how == "both":
                start = np.maximum(start, ends[other] + lag - span)
        if not task.waits and task.person_before is None:
            start = np.full(days, task.start_s)
        starts.append(start)
        ends.append(start + span)
    return _counted(network, starts, ends, days, seed, spreads, random)


def _counted(
    network: Network, starts: list[Any], ends: list[Any], days: int, seed: int, spreads: Spreads, random: Any
) -> Chance:
    import numpy as np

    holds = np.ones(days, dtype=bool)
    first_at = np.full(days, math.inf)
    first = np.full(days, -1)
    shared: dict[tuple[str, ...], Any] = {}
    for number, limit in enumerate(network.limits):
        draw = shared.get(limit.draw) if spreads.shared_cure else None
        if draw is None:
            draw = shared[limit.draw] = random.standard_normal(days)
        sigma = limit.sigma if spreads.cure_sigma is None else spreads.cure_sigma
        begun = starts[limit.since] if limit.since_start else ends[limit.since]
        edge = begun + limit.likely_s * np.exp(sigma * draw)
        reached = starts[limit.step] if limit.at_start else ends[limit.step]
        broken = reached > edge
        earlier = broken & (edge < first_at)
        first_at = np.where(earlier, edge, first_at)
        first = np.where(earlier, number, first)
        holds &= ~broken
    breaks: dict[str, float] = {}
    for number, limit in enumerate(network.limits):
        share = float(np.mean(first == number))
        if share > 0:
            breaks[limit.name] = breaks.get(limit.name, 0.0) + share
    ranked = tuple(sorted(breaks.items(), key=lambda item: -item[1]))
    return Chance(days, float(np.mean(holds)), ranked, seed)
