"""Many staffings timed at once are timed as each is alone."""

from __future__ import annotations

import random

import numpy as np
import pytest

from mixclock.decide.plan.search.climber import legal
from mixclock.decide.plan.search.manyways import ManyWays, best_ways
from mixclock.decide.plan.search.network import Link, Network, network, timed
from tests.lacking import without_numpy


def some_work(dice: random.Random) -> tuple[Network, list[int], list[tuple[int, ...]]]:
    """A net of steps, an order that it allows, and twelve staffings."""
    size, people = dice.randint(3, 14), dice.randint(1, 3)
    times = [[dice.choice((None, dice.randint(10, 90))) for _ in range(people)] for _ in range(size)]
    for row in times:
        row[dice.randrange(people)] = dice.randint(10, 90)
    pairs = [(a, b) for b in range(size) for a in range(b) if dice.random() < 0.3]
    forms = ((1, 0), (0, 0), (1, 1))
    links = [Link(a, b, dice.randint(0, 20), *dice.choice(forms)) for a, b in pairs]
    limits = [Link(b, a, -dice.randint(20, 200), *dice.choice(forms)) for a, b in pairs if dice.random() < 0.5]
    release = [dice.choice((0, 0, dice.randint(0, 90))) for _ in range(size)]
    deadline = [dice.choice((10**9, 300)) for _ in range(size)]
    tails = [dice.choice((0, 0, dice.randint(0, 400))) for _ in range(size)]
    net = network(times, links, limits, release, deadline, tails=tails)
    staffs = [tuple(dice.choice(net.able(node)) for node in range(size)) for _ in range(12)]
    return net, legal(net, dice.sample(range(size), size)), staffs


@pytest.mark.parametrize("seed", range(20))
def test_a_staffing_among_many_gets_the_times_that_it_has_alone(seed: int) -> None:
    net, order, staffs = some_work(random.Random(seed))
    missed, finish = ManyWays(np, net, staffs).timed(order, 4)
    alone = [timed(net, staff, order, rounds=4) for staff in staffs]
    assert [int(each) for each in missed] == [each.violation for each in alone]
    assert [int(each) for each in finish] == [each.finish for each in alone]


@pytest.mark.parametrize("seed", range(20))
def test_a_laptop_without_numpy_begins_a_plan_with_the_same_ways(seed: int) -> None:
    dice = random.Random(seed)
    net, order, staffs = some_work(dice)
    orders = [order, *(legal(net, dice.sample(range(net.size), net.size)) for _ in range(4))]
    with_it = best_ways(net, staffs, orders, 4, 5)
    with without_numpy():
        assert best_ways(net, staffs, orders, 4, 5) == with_it
    assert len(with_it) == 5
