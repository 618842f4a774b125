"""Areas and edges of simple outlines: a floor measured by its sides, circles and corners. Lengths in m, areas in m²."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations, pairwise

Corner = tuple[float, float]


def sector_m2(radius_m: float, share: float = 1.0) -> float:
    """Area of a share of a circle: `share * pi * r²`; share 0.25 is a quarter circle.

    Valid for radius >= 0 and 0 < share <= 1. Source: any book of plane geometry.

    >>> round(sector_m2(3.0), 2), round(sector_m2(2.0, 0.25), 4)
    (28.27, 3.1416)
    """
    return share * math.pi * radius_m**2


def sector_edge_m(radius_m: float, share: float = 1.0) -> float:
    """Its edge: the arc `share * 2 * pi * r`, and both straight sides where it is no whole circle.

    >>> round(sector_edge_m(1.0), 4), round(sector_edge_m(2.0, 0.25), 4)
    (6.2832, 7.1416)
    """
    arc = share * 2.0 * math.pi * radius_m
    return arc if share >= 1.0 else arc + 2.0 * radius_m


def polygon_m2(corners: Sequence[Corner]) -> float:
    """Area inside corners given in order, by Gauss's (the shoelace) formula: `|sum(x_i*y_j - x_j*y_i)| / 2`, j = i + 1.

    Valid for outlines that do not cross themselves.

    >>> polygon_m2([(3, 4), (5, 11), (12, 8), (9, 5), (5, 6)])
    30.0
    """
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise([*corners, corners[0]]))) / 2.0


def polygon_edge_m(corners: Sequence[Corner]) -> float:
    """The sum of the sides.

    >>> polygon_edge_m([(0, 0), (3, 0), (3, 4)])
    12.0
    """
    return sum(math.dist(a, b) for a, b in pairwise([*corners, corners[0]]))


def crosses_itself(corners: Sequence[Corner]) -> bool:
    """Whether two sides that are not neighbours meet: the corners are then not in order.

    >>> crosses_itself([(0, 0), (4, 0), (4, 3), (0, 3)]), crosses_itself([(0, 0), (4, 3), (4, 0), (0, 3)])
    (False, True)
    """
    sides = list(pairwise([*corners, corners[0]]))
    last = len(sides) - 1
    return any(
        _meet(*one, *other)
        for (i, one), (j, other) in combinations(enumerate(sides), 2)
        if j - i > 1 and (i, j) != (0, last)
    )


def _meet(a: Corner, b: Corner, c: Corner, d: Corner) -> bool:
    """Whether the stretches a-b and c-d have a point in common."""
    turns = _turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b)
    if turns[0] * turns[1] < 0 and turns[2] * turns[3] < 0:
        return True
    ends = zip(turns, ((a, b, c), (a, b, d), (c, d, a), (c, d, b)), strict=True)
    return any(turn == 0 and _within(*row) for turn, row in ends)


def _turn(a: Corner, b: Corner, c: Corner) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _within(a: Corner, b: Corner, c: Corner) -> bool:
    return all(min(a[axis], b[axis]) <= c[axis] <= max(a[axis], b[axis]) for axis in (0, 1))
