"""A coat in whole kits, cut so that fewer of them are opened.

A batch of whole kits that ends where an area ends leaves a part of a kit over, time and again. Cut wherever a kit is
used up, the same floor takes fewer kits: each costs more than a chalk line inside a bay.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

from mixclock.decide.plan.days.coattask import CoatRefusal, CoatTask, Session
from mixclock.decide.plan.days.cutting import needed_l
from mixclock.decide.plan.floor.pieces import pieces_of
from mixclock.decide.plan.floor.plans import FloorPiece
from mixclock.decide.plan.floor.quantities import FULL_KIT, in_whole_kits, kit_l
from mixclock.values import replace

GRAINS = (4, 10, 20)
"""Into how many parts the floor of one kit is cut, the coarser first (judgement)."""

MOST_PIECES = 120

Lay = Callable[[CoatTask, tuple[FloorPiece, ...], int], "list[Session] | CoatRefusal"]
"""Lays a coat in these pieces, in so many batches at most."""


def kits_in(found: Sequence[Session]) -> int:
    """How many whole kits these parts of a coat open."""
    return sum(
        math.ceil((session.laid.chain.spec(*run).amounts.kits or 0.0) - FULL_KIT)
        for session in found
        for run in pairwise((0, *session.laid.solution.cuts))
    )


def in_fewer_kits(task: CoatTask, found: list[Session], lay: Lay) -> list[Session]:
    """The same coat in buckets of one kit each that end where the kit is used up, if that opens fewer kits on the same
    day; as it is where the kits may be split or no kit would be saved."""
    at = task.setting
    kit = kit_l(at.coat, at.profile)
    if kit is None or not in_whole_kits(at.coat, at.profile) or len(found) > 1:
        return found
    least = math.ceil(sum(needed_l(task, (area,)) for area in task.areas) / kit - FULL_KIT)
    one_each = replace(task, setting=replace(at, coat=replace(at.coat, batch_l=kit)))
    for grain in GRAINS:
        kits = kits_in(found)
        parts = {area.name: math.ceil(needed_l(task, (area,)) / kit * grain - FULL_KIT) for area in task.areas}
        if kits <= least or sum(parts.values()) > MOST_PIECES:
            break
        pieces = pieces_of(task.areas, {area.name: area.size_m2 / max(1, parts[area.name]) for area in task.areas})
        fewer = lay(one_each, pieces, kits - 1)
        if not isinstance(fewer, CoatRefusal) and len(fewer) == 1 and kits_in(fewer) < kits:
            found = fewer
    return found
