"""The same work, finished as soon, with the least slack of all its windows made as large as it can be."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from mixclock.decide.plan.search.climber import Solution
from mixclock.decide.plan.search.network import Link, Network, TimedOrder, timed
from mixclock.values import replace

MOST_SLACK_S = 7200
NEAR_ENOUGH_S = 5


class Slack(NamedTuple):
    """The starts that leave most to spare, and how much that is at the least."""

    found: TimedOrder
    least_s: int


def most_slack(net: Network, solution: Solution) -> Slack:
    """Halve the gap between a slack that all windows can have and one that they can't, until it is five seconds."""
    low, high = 0, MOST_SLACK_S
    best = solution.found
    windows = [limit not in net.practice for limit in net.back]
    while high - low > NEAR_ENOUGH_S:
        middle = (low + high) // 2
        tried = timed(_tightened(net, windows, middle), solution.staff, solution.order)
        if tried.violation == 0 and tried.finish <= solution.found.finish:
            low, best = middle, tried
        else:
            high = middle
    return Slack(best, low)


def _tightened(net: Network, windows: Sequence[bool], by: int) -> Network:
    """The network with each limit of a window sooner by some seconds."""
    back = tuple(
        [
            Link(limit.first, limit.then, limit.least + by, limit.of_first, limit.of_then) if of_window else limit
            for limit, of_window in zip(net.back, windows, strict=True)
        ]
    )
    return replace(net, back=back)
