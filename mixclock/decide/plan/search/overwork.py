"""More work than hands, proven without a search: seen from one step, or from the beginning of the day, every other step
has a stretch of time in which it must fall, and the hands that can do the steps of a stretch have only so many seconds.

No window is looked at by itself: the links of all of them are followed from step to step, each with the quickest or the
slowest hands, whichever leaves more time. So what is refused here is refused in every order of work, by all staffings.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search.network import Network

FAR_S = NEVER_S
"""So far from the step that it is seen from, a step has no stretch of its own."""

MOST_FOLLOWED = 12
"""So often the links are followed; with fewer the stretches are only longer than they need be."""

MOST_STEPS = 90
"""Larger floors are not looked at: what they miss, their joints show."""


def too_much_work(net: Network, seen_from: Iterable[int] = ()) -> bool:
    """Whether some hands are proven to have more work in some stretch than time, seen from the beginning of the day and
    from these steps."""
    if net.size > MOST_STEPS:
        return False
    quickest, slowest = ([pick(span for span in row if span is not None) for row in net.times] for pick in (min, max))
    hands = [frozenset(net.able(node)) for node in range(net.size)]
    links = _links(net, quickest, slowest)
    stretches = [_of_the_day(net, quickest, hands), *(_around(net.size, node) for node in seen_from)]
    return any(_is_overfull(links, *stretch, quickest, slowest, hands) for stretch in stretches)


Links = Sequence[tuple[int, int, int]]
"""By how many seconds the second of two steps begins later than the first, at the least."""


def _links(net: Network, quickest: Sequence[int], slowest: Sequence[int]) -> Links:
    found: list[tuple[int, int, int]] = []
    for then in range(net.size):
        found += [(first, then, lag + quickest[first]) for first, lag in net.after_end[then]]
        found += [(first, then, lag) for first, lag in net.after_start[then]]
        found += [(first, then, lag + quickest[first] - slowest[then]) for first, lag in net.end_after_end[then]]
    pulls = [
        (first, then, least + of_first * quickest[first] - of_then * slowest[then])
        for first, then, least, of_first, of_then in net.back
    ]
    return (*found, *pulls)


Stretch = tuple[list[int], list[int]]
"""When each step begins at the soonest and at the latest."""


def _of_the_day(net: Network, quickest: Sequence[int], hands: Sequence[frozenset[int]]) -> Stretch:
    free = [max(net.release[node], min(net.people_free[person] for person in hands[node])) for node in range(net.size)]
    return free, [net.deadline[node] - quickest[node] for node in range(net.size)]


def _around(size: int, node: int) -> Stretch:
    soonest, latest = [-FAR_S] * size, [FAR_S] * size
    soonest[node] = latest[node] = 0
    return soonest, latest


def _is_overfull(
    links: Links,
    soonest: list[int],
    latest: list[int],
    quickest: Sequence[int],
    slowest: Sequence[int],
    hands: Sequence[frozenset[int]],
) -> bool:
    _follow(links, soonest, latest)
    if any(one > other for one, other in zip(soonest, latest, strict=True)):
        return True
    seen = [node for node, last in enumerate(latest) if soonest[node] > -FAR_S // 2 and last < FAR_S // 2]
    over = {node: latest[node] + slowest[node] for node in seen}
    seen.sort(key=over.__getitem__)
    for group in {*hands, frozenset[int]().union(*hands)}:
        mine = [(soonest[node], over[node], quickest[node]) for node in seen if hands[node] <= group]
        if _have_too_little_time(mine, len(group)):
            return True
    return False


def _follow(links: Links, soonest: list[int], latest: list[int]) -> None:
    """Each step moved as far as its links move it."""
    for _ in range(MOST_FOLLOWED):
        changed = False
        for first, then, by_s in links:
            if soonest[first] + by_s > soonest[then]:
                soonest[then] = soonest[first] + by_s
                changed = True
            if latest[then] - by_s < latest[first]:
                latest[first] = latest[then] - by_s
                changed = True
        if not changed:
            break


def _have_too_little_time(steps: Sequence[tuple[int, int, int]], hands: int) -> bool:
    """Whether so many hands can't do all steps that fall into some stretch: steps as soonest start, latest end and
    span, by their ends."""
    for begins in {soonest for soonest, _, _ in steps}:
        work = 0
        for soonest, over, span in steps:
            if soonest >= begins:
                work += span
                if work > hands * (over - begins):
                    return True
    return False
