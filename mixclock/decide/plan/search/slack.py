"""The same work, finished as soon, with the least slack of its windows as large as can be; and how long each step may
wait."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
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


def latest_starts(net: Network, solution: Solution) -> list[int]:
    """When each step has to start at the latest, by the same hands in the same order, so that the last one ends no
    later: as if everybody could wait for nothing but the others."""
    spans = [net.span(node, person) for node, person in enumerate(solution.staff)]
    over = max(start + span for start, span in zip(solution.found.starts, spans, strict=True))
    latest = [min(over, last) - span for last, span in zip(net.deadline, spans, strict=True)]
    waits = [*_waits(net, spans), *_one_by_one(solution, spans)]
    moved = True
    while moved:
        moved = False
        for first, then, least in waits:
            if latest[then] - least < latest[first]:
                latest[first], moved = latest[then] - least, True
    return latest


def _waits(net: Network, spans: Sequence[int]) -> Iterator[tuple[int, int, int]]:
    """Which step starts how long after the start of which other at the least."""
    for then in range(net.size):
        yield from ((first, then, spans[first] + lag) for first, lag in net.after_end[then])
        yield from ((first, then, lag) for first, lag in net.after_start[then])
        yield from ((first, then, spans[first] + lag - spans[then]) for first, lag in net.end_after_end[then])
    for first, then, least, of_first, of_then in net.back:
        yield first, then, least + of_first * spans[first] - of_then * spans[then]


def _one_by_one(solution: Solution, spans: Sequence[int]) -> Iterator[tuple[int, int, int]]:
    """The same for the steps of each person."""
    last: dict[int, int] = {}
    for node in solution.order:
        person = solution.staff[node]
        if person in last:
            yield last[person], node, spans[last[person]]
        last[person] = node
