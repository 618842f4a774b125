"""Long runs of batches: solved a few batches at a time, each window resting on what went before.

A floor of a hundred batches repeats itself; what is best for a batch depends on its neighbours and hardly on the
others. So the first batches are solved as a small floor, and then three more at a time are added: the steps that begin
before the last three batches are settled, the rest is searched.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from mixclock.decide.plan.search.annealing import any_feasible
from mixclock.decide.plan.search.climber import Chain, Cuts, Effort, Solution, improve, who_can
from mixclock.decide.plan.search.network import Network, SettledPart, settled_part, timed

FIRST = 6
STEP = 3


def roll(
    chain: Chain,
    cuts: Cuts,
    effort: Effort,
    seed: int = 0,
    stop: Callable[[], bool] = lambda: False,
    progress: Callable[[float], None] = lambda _: None,
) -> Solution:
    """A solution for all batches of one division; not feasible as soon as a window of batches is not."""
    found = any_feasible(chain, [cuts[:FIRST]], effort, seed, stop)
    dice = random.Random(seed)
    share = Effort(max(120, effort.changes // 4), max(60, effort.changes // 12))
    while found.feasible and len(found.cuts) < len(cuts):
        found = _longer(chain, found, cuts[: len(found.cuts) + STEP], share, dice, stop)
        progress(len(found.cuts) / len(cuts))
    return found


def _longer(
    chain: Chain, found: Solution, cuts: Cuts, effort: Effort, dice: random.Random, stop: Callable[[], bool]
) -> Solution:
    """The solution with some batches more: begun like the batches before them, then searched."""
    net = chain.network(cuts)
    done = len(found.cuts)
    kinds = len(chain.phases)
    begun: list[Solution] = []
    settled = _settled(chain, net, found, done)
    for like in (1, 2, 3):
        staff, keys = _continued(chain, net, found, len(cuts), like)
        held = found.order[: settled.count]
        rest = [node for node in range(net.size) if node not in settled.steps]
        order = (*held, *sorted(rest, key=lambda node: (keys[node], node)))
        begun.append(Solution(cuts, tuple(staff), order, timed(net, staff, order, settled=settled)))
    best = min(begun, key=lambda solution: solution.found.cost)
    for attempt in range(3):
        tried = improve(
            chain, best, Effort(effort.changes * (1 + 2 * attempt), effort.patience), dice, stop, 0, settled
        )
        best = min(best, tried, key=lambda solution: solution.found.cost)
        if best.feasible or stop():
            break
    assert kinds
    return best


def _continued(chain: Chain, net: Network, found: Solution, count: int, like: int) -> tuple[list[int], list[float]]:
    """Staff and order keys for all steps: new batches do as the batch `like` places before them, a period later."""
    kinds, lead, done = len(chain.phases), chain.lead, len(found.cuts)
    end = lead + done * kinds
    staff, keys = list(found.staff[:end]), [float(start) for start in found.found.starts[:end]]
    first = lead + (done - 1) * kinds
    period = (keys[first + 1] - keys[first + 1 - STEP * kinds]) / STEP
    for node in range(end, lead + count * kinds):
        staff.append(who_can(net, node, staff[node - like * kinds]))
        keys.append(max(keys[node - like * kinds] + like * period, keys[node - kinds] + 1.0))
    staff += found.staff[-chain.tail :]
    keys += [1e12] * chain.tail
    return staff, keys


def _settled(chain: Chain, net: Network, found: Solution, done: int) -> SettledPart:
    """All steps that come before any step of the last three batches."""
    kinds = len(chain.phases)
    open_from = chain.lead + (done - STEP) * kinds
    count = next(place for place, node in enumerate(found.order) if node >= open_from)
    return settled_part(net, found.order[:count], found.staff, found.found.starts)
