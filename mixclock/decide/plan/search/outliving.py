"""Whether a bucket outlives its film, so that it is worth pouring out strip by strip."""

from __future__ import annotations

import math
from collections.abc import Sequence

from mixclock.decide.plan.floor.pieces import pieces_of
from mixclock.decide.plan.floor.precedence import MOST_STRIPS
from mixclock.decide.plan.floor.setting import CoatSetting
from mixclock.decide.plan.search.chain import CoatChain
from mixclock.job.profile import WASHED_OFF
from mixclock.job.site import Area
from mixclock.job.steps import BACK_ROLL, POUR_OUT, WET_EDGE
from mixclock.values import replace

OUTLIVES = 1.5
"""A bucket that lives so many times as long as its film is worth pouring out in strips (judgement)."""

LEAST_M2 = 1.0
"""Less than this is no strip (judgement)."""


def outlives(at: CoatSetting, areas: Sequence[Area]) -> bool:
    """Whether the mixed resin lives that much longer in the pail than on the floor."""
    if at.profile.family in WASHED_OFF or not at.profile.two_part or not areas:
        return False
    closes = finely_cut(at, areas, 1).spec(0, 1).closes
    film_s = min((closes[name] for name in (BACK_ROLL, WET_EDGE) if name in closes), default=math.inf)
    return POUR_OUT in closes and closes[POUR_OUT] >= OUTLIVES * film_s


def finely_cut(at: CoatSetting, areas: Sequence[Area], strips: int) -> CoatChain:
    """The coat's floor in small pieces, to see how far a bucket could reach."""
    pieces = pieces_of(areas, {area.name: max(LEAST_M2, area.size_m2 / MOST_STRIPS) for area in areas})
    return CoatChain(replace(at, pieces=pieces, strips=strips))
