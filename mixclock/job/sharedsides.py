"""The sides that an area shares with its neighbours: nobody cuts in where one wet film runs into the next."""

from __future__ import annotations

import math
from collections.abc import Sequence

from mixclock.job.site import Area

ALIKE = 0.02
"""Two sides that differ by no more than this share count as one side (judgement)."""

MOST_SHARED = 0.75
"""At most this share of an area's outline may lie along neighbours: some wall is always left (judgement)."""


def shared_m(area: Area, neighbours: Sequence[Area]) -> float:
    """How much of an area's outline lies along its neighbours, in m, judged by their sizes.

    Two measured floors share the longest side that both have. Others share the shortest of their sides, which errs
    towards more to cut in. A plain size counts as a square.

    >>> from mixclock.job.floorshape import read_shape
    >>> bays = [Area(name, 24.0, shape=read_shape("4 m x 6 m")) for name in ("bay 1", "bay 2")]
    >>> shared_m(bays[0], bays[1:]), shared_m(Area("hall", 16.0), [Area("store", 9.0)])
    (6.0, 3.0)
    """
    return sum(_common_m(_sides_m(area), _sides_m(other)) for other in neighbours)


def _common_m(mine: Sequence[float], theirs: Sequence[float]) -> float:
    alike = [one for one in mine if any(abs(one - other) <= ALIKE * one for other in theirs)]
    return max(alike, default=min(*mine, *theirs))


def _sides_m(area: Area) -> tuple[float, ...]:
    """The two sides of an area's main rectangle, without what is added or taken off."""
    figure = area.shape.terms[0][1] if area.shape is not None else None
    if figure is not None and figure.kind == "sides" and len(figure.lengths_m) == 2:
        return figure.lengths_m
    return (math.sqrt(max(0.0, area.size_m2)),)
