"""The search proper: every crew pattern, hot walks from here and there until one keeps every window, and annealing from
there where no installed solver goes on.

Good plans of a small floor differ in many steps at once, and what lies between them keeps no window: so a search that
only ever changes one step stays where it began. Seeded, so that the same floor gives the same plan. Pools of starts and
more walks were measured alone: on ten halls of 5 to 40 bays they found nothing that annealing from one start did not.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence

from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search.climber import (
    Chain,
    Cuts,
    Effort,
    Solution,
    again,
    begin,
    by_keys,
    improve,
    move_area,
    score,
    tidied,
)
from mixclock.decide.plan.search.network import NOTHING_SETTLED, Network, TimedOrder, timed
from mixclock.decide.plan.search.solver import BRIEFLY, THOROUGHLY, SolverAnswer, SolverWay

WALKS = 8
WANDERING = (9000.0, 3000.0)
"""How warm a walk begins and ends, in seconds of finish: warm enough to cross anything."""

MISSED = TimedOrder([], NEVER_S, 0)
"""Stands for what is proven impossible: it has no starts and misses everything."""

AskedSolver = Callable[[Chain, Sequence[Cuts], Callable[[], bool], Sequence[SolverWay]], SolverAnswer]
"""An installed solver that looks at some divisions in some of its ways."""

COOLING = (600.0, 5.0)
STEP_SHIFT_S = 900.0
BATCH_SHIFT_S = 1800.0


def sooner_than(
    chain: Chain, known: Solution, effort: Effort, seed: int, stop: Callable[[], bool], good_enough: int
) -> Solution:
    """A solution that ends sooner than one that keeps every window, where one is found. A finish at or under
    `good_enough` ends the search."""
    return _anneal(chain, known, effort.changes, COOLING, random.Random(seed), stop, good_enough)[0]


def mended(chain: Chain, known: Solution, effort: Effort, seed: int, stop: Callable[[], bool]) -> Solution:
    """Change a solution that misses a window little by little, until it misses none or no change helps."""
    return improve(chain, known, effort, random.Random(seed), stop)


def any_feasible(
    chain: Chain,
    options: Sequence[Cuts],
    effort: Effort,
    seed: int = 0,
    stop: Callable[[], bool] = lambda: False,
    asked: AskedSolver | None = None,
) -> Solution:
    """The first solution met that keeps every window; where none is met, one that misses some. `asked` is an installed
    solver: on floors that it looks at it finds what walks find, and more (measured on 114 of them), and what it proves
    impossible need not be looked for. It looks thoroughly only where no pattern of the crew's work does it."""
    dice = random.Random(seed)
    answer = asked(chain, options, stop, (BRIEFLY,)) if asked else SolverAnswer()
    if answer.impossible:
        return Solution(options[0], (), (), MISSED)
    begun = begin(chain, answer.left or options, dice, stop)
    if begun[0].feasible:
        return begun[0]
    if asked and answer.looked and answer.found is None:
        answer = asked(chain, answer.left, stop, (THOROUGHLY,))
    if answer.looked:
        return answer.found or begun[0]
    met = _wander(chain, begun, effort.changes // 4, dice, stop)
    if met:
        return met[0]
    return improve(chain, begun[0], Effort(effort.changes // 2, effort.patience), dice, stop, NEVER_S)


def _wander(
    chain: Chain, begun: Sequence[Solution], changes: int, dice: random.Random, stop: Callable[[], bool]
) -> list[Solution]:
    """Feasible solutions met on hot walks from here and there, until one is: good starts lie far apart, behind
    infeasible ones."""
    for walk in range(WALKS):
        start = begun[0] if walk == 0 else dice.choice(begun)
        found = _anneal(chain, start, changes // WALKS, WANDERING, dice, stop, NEVER_S)[1]
        if found:
            return found
    return []


def _anneal(
    chain: Chain,
    start: Solution,
    changes: int,
    heat: tuple[float, float],
    dice: random.Random,
    stop: Callable[[], bool],
    good_enough: int = 0,
) -> tuple[Solution, list[Solution]]:
    """Simulated annealing: the best that was met, and all feasible solutions that stood on the way."""
    hot, cold = heat
    current = best = again(chain, start)
    met: list[Solution] = []
    for step in range(changes):
        done = best.feasible and best.found.finish <= good_enough
        if done or (step % 64 == 0 and stop()):
            break
        warmth = hot * (cold / hot) ** (step / changes)
        limit = score(current.found) - warmth * math.log(dice.random() + 1e-12)
        tried = _elsewhere(chain, current, dice, int(limit))
        if tried is None or score(tried.found) > limit:
            continue
        current = tidied(tried, NOTHING_SETTLED)
        if current.feasible:
            met.append(current)
        best = min(best, current, key=lambda solution: solution.found.cost)
    return best, met


def _elsewhere(chain: Chain, at: Solution, dice: random.Random, too_late: int) -> Solution | None:
    """A solution some way off: a step or a batch shifted in time, others for some steps, two people swapped."""
    cuts = at.cuts
    roll = dice.random()
    if roll < 0.06 and len(cuts) > 1:
        moved = move_area(chain, cuts, dice)
        if moved is None:
            return None
        cuts = moved
    net = chain.network(cuts)
    staff, keys = list(at.staff), [float(start) for start in at.found.starts]
    if 0.06 <= roll < 0.38:
        node = dice.randrange(net.size)
        keys[node] += dice.gauss(0.0, STEP_SHIFT_S)
        if dice.random() < 0.5:
            staff[node] = dice.choice(net.able(node))
    elif 0.38 <= roll < 0.58:
        _shift_batch(net, chain, len(cuts), staff, keys, dice)
    elif 0.58 <= roll < 0.82:
        for _ in range(dice.choice((1, 1, 2, 2, 3))):
            node = dice.randrange(net.size)
            staff[node] = dice.choice(net.able(node))
    elif roll >= 0.82 and net.people > 1:
        _swap_people(net, chain, len(cuts), staff, dice)
    order = by_keys(net, keys)
    return Solution(cuts, tuple(staff), order, timed(net, staff, order, too_late=too_late))


def _shift_batch(
    net: Network, chain: Chain, count: int, staff: list[int], keys: list[float], dice: random.Random
) -> None:
    """Some neighbouring steps of a batch, or of all from it on, sooner or later, and perhaps by others."""
    kinds = len(chain.phases)
    batch = dice.randrange(count)
    first = dice.randrange(kinds)
    last = dice.randint(first, kinds - 1)
    shift_s = dice.gauss(0.0, BATCH_SHIFT_S)
    others = dice.random() < 0.5
    for each in range(batch, count) if dice.random() < 0.3 else (batch,):
        for kind in range(first, last + 1):
            node = chain.lead + each * kinds + kind
            keys[node] += shift_s
            if others and dice.random() < 0.5:
                staff[node] = dice.choice(net.able(node))


def _swap_people(net: Network, chain: Chain, count: int, staff: list[int], dice: random.Random) -> None:
    """Two people change places for a batch, or from it on."""
    kinds = len(chain.phases)
    batch = dice.randrange(count)
    one, other = dice.sample(range(net.people), 2)
    first = chain.lead + batch * kinds
    end = first + kinds if dice.random() < 0.6 else net.size
    for node in range(first, end):
        swapped = {one: other, other: one}.get(staff[node], staff[node])
        if net.times[node][swapped] is not None:
            staff[node] = swapped
