"""A small run of batches solved to the end by OR-tools' CP-SAT, where that library is installed.

On sixty random floors of three to six bays our own search was more than 1 % over the proven optimum on ten, by 6.9 %
at worst; tightened by CP-SAT it met the optimum on all sixty. It is an extra: a plan is made without it, only less
tight. It is run with one worker, a fixed seed and a limit in its own deterministic time, so that the same floor gives
the same plan.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from importlib.util import find_spec
from typing import Any

from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search.climber import Chain, Cuts, Solution, legal
from mixclock.decide.plan.search.network import Network, timed

MOST_STEPS = 36
MOST_STEPS_TIGHTENED = 320
"""Beyond the first it proves nothing; up to the second it still finds what our own search has missed."""


DETERMINISTIC_S, DETERMINISTIC_LARGE_S = 0.2, 0.6
LEAST_S = 0.05
FEASIBLE_S = 0.15
A_DAY_S = 86_400
SEED = 1


def available() -> bool:
    """Whether the library is installed."""
    return find_spec("ortools") is not None


def tighten(
    chain: Chain, options: Sequence[Cuts], known: Solution, stop: Callable[[], bool], share: float = 1.0
) -> Solution:
    """A solution that ends sooner than the known one, in any of these divisions; the known one where there is none."""
    best = known
    small = chain.network(known.cuts).size <= MOST_STEPS
    left_s = share * (DETERMINISTIC_S if small else DETERMINISTIC_LARGE_S)
    for cuts in sorted(options, key=lambda cuts: cuts != known.cuts):
        net = chain.network(cuts)
        if stop() or net.size > MOST_STEPS_TIGHTENED or left_s < LEAST_S:
            break
        hint = best.found.starts if cuts == best.cuts else ()
        found, took_s = _solved(cuts, net, best.found.finish - 1, left_s, soonest=True, known=hint)
        left_s -= took_s
        if found is not None and found.found.cost < best.found.cost:
            best = found
    return best


def any_feasible(chain: Chain, options: Sequence[Cuts], stop: Callable[[], bool]) -> Solution | None:
    """Any solution that keeps every window, where our own search met none; None where there is none, or too late."""
    left_s = FEASIBLE_S
    for cuts in options:
        net = chain.network(cuts)
        if stop() or net.size > MOST_STEPS or left_s < LEAST_S:
            break
        longest = sum(max(span or 0 for span in row) for row in net.times)
        found, took_s = _solved(cuts, net, 2 * (max(net.release) + longest) + A_DAY_S, left_s, soonest=False)
        left_s -= took_s
        if found is not None and found.feasible:
            return found
    return None


def _solved(
    cuts: Cuts, net: Network, finish_by: int, left_s: float, soonest: bool, known: Sequence[int] = ()
) -> tuple[Solution | None, float]:
    """A solution that ends by then, where one is found in so many seconds, and how many it took, in its own time."""
    from ortools.sat.python import cp_model

    model: Any = cp_model.CpModel()
    starts, who = _model_of(model, net, finish_by, soonest)
    for start, at in zip(starts, known, strict=False):
        model.AddHint(start, at)
    solver: Any = cp_model.CpSolver()
    solver.parameters.max_deterministic_time = left_s
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = SEED
    solver.parameters.catch_sigint_signal = False
    status = solver.Solve(model)
    took_s: float = solver.ResponseProto().deterministic_time
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None, took_s
    begins = [solver.Value(start) for start in starts]
    staff = tuple(next(person for person, does in row.items() if solver.Value(does)) for row in who)
    order = legal(net, sorted(range(net.size), key=lambda node: (begins[node], node)))
    return Solution(cuts, staff, order, timed(net, staff, order)), took_s


def _model_of(model: Any, net: Network, finish_by: int, soonest: bool) -> tuple[list[Any], list[dict[int, Any]]]:
    """The network as constraints: an optional interval for everybody who can do a step, all links, the finish."""
    starts: list[Any] = []
    spans: list[Any] = []
    who: list[dict[int, Any]] = []
    busy: list[list[Any]] = [[] for _ in range(net.people)]
    for node, row in enumerate(net.times):
        able = {person: span for person, span in enumerate(row) if span is not None}
        start = model.NewIntVar(net.release[node], max(net.release[node], finish_by), "")
        span = model.NewIntVar(min(able.values()), max(able.values()), "")
        does = {person: model.NewBoolVar("") for person in able}
        for person, literal in does.items():
            model.Add(span == able[person]).OnlyEnforceIf(literal)
            model.Add(start >= net.people_free[person]).OnlyEnforceIf(literal)
            end = start + able[person]
            busy[person].append(model.NewOptionalIntervalVar(start, able[person], end, literal, ""))
        model.AddExactlyOne(does.values())
        if net.deadline[node] < NEVER_S:
            model.Add(start + span <= net.deadline[node])
        starts.append(start)
        spans.append(span)
        who.append(does)
    for mine in busy:
        model.AddNoOverlap(mine)
    _link(model, net, starts, spans)
    finish = model.NewIntVar(0, finish_by, "")
    model.AddMaxEquality(finish, [start + span for start, span in zip(starts, spans, strict=True)])
    if soonest:
        model.Minimize(finish)
    return starts, who


def _link(model: Any, net: Network, starts: list[Any], spans: list[Any]) -> None:
    for then in range(net.size):
        for first, lag in net.after_end[then]:
            model.Add(starts[then] >= starts[first] + spans[first] + lag)
        for first, lag in net.after_start[then]:
            model.Add(starts[then] >= starts[first] + lag)
        for first, lag in net.end_after_end[then]:
            model.Add(starts[then] + spans[then] >= starts[first] + spans[first] + lag)
    for first, then, least, of_first, of_then in net.back:
        model.Add(starts[then] >= starts[first] + least + of_first * spans[first] - of_then * spans[then])
