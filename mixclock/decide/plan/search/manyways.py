"""The same order of work timed for many staffings at once, column by column: what one by one takes most of a search.

Gives for each staffing what `network.timed` gives for it alone, which is also what is asked where numpy is not there.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Sequence
from typing import Any, NamedTuple

from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search.network import Network, timed
from mixclock.formulas.arrays import numpy_at_hand

Column = Any
"""A numpy column of whole seconds, one for each staffing."""


class TriedWay(NamedTuple):
    """How much a way of working misses of the windows and when it ends, by the numbers of its order and its
    staffing."""

    violation: int
    finish: int
    order: int
    staffing: int


def best_ways(
    net: Network, staffs: Sequence[Sequence[int]], orders: Sequence[Sequence[int]], rounds: int, most: int
) -> list[TriedWay]:
    """The best of all staffings in all orders, at most so many, the best first."""
    np = numpy_at_hand(worth_loading=True)
    if np is None:
        return _one_by_one(net, staffs, orders, rounds, most)
    ways, tried = ManyWays(np, net, staffs), []
    for which, order in enumerate(orders):
        missed, finish = ways.timed(order, rounds)
        tried += [
            TriedWay(*both, which, row) for row, both in enumerate(zip(missed.tolist(), finish.tolist(), strict=True))
        ]
    return sorted(tried)[:most]


def _one_by_one(
    net: Network, staffs: Sequence[Sequence[int]], orders: Sequence[Sequence[int]], rounds: int, most: int
) -> list[TriedWay]:
    """The same without numpy. A way is left unfinished once it ends later than so many ways that keep every window."""
    best: list[TriedWay] = []
    for which, order in enumerate(orders):
        for row, staff in enumerate(staffs):
            too_late = best[-1].finish if len(best) == most and not best[-1].violation else NEVER_S
            found = timed(net, staff, order, rounds, too_late)
            if found.finish <= too_late:
                insort(best, TriedWay(found.violation, found.finish, which, row))
                del best[most:]
    return best


class ManyWays:
    """All staffings of a network, ready to be timed in one order after another."""

    def __init__(self, np: Any, net: Network, staffs: Sequence[Sequence[int]]) -> None:
        """`staffs` are rows of who does each step."""
        self.np, self.net = np, net
        self.staff = np.array(staffs, dtype=np.int64).T
        table = np.array([[span or 0 for span in row] for row in net.times], dtype=np.int64)
        self.spans = np.take_along_axis(table, self.staff, axis=1)
        self.every = np.arange(self.staff.shape[1])
        self.places = self.staff * len(self.every) + self.every
        self.pulls = [
            (first, then, least + of_first * self.spans[first] - of_then * self.spans[then])
            for first, then, least, of_first, of_then in net.back
        ]

    def timed(self, order: Sequence[int], rounds: int) -> tuple[Column, Column]:
        """Violation and finish of every staffing when everybody works in this order."""
        np = self.np
        starts = np.repeat(np.array(self.net.release, dtype=np.int64)[:, None], len(self.every), axis=1)
        ends = np.zeros_like(starts)
        finish = self._push_forward(order, starts, ends)
        for _ in range(rounds):
            if not self._pull_back(starts):
                break
            finish = self._push_forward(order, starts, ends)
        missed = np.zeros(len(self.every), dtype=np.int64)
        for first, then, weight in self.pulls:
            missed += np.maximum(0, starts[first] + weight - starts[then])
        for node, last in enumerate(self.net.deadline):
            missed += np.maximum(0, ends[node] - last)
        return missed, finish

    def _push_forward(self, order: Sequence[int], starts: Column, ends: Column) -> Column:
        np, net, every = self.np, self.net, self.every
        free = np.repeat(np.array(net.people_free, dtype=np.int64), len(every))
        for node in order:
            place, span, start = self.places[node], self.spans[node], starts[node]
            np.maximum(start, free.take(place), out=start)
            for first, lag in net.after_end[node]:
                np.maximum(start, ends[first] + lag, out=start)
            for first, lag in net.after_start[node]:
                np.maximum(start, starts[first] + lag, out=start)
            for first, lag in net.end_after_end[node]:
                np.maximum(start, ends[first] + lag - span, out=start)
            free[place] = np.add(start, span, out=ends[node])
        return ends.max(axis=0)

    def _pull_back(self, starts: Column) -> bool:
        changed = False
        for first, then, weight in self.pulls:
            wanted = starts[first] + weight
            if (wanted > starts[then]).any():
                self.np.maximum(starts[then], wanted, out=starts[then])
                changed = True
        return changed
