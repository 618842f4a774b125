"""A day's work as a network of steps: who must wait for what, and how long at most.

Each link says `start[then] >= start[first] + least + of_first * time[first] - of_then * time[then]`, in whole seconds.
That one form holds "after it", "starts a minute behind it", "ends behind it" and, turned round with a negative
`least`, every "no later than". With each person's steps in a given order, the earliest starts are the longest paths,
and they are the earliest of all steps at once; where a "no later than" can't be met by waiting, what is missed is the
violation.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from operator import add
from typing import NamedTuple, cast

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


class NotTheirsError(ValueError):
    """A step stands with somebody who can't do it: the search is wrong, and no plan may hide that."""


class TimedOrder(NamedTuple):
    """The starts that an order of work gives, what of the windows is missed in all, and when the last step ends with
    what follows it."""

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
    """Those of `back` that are no window but a habit of the crew. They need nothing to spare."""

    tails: tuple[int, ...] = ()
    """For how long each step is followed by what is not in the network; empty where nothing follows any."""

    @cached_property
    def due(self) -> tuple[tuple[int, int], ...]:
        """The steps that have to be over by an instant, with that instant."""
        return tuple((node, last) for node, last in enumerate(self.deadline) if last < NEVER_S)

    @property
    def size(self) -> int:
        """How many steps there are."""
        return len(self.times)

    def span(self, node: int, person: int) -> int:
        """How long a step takes a person who does it; `NotTheirsError` if that is nobody who does."""
        span = self.times[node][person]
        if span is None:
            raise NotTheirsError(f"step {node} is given to person {person}, who can't do it")
        return span

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
    tails: Sequence[int] = (),
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
        tails=tuple(tails) if any(tails) else (),
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
    """The first part of an order of work that is not to be changed any more: its steps with their starts, what they
    take, and when each person is done with them after which step. Only what is left is looked at."""

    steps: frozenset[int] = frozenset()
    starts: tuple[int, ...] = ()
    spans: tuple[int, ...] = ()
    last: tuple[int, ...] = ()
    free: tuple[int, ...] = ()
    back: tuple[Link, ...] = ()
    """The limits on how far a step may lie behind an earlier one, for the steps that are left."""

    @property
    def count(self) -> int:
        """How many steps are settled."""
        return len(self.steps)


def settled_part(net: Network, held: Sequence[int], staff: Sequence[int], starts: Sequence[int]) -> SettledPart:
    """The steps that are `held`, in their order, with the hands and the starts that they have."""
    size, steps = net.size, frozenset(held)
    at, spans, last, free = [0] * size, [0] * size, [-1] * net.people, list(net.people_free)
    for node in held:
        person = staff[node]
        at[node], spans[node] = starts[node], net.span(node, person)
        last[person], free[person] = node, max(free[person], at[node] + spans[node])
    back = tuple(link for link in net.back if link.first not in steps)
    return SettledPart(steps, tuple(at), tuple(spans), tuple(last), tuple(free), back)


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
    Steps that are `settled` keep their starts; what would have to push them is violation. `NotTheirsError` where a step
    is given to somebody who can't do it.
    """
    day = _Day(net, staff, settled)
    rest = order[settled.count :] if settled.count else order
    try:
        day.begin(rest)
    except TypeError:  # nobody asks of each step whether it is theirs: what is None can't be added
        for node in rest:
            net.span(node, staff[node])
        raise
    pulls = day.pulls()
    movable = [pull for pull in pulls if pull[1] not in settled.steps] if settled.count else pulls
    for _ in range(rounds):
        if max(day.ends) > too_late:
            return TimedOrder(day.starts, NEVER_S, max(day.ends))
        if not day.pull_back(movable):
            break
        day.push_forward(rest)
    starts, ends = day.starts, day.ends
    missed = sum([late for first, then, weight in pulls if (late := starts[first] + weight - starts[then]) > 0])
    missed += sum([ends[node] - last for node, last in net.due if ends[node] > last])
    return TimedOrder(starts, missed, max(map(add, ends, net.tails)) if net.tails else max(ends))


class _Day:
    """One order of work while it is timed: starts, ends, and the step that somebody does before and after each step;
    the last place of a list stands for no step."""

    def __init__(self, net: Network, staff: Sequence[int], settled: SettledPart) -> None:
        self.net, self.staff = net, staff
        size = net.size
        self.moved, self.before, self.after = [False] * (size + 1), [-1] * size, [-1] * (size + 1)
        if settled.count:
            self.back = settled.back
            self.starts, self.spans = list(settled.starts), list(settled.spans)
            self.ends = [*map(add, settled.starts, settled.spans), 0]
            self.last, self.free = list(settled.last), list(settled.free)
        else:
            self.back = net.back
            self.starts, self.spans, self.ends = [0] * size, [0] * size, [0] * (size + 1)
            self.last, self.free = [-1] * net.people, list(net.people_free)

    def begin(self, order: Sequence[int]) -> None:
        """The first sweep: each step starts when its person is free and all that it waits for is there."""
        net, staff, starts, ends, spans = self.net, self.staff, self.starts, self.ends, self.spans
        times, release, before, after, last, free = (
            cast("Sequence[Sequence[int]]", net.times),
            net.release,
            self.before,
            self.after,
            self.last,
            self.free,
        )
        after_end, after_start, end_after_end = net.after_end, net.after_start, net.end_after_end
        for node in order:
            person = staff[node]
            span = spans[node] = times[node][person]
            start = free[person]
            if release[node] > start:
                start = release[node]
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
            before[node] = last[person]
            after[last[person]] = last[person] = node

    def pulls(self) -> list[tuple[int, int, int]]:
        """The limits on how far a step may lie behind an earlier one, by the time that these hands need."""
        spans = self.spans
        return [
            (first, then, least + of_first * spans[first] - of_then * spans[then])
            for first, then, least, of_first, of_then in self.back
        ]

    def push_forward(self, order: Sequence[int]) -> None:  # noqa: C901 - a call for each link would take half again as long
        """One more sweep. It looks only at steps that were `moved` or that wait for such a step; afterwards none is
        left to move."""
        net, starts, ends, spans, moved = self.net, self.starts, self.ends, self.spans, self.moved
        before, after = self.before, self.after
        after_end, after_start, end_after_end, waits = net.after_end, net.after_start, net.end_after_end, net.after
        for node in order:
            if not moved[node]:
                continue
            moved[node] = False
            start, span = starts[node], spans[node]
            if ends[before[node]] > start:
                start = ends[before[node]]
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
            if start + span != ends[node]:
                ends[node] = start + span
                moved[after[node]] = True
                for then in waits[node]:
                    moved[then] = True

    def pull_back(self, pulls: Sequence[tuple[int, int, int]]) -> bool:
        """Move the earlier step of each limit that is broken. True if anything was moved."""
        starts, moved, changed = self.starts, self.moved, False
        for first, then, weight in pulls:
            if starts[first] + weight > starts[then]:
                starts[then] = starts[first] + weight
                changed = moved[then] = True
        return changed
