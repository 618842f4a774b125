"""A day's work as a network of steps: who must wait for what, and how long at most.

Each link says `start[then] >= start[first] + least + of_first * time[first] - of_then * time[then]`, in whole seconds.
That one form holds "after it", "starts a minute behind it", "ends behind it" and, turned round with a negative
`least`, every "no later than". With each person's steps in a given order, the earliest starts are the longest paths,
and they are the earliest of all steps at once; where a "no later than" can't be met by waiting, what is missed is the
violation.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.values import dataclass

MOST_SWEEPS = 8
"""Over 50,000 timings that kept every window, of floors of 2 to 200 bays, none needed more than 5."""


class Link(NamedTuple):
    """One relation between the starts of two steps; see the module's text."""

    first: int
    then: int
    least: int
    of_first: int
    of_then: int


class TimedOrder(NamedTuple):
    """The starts that an order of work gives, what of the windows is missed in all, and when the last step ends."""

    starts: list[int]
    violation: int
    finish: int

    @property
    def cost(self) -> tuple[int, int]:
        """Windows first, then the finish."""
        return self.violation, self.finish


Lag = tuple[int, int]
"""The step that is waited for, and by how many seconds."""


@dataclass(frozen=True)
class Network:
    """Steps with the time each person takes (None: not theirs), links, and bounds on when they may be done.

    `after_end`, `after_start` and `end_after_end` hold, for each step, what it waits for, by the form of the link.
    """

    times: tuple[tuple[int | None, ...], ...]
    after_end: tuple[tuple[Lag, ...], ...]
    after_start: tuple[tuple[Lag, ...], ...]
    end_after_end: tuple[tuple[Lag, ...], ...]
    back: tuple[Link, ...]
    release: tuple[int, ...]
    deadline: tuple[int, ...]
    after: tuple[frozenset[int], ...]
    before: tuple[frozenset[int], ...]
    people: int
    people_free: tuple[int, ...]
    practice: frozenset[Link] = frozenset()
    """Those of `back` that are no window but how a crew works: they need nothing to spare."""

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
    practice: Sequence[Link] = (),
) -> Network:
    """Sort the links: `links` make a step wait for an earlier one, `limits` hold an earlier step back."""
    size = len(times)
    forms: dict[tuple[int, int], list[list[Lag]]] = {
        form: [[] for _ in range(size)] for form in ((1, 0), (0, 0), (1, 1))
    }
    before: list[set[int]] = [set() for _ in range(size)]
    after: list[set[int]] = [set() for _ in range(size)]
    for link in links:
        forms[link.of_first, link.of_then][link.then].append((link.first, link.least))
        before[link.then].add(link.first)
        after[link.first].add(link.then)
    people = len(times[0]) if times else 0
    return Network(
        times=tuple(tuple(row) for row in times),
        after_end=tuple(tuple(row) for row in forms[1, 0]),
        after_start=tuple(tuple(row) for row in forms[0, 0]),
        end_after_end=tuple(tuple(row) for row in forms[1, 1]),
        practice=frozenset(practice),
        back=tuple(sorted((*limits, *practice), key=lambda limit: -limit.first)),
        release=tuple(release),
        deadline=tuple(deadline),
        before=tuple(frozenset(row) for row in before),
        after=tuple(frozenset(row) for row in after),
        people=people,
        people_free=tuple(people_free) or (0,) * people,
    )


@dataclass(frozen=True)
class SettledPart:
    """The first part of an order of work, with its starts, that is not to be changed any more."""

    count: int = 0
    starts: tuple[int, ...] = ()


NOTHING_SETTLED = SettledPart()


def timed(
    net: Network,
    staff: Sequence[int],
    order: Sequence[int],
    rounds: int = MOST_SWEEPS,
    too_late: int = NEVER_S,
    settled: SettledPart = NOTHING_SETTLED,
) -> TimedOrder:
    """The earliest starts when `staff[node]` does each step, everybody in this order of work.

    Every person's steps follow each other as they stand in `order`, which must respect the links. What must not lie
    too far behind an earlier step pushes that one later; after `rounds` sweeps without an end the rest is violation.
    Starts only grow from sweep to sweep, so a finish beyond `too_late` ends the timing: nobody wants to know more.
    Steps that are `settled` keep their starts; what would have to push them is violation.
    """
    spans = [row[person] or 0 for row, person in zip(net.times, staff, strict=True)]
    starts = list(net.release)
    ends = [0] * len(starts)
    free = list(net.people_free)
    held = frozenset(order[: settled.count])
    for node in order[: settled.count]:
        starts[node] = settled.starts[node]
        ends[node] = free[staff[node]] = starts[node] + spans[node]
    rest = order[settled.count :] if settled.count else order
    pulls = [
        (first, then, least + of_first * spans[first] - of_then * spans[then])
        for first, then, least, of_first, of_then in net.back
        if first not in held
    ]
    movable = [pull for pull in pulls if pull[1] not in held] if held else pulls
    for _ in range(rounds):
        finish = _push_forward(net, staff, rest, spans, starts, ends, free)
        if finish > too_late:
            return TimedOrder(starts, NEVER_S, finish)
        if not _pull_back(movable, starts):
            break
    else:
        _push_forward(net, staff, rest, spans, starts, ends, free)
    missed = sum(max(0, starts[first] + weight - starts[then]) for first, then, weight in pulls)
    return _counted(net, starts, ends, missed)


def _push_forward(
    net: Network,
    staff: Sequence[int],
    order: Sequence[int],
    spans: Sequence[int],
    starts: list[int],
    ends: list[int],
    people_free: Sequence[int],
) -> int:
    """One sweep: each step starts when its person is free and all that it waits for is there; the latest end."""
    free = list(people_free)
    after_end, after_start, end_after_end = net.after_end, net.after_start, net.end_after_end
    for node in order:
        person, span = staff[node], spans[node]
        start = starts[node]
        if free[person] > start:
            start = free[person]
        for first, lag in after_end[node]:
            if ends[first] + lag > start:
                start = ends[first] + lag
        for first, lag in after_start[node]:
            if starts[first] + lag > start:
                start = starts[first] + lag
        for first, lag in end_after_end[node]:
            if ends[first] + lag - span > start:
                start = ends[first] + lag - span
        starts[node] = start
        free[person] = ends[node] = start + span
    return max(free)


def _pull_back(pulls: Sequence[tuple[int, int, int]], starts: list[int]) -> bool:
    changed = False
    for first, then, weight in pulls:
        if starts[first] + weight > starts[then]:
            starts[then] = starts[first] + weight
            changed = True
    return changed


def _counted(net: Network, starts: list[int], ends: list[int], missed: int) -> TimedOrder:
    missed += sum(end - last for end, last in zip(ends, net.deadline, strict=True) if end > last)
    return TimedOrder(starts, missed, max(ends, default=0))
