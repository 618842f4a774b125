"""A day's work as a network of steps: who must wait for what, and how long at most.

Each link says `start[then] >= start[first] + least + of_first * time[first] - of_then * time[then]`, in whole seconds.
That one form holds "after it", "starts a minute behind it", "ends behind it" and, turned round with a negative
`least`, every "no later than". With each person's steps in a given order, the earliest starts are the longest paths,
and they are the earliest of all steps at once; where a "no later than" can't be met by waiting, what is missed is the
violation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

NEVER_S = 10**9
"""A deadline where there is none."""


class Link(NamedTuple):
    """One relation between the starts of two steps; see the module's text."""

    first: int
    then: int
    least: int
    of_first: int
    of_then: int


class Timed(NamedTuple):
    """The starts that an order of work gives, what of the windows is missed in all, and when the last step ends."""

    starts: list[int]
    violation: int
    finish: int

    @property
    def cost(self) -> tuple[int, int]:
        """Windows first, then the finish."""
        return self.violation, self.finish


@dataclass(frozen=True)
class Network:
    """Steps with the time each person takes (None: not theirs), links, and bounds on when they may be done."""

    times: tuple[tuple[int | None, ...], ...]
    forward: tuple[tuple[Link, ...], ...]
    back: tuple[Link, ...]
    release: tuple[int, ...]
    deadline: tuple[int, ...]
    after: tuple[frozenset[int], ...]
    before: tuple[frozenset[int], ...]
    people: int
    people_free: tuple[int, ...]
    joints: frozenset[int] = field(default_factory=frozenset)

    @property
    def size(self) -> int:
        """How many steps there are."""
        return len(self.times)

    def able(self, node: int) -> list[int]:
        """Who can do a step."""
        return [person for person, span in enumerate(self.times[node]) if span is not None]


def network(
    times: Sequence[Sequence[int | None]],
    links: Sequence[Link],
    limits: Sequence[Link],
    release: Sequence[int],
    deadline: Sequence[int],
    people_free: Sequence[int] = (),
) -> Network:
    """Sort the links: `links` make a step wait for an earlier one, `limits` hold an earlier step back."""
    size = len(times)
    forward: list[list[Link]] = [[] for _ in range(size)]
    before: list[set[int]] = [set() for _ in range(size)]
    after: list[set[int]] = [set() for _ in range(size)]
    for link in links:
        forward[link.then].append(link)
        before[link.then].add(link.first)
        after[link.first].add(link.then)
    people = len(times[0]) if times else 0
    return Network(
        times=tuple(tuple(row) for row in times),
        forward=tuple(tuple(row) for row in forward),
        back=tuple(sorted(limits, key=lambda limit: -limit.first)),
        release=tuple(release),
        deadline=tuple(deadline),
        before=tuple(frozenset(row) for row in before),
        after=tuple(frozenset(row) for row in after),
        people=people,
        people_free=tuple(people_free) or (0,) * people,
    )


def timed(net: Network, staff: Sequence[int], order: Sequence[int], rounds: int = 0) -> Timed:
    """The earliest starts when `staff[node]` does each step, everybody in this order of work.

    Every person's steps follow each other as they stand in `order`, which must respect the links. What must not lie
    too far behind an earlier step pushes that one later; after `rounds` sweeps without an end the rest is violation.
    """
    spans: list[int] = [row[person] or 0 for row, person in zip(net.times, staff, strict=True)]
    pulls = [
        (link.first, link.then, link.least + link.of_first * spans[link.first] - link.of_then * spans[link.then])
        for link in net.back
    ]
    waits = [
        [
            (link.first, link.least + link.of_first * spans[link.first] - link.of_then * spans[node])
            for link in net.forward[node]
        ]
        for node in order
    ]
    starts = list(net.release)
    for _ in range(rounds or 6 + net.size // 12):
        _push_forward(net, staff, order, waits, spans, starts)
        if not _pull_back(pulls, starts):
            return _counted(net, starts, spans, 0)
    _push_forward(net, staff, order, waits, spans, starts)
    missed = sum(max(0, starts[first] + weight - starts[then]) for first, then, weight in pulls)
    return _counted(net, starts, spans, missed)


def _push_forward(
    net: Network,
    staff: Sequence[int],
    order: Sequence[int],
    waits: Sequence[Sequence[tuple[int, int]]],
    spans: Sequence[int],
    starts: list[int],
) -> None:
    free = list(net.people_free)
    for node, links in zip(order, waits, strict=True):
        person = staff[node]
        start = starts[node]
        start = max(start, free[person])
        for first, weight in links:
            other = starts[first] + weight
            if other > start:
                start = other
        starts[node] = start
        free[person] = start + spans[node]


def _pull_back(pulls: Sequence[tuple[int, int, int]], starts: list[int]) -> bool:
    changed = False
    for first, then, weight in pulls:
        least = starts[first] + weight
        if least > starts[then]:
            starts[then] = least
            changed = True
    return changed


def _counted(net: Network, starts: list[int], spans: Sequence[int], missed: int) -> Timed:
    finish = 0
    for node, start in enumerate(starts):
        end = start + spans[node]
        if end > net.deadline[node]:
            missed += end - net.deadline[node]
        finish = max(finish, end)
    return Timed(starts, missed, finish)
