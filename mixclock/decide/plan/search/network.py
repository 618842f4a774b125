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
    starts = [max(begin, net.people_free[person]) for begin, person in zip(net.release, staff, strict=True)]
    ends = [0] * (net.size + 1)  # the last place stands for no step
    held = order[: settled.count]
    for node in held:
        starts[node] = settled.starts[node]
        ends[node] = starts[node] + spans[node]
    rest = order[settled.count :] if held else order
    hands = _hands(net, staff, order)
    pulls = [
        (first, then, least + of_first * spans[first] - of_then * spans[then])
        for first, then, least, of_first, of_then in net.back
    ]
    if held:
        fixed = frozenset(held)
        pulls = [pull for pull in pulls if pull[0] not in fixed]
    movable = [pull for pull in pulls if pull[1] not in fixed] if held else pulls
    moved = [True] * (net.size + 1)
    for _ in range(rounds):
        _push_forward(net, rest, spans, starts, ends, hands, moved)
        finish = max(ends)
        if finish > too_late:
            return TimedOrder(starts, NEVER_S, finish)
        if not _pull_back(movable, starts, moved):
            break
    else:
        _push_forward(net, rest, spans, starts, ends, hands, moved)
    missed = sum([late for first, then, weight in pulls if (late := starts[first] + weight - starts[then]) > 0])
    return _counted(net, starts, ends[:-1], missed)


class _Hands(NamedTuple):
    """The step that somebody does before each step, and after it; -1 where there is none."""

    before: list[int]
    after: list[int]


def _hands(net: Network, staff: Sequence[int], order: Sequence[int]) -> _Hands:
    found = _Hands([-1] * net.size, [-1] * net.size)
    last = [-1] * net.people
    for node in order:
        person = staff[node]
        before = last[person]
        if before >= 0:
            found.before[node] = before
            found.after[before] = node
        last[person] = node
    return found


def _push_forward(
    net: Network,
    order: Sequence[int],
    spans: Sequence[int],
    starts: list[int],
    ends: list[int],
    hands: _Hands,
    moved: list[bool],
) -> None:
    """One sweep: each step starts when its person is free and all that it waits for is there. Only what was `moved`,
    or waits for what was, is looked at; nothing is moved after it."""
    after_end, after_start, end_after_end, waits = net.after_end, net.after_start, net.end_after_end, net.after
    before, after = hands
    for node in order:
        if not moved[node]:
            continue
        moved[node] = False
        start = max(starts[node], ends[before[node]])
        for first, lag in after_end[node]:
            if ends[first] + lag > start:
                start = ends[first] + lag
        for first, lag in after_start[node]:
            if starts[first] + lag > start:
                start = starts[first] + lag
        span = spans[node]
        for first, lag in end_after_end[node]:
            if ends[first] + lag - span > start:
                start = ends[first] + lag - span
        starts[node] = start
        if start + span != ends[node]:
            ends[node] = start + span
            _mark(moved, after[node], waits[node])


def _mark(moved: list[bool], after: int, waits: frozenset[int]) -> None:
    moved[after] = True
    for then in waits:
        moved[then] = True


def _pull_back(pulls: Sequence[tuple[int, int, int]], starts: list[int], moved: list[bool]) -> bool:
    changed = False
    for first, then, weight in pulls:
        if starts[first] + weight > starts[then]:
            starts[then] = starts[first] + weight
            changed = moved[then] = True
    return changed


def _counted(net: Network, starts: list[int], ends: list[int], missed: int) -> TimedOrder:
    missed += sum([end - last for end, last in zip(ends, net.deadline, strict=True) if end > last])
    return TimedOrder(starts, missed, max(ends, default=0))
