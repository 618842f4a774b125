"""The same work, finished as soon, with the least slack of its windows as large as can be, then the next least; and how
long each step may wait."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from mixclock.decide.plan.search.climber import Solution
from mixclock.decide.plan.search.network import Network, TimedOrder, timed
from mixclock.values import replace

MOST_SLACK_S = 7200
NEAR_ENOUGH_S = 5

MOST_LEVELS, MOST_WINDOWS, WORTH_SPARING_S = 5, 60, 30
"""So often the windows that may still have more are given it, where there are so few, by at least so much (judgement):
later gains are small, and on a hall each try takes long."""


class Slack(NamedTuple):
    """The starts that leave most to spare, and how much that is at the least."""

    found: TimedOrder
    least_s: int


def most_slack(net: Network, solution: Solution) -> Slack:
    """Halve the gap between a slack that all windows can have and one that they can't, until it is five seconds."""
    windows = [limit not in net.practice for limit in net.back]
    return _most_for(net, solution, windows, [0] * len(windows), Slack(solution.found, 0))


def most_slack_each(net: Network, solution: Solution) -> Slack:
    """The same; then the windows that can have more than the tightest get it, level by level: what one step can't have
    is no reason to hurry the others."""
    best = least = most_slack(net, solution)
    free = [limit not in net.practice for limit in net.back]
    if sum(free) > MOST_WINDOWS:
        return best
    kept, level_s = [0] * len(free), 0
    for _ in range(MOST_LEVELS):
        level_s = best.least_s
        kept = [level_s if may else known for may, known in zip(free, kept, strict=True)]
        free = [may and _may_have_more(net, solution, kept, at) for at, may in enumerate(free)]
        if not any(free):
            break
        best = _most_for(net, solution, free, kept, best)
        if best.least_s - level_s < WORTH_SPARING_S:
            break
    return Slack(best.found, least.least_s)


def _most_for(net: Network, solution: Solution, windows: Sequence[bool], kept: Sequence[int], known: Slack) -> Slack:
    low, high, best = known.least_s, MOST_SLACK_S, known.found
    while high - low > NEAR_ENOUGH_S:
        middle = (low + high) // 2
        tried = _with_slack(net, solution, [middle if may else by for may, by in zip(windows, kept, strict=True)])
        if tried is not None:
            low, best = middle, tried
        else:
            high = middle
    return Slack(best, low)


def _may_have_more(net: Network, solution: Solution, kept: Sequence[int], at: int) -> bool:
    return _with_slack(net, solution, [*kept[:at], kept[at] + WORTH_SPARING_S, *kept[at + 1 :]]) is not None


def _with_slack(net: Network, solution: Solution, by_s: Sequence[int]) -> TimedOrder | None:
    """The work with each limit of a window sooner by some seconds; None if it misses one then, or ends later."""
    back = tuple(
        [limit._replace(least=limit.least + by) if by else limit for limit, by in zip(net.back, by_s, strict=True)]
    )
    tried = timed(replace(net, back=back), solution.staff, solution.order)
    return tried if tried.violation == 0 and tried.finish <= solution.found.finish else None


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
