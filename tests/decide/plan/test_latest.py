"""The latest starts of a plan's steps: a step that waits a second longer than that ends the day later."""

from __future__ import annotations

import random
from collections.abc import Iterator

from mixclock.decide.plan.search.climber import Solution
from mixclock.decide.plan.search.network import Link, Network, network, timed
from mixclock.decide.plan.search.slack import latest_starts
from mixclock.values import replace
from tests.decide.plan.test_manyways import some_work

NEVER = [10**9] * 4


def solved(net: Network, staff: tuple[int, ...], order: tuple[int, ...]) -> Solution:
    """The steps of a net by these hands in this order."""
    return Solution((), staff, order, timed(net, staff, order))


def test_who_waits_for_the_floor_may_do_what_comes_before_it_later() -> None:
    """A bucket is poured (60 s) and rolled (100 s); the next opens at 1000 s and takes as long, until 1160 s. So the
    first may be rolled from 900 s on and poured at 840 s.
    """
    after = [Link(0, 1, 0, 1, 0), Link(2, 3, 0, 1, 0)]
    net = network([[60], [100], [60], [100]], after, [Link(1, 0, -30, 0, 1)], [0, 0, 1000, 0], NEVER)
    plan = solved(net, (0, 0, 0, 0), (0, 1, 2, 3))
    assert plan.found.starts == [0, 60, 1000, 1060]
    assert latest_starts(net, plan) == [840, 900, 1000, 1060]


def delayed(net: Network, node: int, to_s: int) -> Network:
    """The net with a step that cannot begin before then."""
    return replace(net, release=tuple(to_s if each == node else at for each, at in enumerate(net.release)))


def plans() -> Iterator[tuple[Network, Solution]]:
    """Plans that keep every limit of a random net."""
    for seed in range(150):
        net, order, staffs = some_work(random.Random(seed))
        net = replace(net, tails=())
        tried = (solved(net, staff, tuple(order)) for staff in staffs)
        yield from ((net, plan) for plan in tried if plan.feasible)


def test_each_step_may_wait_until_its_latest_start_and_not_a_second_longer() -> None:
    looked_at = 0
    for net, plan in plans():
        for node, at in enumerate(latest_starts(net, plan)):
            for late_s, kept in ((0, True), (1, False)):
                again = timed(delayed(net, node, at + late_s), plan.staff, plan.order, rounds=50)
                assert (again.violation == 0 and again.finish <= plan.found.finish) is kept
                looked_at += 1
    assert looked_at > 1000
