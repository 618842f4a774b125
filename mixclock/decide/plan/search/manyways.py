"""The same order of work timed for many staffings at once, column by column: what one by one takes most of a search.

Gives for each staffing what `network.timed` gives for it alone, which is also what is asked where numpy is not there.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Sequence
from typing import Any, NamedTuple

from mixclock.decide.plan.floor.meter import A_COLUMN, COLUMN_ROWS
from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search.network import Network, timed
from mixclock.formulas.arrays import numpy_at_hand

FEW = 8
"""So few staffings are timed one by one, which is sooner done than making columns of them."""

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
    np = numpy_at_hand(worth_loading=True) if len(staffs) > FEW else None
    if np is None:
        return _one_by_one(net, staffs, orders, rounds, most)
    ways, tried = ManyWays(np, net, staffs), []
    for which, order in enumerate(orders):
        missed, finish = ways.timed(order, rounds)
        tried += [
            TriedWay(*both, which, row) for row, both in enumerate(zip(missed.tolist(), finish.tolist(), strict=True))
        ]
    return sorted(tried)[:most]


def work_of(net: Network, staffs: int, orders: int) -> int:
    """What it costs to look for the best of so many staffings in so many orders, with or without numpy: a machine that
    lacks it gives up at the same place.

    >>> from mixclock.decide.plan.search.network import network
    >>> step = network([(60,)], [], [], [0], [100])
    >>> work_of(step, 1, 18), work_of(step, 160, 18)
    (18, 684)
    """
    return orders * net.size * (staffs if staffs <= FEW else A_COLUMN + staffs // COLUMN_ROWS)


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
        self.span_rows, self.place_rows = list(self.spans), list(self.places)
        self.pulls = [
            (first, then, least + of_first * self.spans[first] - of_then * self.spans[then])
            for first, then, least, of_first, of_then in net.back
        ]
        self.room = np.empty(len(self.every), dtype=np.int64)

    def timed(self, order: Sequence[int], rounds: int) -> tuple[Column, Column]:
        """Violation and finish of every staffing when everybody works in this order."""
        np = self.np
        begun = np.repeat(np.array(self.net.release, dtype=np.int64)[:, None], len(self.every), axis=1)
        ended = np.zeros_like(begun)
        starts, ends = list(begun), list(ended)  # rows are looked up faster in a list
        self._push_forward(order, starts, ends)
        for _ in range(rounds):
            if not self._pull_back(starts):
                break
            self._push_forward(order, starts, ends)
        missed = np.zeros(len(self.every), dtype=np.int64)
        for first, then, weight in self.pulls:
            missed += np.maximum(0, starts[first] + weight - starts[then])
        for node, last in self.net.due:
            missed += np.maximum(0, ends[node] - last)
        if self.net.tails:
            ended += np.array(self.net.tails, dtype=np.int64)[:, None]
        return missed, ended.max(axis=0)

    def _push_forward(self, order: Sequence[int], starts: Sequence[Column], ends: Sequence[Column]) -> None:
        np, net, room = self.np, self.net, self.room
        add, maximum = np.add, np.maximum
        free = np.repeat(np.array(net.people_free, dtype=np.int64), len(self.every))
        for node in order:
            place, span, start = self.place_rows[node], self.span_rows[node], starts[node]
            maximum(start, free.take(place), out=start)
            for first, lag in net.after_end[node]:
                maximum(start, add(ends[first], lag, out=room) if lag else ends[first], out=start)
            for first, lag in net.after_start[node]:
                maximum(start, add(starts[first], lag, out=room) if lag else starts[first], out=start)
            for first, lag in net.end_after_end[node]:
                maximum(start, np.subtract(add(ends[first], lag, out=room), span, out=room), out=start)
            free[place] = add(start, span, out=ends[node])

    def _pull_back(self, starts: Sequence[Column]) -> bool:
        np, room, changed = self.np, self.room, False
        for first, then, weight in self.pulls:
            wanted = np.add(starts[first], weight, out=room)
            if np.greater(wanted, starts[then]).any():
                np.maximum(starts[then], wanted, out=starts[then])
                changed = True
        return changed
