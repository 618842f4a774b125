"""How many batches, and where one ends and the next begins: contiguous runs of pieces."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from itertools import combinations, pairwise

from mixclock.decide.plan.floor import acid
from mixclock.decide.plan.floor.precedence import AT_ONCE_S, SHUT_BY, strips_in
from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search.chain import CoatChain
from mixclock.decide.plan.search.climber import Cuts
from mixclock.job.steps import INDUCTION, POUR_OUT

FEW = 24
"""If a floor has at most so many divisions, all of them are looked at."""


def possible(chain: CoatChain, first: int, end: int) -> bool:
    """Whether a batch of these pieces could be done at all by this crew with nothing else to do.

    A batch that fails here fails in every plan: the quickest of the crew at each step, or one person at all of them,
    is too slow for a window, or the bucket does not hold it.
    """
    return chain.fits(first, end) and not too_slow_for(chain, first, end)


def reach(chain: CoatChain) -> list[int]:
    """Where the largest batch that begins with each piece ends; with the piece itself where not even that is possible.

    What is possible for a batch is possible for any part of it, so that the end only ever moves on: twice as many
    batches are looked at as there are pieces, and no more.
    """
    known = chain.now.reach
    if not known:
        end = 0
        for first in range(chain.pieces):
            end = max(end, first)
            while end < chain.pieces and possible(chain, first, end + 1):
                end += 1
            known.append(end)
    return known


def too_slow_for(chain: CoatChain, first: int, end: int) -> str | None:
    """The window that no order of work can keep for a batch of these pieces."""
    spec, load = chain.spec(first, end), chain.load(first, end)
    quickest = load.quickest
    if spec.closes.get(POUR_OUT, NEVER_S) < _out_at_the_soonest(quickest, spec.opens.get(INDUCTION, 0)):
        return POUR_OUT
    if "roll" not in quickest:
        return acid.too_slow_for(spec, chain.kinds, quickest)
    hands, work = len(chain.setting.crew.people), 0
    for kind, ended in load.ends.items():
        work += quickest[kind]
        for window in SHUT_BY.get(kind, ()):
            if max(ended, -(-work // hands)) > spec.closes.get(window, NEVER_S):
                return window
    return None


def _out_at_the_soonest(quickest: Mapping[str, int], stand_s: int) -> int:
    """When a bucket can be poured out, from the mixing on: its last strip when those before it are spread."""
    first, strips = quickest["mix"] + stand_s + quickest["pour"], strips_in(quickest)
    spread_s = (strips - 1) * quickest.get("squeegee", 0)
    return first + max((strips - 1) * quickest["pour"], spread_s - AT_ONCE_S)


def fewest(chain: CoatChain) -> Cuts | None:
    """The division into the fewest batches, each as large as it may be. None if a single piece is too much for a
    bucket."""
    cuts: list[int] = []
    first = 0
    while first < chain.pieces:
        end = reach(chain)[first]
        if end == first:
            return None
        cuts.append(end)
        first = end
    return tuple(cuts)


def divisions(chain: CoatChain, count: int) -> list[Cuts]:
    """Ways to divide the floor into that many batches, each enough for a bucket: evenly, the large first, the large
    last; all where few."""
    return [cuts for cuts in _divided(chain, count) if all(chain.is_worth_mixing(*run) for run in pairwise((0, *cuts)))]


def as_the_floor_opens(chain: CoatChain, count: int) -> list[Cuts]:
    """Ways to divide the floor where the coat below opens at another time; none where those are many."""
    at = chain.setting
    bounds = (at.bounds.get(piece.area) for piece in at.pieces)
    opens_s = [bound.not_before_s if bound is not None else 0 for bound in bounds]
    places = [place for place in range(1, chain.pieces) if opens_s[place] != opens_s[place - 1]]
    if not 0 < math.comb(len(places), count - 1) <= FEW:
        return []
    every = ((*cuts, chain.pieces) for cuts in combinations(places, count - 1))
    return [cuts for cuts in every if all(_may_be_mixed(chain, *run) for run in pairwise((0, *cuts)))]


def _may_be_mixed(chain: CoatChain, first: int, end: int) -> bool:
    return end <= reach(chain)[first] and chain.is_worth_mixing(first, end)


def _divided(chain: CoatChain, count: int) -> list[Cuts]:
    found: list[Cuts] = []
    if math.comb(chain.pieces - 1, count - 1) <= FEW:
        even = _even(chain, count)
        every = [(*cuts, chain.pieces) for cuts in combinations(range(1, chain.pieces), count - 1)]
        fitting = [cuts for cuts in every if all(end <= reach(chain)[first] for first, end in pairwise((0, *cuts)))]
        return sorted(fitting, key=lambda cuts: cuts != even)
    for cuts in (_even(chain, count), _greedy(chain, count, ahead=True), _greedy(chain, count, ahead=False)):
        if cuts is not None and cuts not in found:
            found.append(cuts)
    return found


def _even(chain: CoatChain, count: int) -> Cuts | None:
    """The division whose largest batch is smallest, and among those the most even one."""
    size = chain.pieces
    sums = [0.0]
    for piece in range(size):
        sums.append(sums[-1] + chain.weight(piece))
    mean = sums[-1] / count
    ends = _ends_worth_mixing(chain)
    best: list[dict[int, tuple[float, int]]] = [{0: (0.0, 0)}]
    for _ in range(count):
        best.append(_next_row(ends, best[-1], sums, mean))
    return _walked_back(best, size, count)


def _next_row(
    ends: list[range], row: dict[int, tuple[float, int]], sums: list[float], mean: float
) -> dict[int, tuple[float, int]]:
    found: dict[int, tuple[float, int]] = {}
    for first, (cost, _) in row.items():
        if first == len(ends):
            continue
        before = sums[first]
        for end in ends[first]:
            weight = cost + ((sums[end] - before) / mean - 1.0) ** 2
            known = found.get(end)
            if known is None or weight < known[0] - 1e-12:
                found[end] = (weight, first)
    return found


def _ends_worth_mixing(chain: CoatChain) -> list[range]:
    """Where a batch that begins with each piece may end."""
    return [range(_enough_for_a_bucket(chain, first, far), far + 1) for first, far in enumerate(reach(chain))]


def _enough_for_a_bucket(chain: CoatChain, first: int, far: int) -> int:
    """Up to where the pieces from the first on are enough for a bucket; more of them always are."""
    return next((end for end in range(first + 1, far + 1) if chain.is_worth_mixing(first, end)), far + 1)


def _walked_back(rows: list[dict[int, tuple[float, int]]], size: int, count: int) -> Cuts | None:
    if size not in rows[count]:
        return None
    cuts: list[int] = []
    at = size
    for row in range(count, 0, -1):
        cuts.append(at)
        at = rows[row][at][1]
    return tuple(reversed(cuts))


def _greedy(chain: CoatChain, count: int, ahead: bool) -> Cuts | None:
    """As much as may be in the first (or last) batches, as long as a piece is left for each of the others."""
    size = chain.pieces
    far = reach(chain)
    fits: Callable[[int, int], bool] = lambda a, b: b <= far[a]  # noqa: E731
    if not ahead:
        fits = lambda a, b: size - a <= far[size - b]  # noqa: E731
    cuts: list[int] = []
    first = 0
    for left in range(count - 1, -1, -1):
        if first + 1 > size - left or not fits(first, first + 1):
            return None
        end = first + 1
        while end < size - left and fits(first, end + 1):
            end += 1
        cuts.append(end)
        first = end
    if first != size:
        return None
    return tuple(cuts) if ahead else tuple([size - cut for cut in reversed(cuts[:-1])] + [size])
