"""The same plan in steadier hands: who squeegees goes on squeegeeing, and nobody measures out far ahead.

The search swaps hands wherever that finishes no later than otherwise. A crew in gloves would rather keep its tools: so
steps go back to whoever did the one before, where the floor is done as soon and no less is to spare.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import chain as in_a_row
from operator import ne

from mixclock.decide.plan.search.climber import Chain, Solution, by_keys
from mixclock.decide.plan.search.network import Network, timed
from mixclock.decide.plan.search.slack import most_slack

STEPS_TIMED = 60_000
"""How many steps are timed in all the tries: a second of work at the most."""

AHEAD = 2
"""Measuring out before the last bucket but this one is mixed is too far ahead (judgement)."""

ENOUGH_S = 300
"""With five minutes to spare at every window a crew would rather keep its tools than have six (judgement)."""

Move = tuple[Sequence[int], Sequence[int], int]
"""Some kinds of steps, in some batches, done by whoever does them in another batch."""


def steadied(chain: Chain, found: Solution, stop: Callable[[], bool] = lambda: False) -> Solution:
    """The plan with as few tools changing hands as are found; no later, and with no less to spare."""
    net = chain.network(found.cuts)
    if net.people < 2 or len(found.cuts) < 2:
        return found
    spare_s = min(ENOUGH_S, most_slack(net, found).least_s)
    best, restless = found, restlessness(chain, found)
    left = STEPS_TIMED // net.size
    again = True
    while again and left > 0:
        again = False
        for move in _moves(chain, len(found.cuts)):
            left -= 1
            if left <= 0 or not restless or stop():
                return best
            staff = _staff_after(chain, net, best, move)
            if _changed_hands(chain, staff, len(best.cuts)) >= restless:
                continue  # however early it measures out
            tried = _moved(chain, net, best, staff)
            then = restlessness(chain, tried) if tried is not None else restless
            if tried is not None and then < restless and most_slack(net, tried).least_s >= spare_s:
                best, restless, again = tried, then, True
    return best


def restlessness(chain: Chain, found: Solution) -> int:
    """How often a kind of step goes from one person to another, and how many buckets are measured out far ahead."""
    kinds, starts, ahead = len(chain.phases), found.found.starts, _ahead(chain)
    early = 0
    for batch in range(AHEAD, len(found.cuts)):
        first = chain.lead + batch * kinds
        for kind in ahead:
            early += starts[first + kind] < starts[first + kind + 1 - AHEAD * kinds]
    return _changed_hands(chain, found.staff, len(found.cuts)) + early


def _changed_hands(chain: Chain, staff: Sequence[int], batches: int) -> int:
    """How often a kind of step goes from one person to another."""
    kinds = len(chain.phases)
    end = chain.lead + batches * kinds
    return sum(map(ne, staff[chain.lead + kinds : end], staff[chain.lead : end - kinds]))


def _ahead(chain: Chain) -> list[int]:
    """The kinds of steps that may be done long before their batch."""
    return [kind for kind, phase in enumerate(chain.phases) if phase < 0.0]


def _moves(chain: Chain, batches: int) -> Iterator[Move]:
    """Everybody's work as in another batch, then one kind of it: in all batches, from there on, in the next or last."""
    every = range(len(chain.phases))
    for kinds in in_a_row((every,), ([kind] for kind in every)):
        for like in range(batches):
            yield kinds, range(batches), like
        for like in range(batches):
            yield from ((kinds, targets, like) for targets in (range(like + 1, batches), (like + 1,), (like - 1,)))


def _staff_after(chain: Chain, net: Network, best: Solution, move: Move) -> list[int]:
    """Who does each step after a move."""
    kinds, targets, like = move
    size, count = len(chain.phases), len(best.cuts)
    staff = list(best.staff)
    for batch in targets:
        for kind in kinds if 0 <= batch < count else ():
            person = staff[chain.lead + like * size + kind]
            if net.times[chain.lead + batch * size + kind][person] is not None:
                staff[chain.lead + batch * size + kind] = person
    return staff


def _moved(chain: Chain, net: Network, best: Solution, staff: Sequence[int]) -> Solution | None:
    """The plan in these hands. None if it ends later so or misses a window."""
    size, ahead = len(chain.phases), _ahead(chain)
    as_it_was = [float(start) for start in best.found.starts]
    later = list(as_it_was)
    for batch in range(len(best.cuts)):
        for kind in ahead:
            node = chain.lead + batch * size + kind
            later[node] = max(later[node], later[node + 1] - 1.0)
    tried = (_in_order(net, best, staff, keys) for keys in (later, as_it_was))
    return next((each for each in tried if each is not None), None)


def _in_order(net: Network, best: Solution, staff: Sequence[int], keys: Sequence[float]) -> Solution | None:
    """The steps in the order of these keys. None if that ends later or misses a window."""
    order = by_keys(net, keys)
    tried = timed(net, staff, order, too_late=best.found.finish)
    if tried.violation or tried.finish > best.found.finish:
        return None
    return Solution(best.cuts, tuple(staff), order, tried)
