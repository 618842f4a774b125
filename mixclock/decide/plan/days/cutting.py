"""Areas cut into smaller parts, if one piece of floor is too much for a bucket and the kits allow a cut."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise

from mixclock.decide.plan.days.coattask import STOPPED, TOO_LATE, CoatRefusal, CoatTask
from mixclock.decide.plan.floor.pieces import pieces_of, uncut
from mixclock.decide.plan.floor.plans import FINEST, FloorPiece
from mixclock.decide.plan.floor.quantities import (
    FULL_KIT,
    LEAST_BUCKET_L,
    SMALL_BUCKET,
    SMALL_JOB_L,
    Amounts,
    amounts,
    in_whole_kits,
    kit_l,
    largest_piece_m2,
)
from mixclock.decide.plan.search.outliving import outlives
from mixclock.job import practice
from mixclock.job.site import Area
from mixclock.values import replace

MOST_PARTS, MOST_EVEN = 12, 80
REFINEMENTS = 3
IN_A_HALL, WITH_A_RESERVE = (1, 3), (1,)
"""By how many parts more each area of a hall is cut, to save buckets. The step between is left out; and where its plan
keeps a reserve, one bucket more is as good as a long search."""

HALL = 12
"""A floor of more areas is a hall."""
HALF_AS_MANY_AGAIN = 1.5

SHARES_OF_MOST = (1.0, 0.9, 0.8, 0.7, 0.6, 0.55, 0.5)
LEAST_REST_M2 = 0.1
"""Nobody chalks off less than this of an area (judgement)."""


def pieces_in(task: CoatTask, parts: Mapping[str, int]) -> tuple[FloorPiece, ...]:
    """The floor of a coat with each area in this many parts, or in more if a bucket holds only smaller ones."""
    at = task.setting
    largest = {}
    for area in task.areas:
        held = largest_piece_m2(at.site, at.coat, at.profile, practice.texture_um(area).value)
        least = parts[area.name]
        if held < area.size_m2 and not may_cut(task):
            least = max(least, _kits_of(task, area))  # each part takes whole kits: any other cut would take more kits
        largest[area.name] = min(held, area.size_m2 / least)
    return pieces_of(task.areas, largest)


def may_be_large(task: CoatTask) -> bool:
    """Whether the floor is of so few areas that each may be cut into many parts."""
    return len(task.areas) * (REFINEMENTS + 1) * HALF_AS_MANY_AGAIN <= MOST_PARTS


def cut_smaller(task: CoatTask, parts: dict[str, int], refused: CoatRefusal, large: bool = True) -> bool:
    """Cut the area that is in the way, or all areas, into one part more; False if the kits or good sense forbid it.
    Areas in several parts already are cut further only if they may be `large`."""
    if not may_help(refused):
        return False
    if refused.constraint == SMALL_BUCKET and max(parts.values()) > REFINEMENTS:
        return False
    area = refused.to_cut or refused.area
    names = [area] if area in parts else list(parts)
    if not may_cut(task):
        return _cut_into_kits(task, parts, names)
    if refused.area not in parts and max(parts.values()) > REFINEMENTS:
        return large and _cut_a_large_floor(task, parts)
    if any(parts[name] >= MOST_PARTS for name in names if name is not None):
        return False
    for name in names:
        if name is not None:
            parts[name] += 1
    return True


def may_help(refused: CoatRefusal) -> bool:
    """Whether smaller parts may be a way round what is in the way."""
    return refused.constraint not in TOO_LATE and refused.constraint != STOPPED


def _cut_a_large_floor(task: CoatTask, parts: dict[str, int]) -> bool:
    """Cut areas that are in several parts already into half as many again, while a few large ones make the floor: what
    a bucket of this crew covers may be a small part of a hall. What can be laid in strips is tried so first."""
    if task.setting.strips == 1 and outlives(task.setting, task.areas):
        return False
    finer = {name: math.ceil(count * HALF_AS_MANY_AGAIN) for name, count in parts.items()}
    if sum(finer.values()) > MOST_PARTS:
        return False
    parts.update(finer)
    return True


def _cut_into_kits(task: CoatTask, parts: dict[str, int], names: Sequence[str | None]) -> bool:
    """Cut an area that takes several kits into a part for each; False if every part is one kit already."""
    grown = False
    for area in (area for area in task.areas if area.name in names):
        kits = _kits_of(task, area)
        grown = grown or kits > parts[area.name]
        parts[area.name] = max(kits, parts[area.name])
    return grown


def _kits_of(task: CoatTask, area: Area) -> int:
    """How many whole kits an area takes by itself."""
    at = task.setting
    kit = kit_l(at.coat, at.profile)
    return 1 if kit is None else math.ceil(needed_l(task, (area,)) / kit - FULL_KIT)


def needed_l(task: CoatTask, areas: Sequence[Area]) -> float:
    """What these areas take of a coat, each laid whole."""
    return _laid_whole(task, areas).needed_l


def _laid_whole(task: CoatTask, areas: Sequence[Area]) -> Amounts:
    return amounts(task.setting.coat, task.setting.profile, uncut(areas))


def finer_by(task: CoatTask) -> tuple[int, ...]:
    """By how many parts more each area is cut, one after the other, if that saves buckets."""
    if len(task.areas) <= HALL:
        return tuple(range(1, REFINEMENTS + 1))
    return IN_A_HALL if task.setting.reserve >= 1.0 else WITH_A_RESERVE


def may_cut(task: CoatTask) -> bool:
    """Whether a batch may have any size; if kits are not split, they set it."""
    return not in_whole_kits(task.setting.coat, task.setting.profile)


def counts_of_even_buckets(task: CoatTask) -> tuple[int, ...]:
    """Into how many buckets of one size a floor may be divided: as many as are worth measuring out, and fewer."""
    whole_l = _laid_whole(task, task.areas).mixed_l
    worth_it = math.floor(whole_l / LEAST_BUCKET_L + 1e-9) if whole_l >= SMALL_JOB_L else MOST_PARTS
    most = min(worth_it, MOST_EVEN)
    return tuple(dict.fromkeys(math.floor(most * share) for share in SHARES_OF_MOST if most * share >= 2.0))


def even_buckets(task: CoatTask, count: int) -> tuple[FloorPiece, ...]:
    """The floor cut where each of so many equal buckets ends, to a ten-thousandth of the area in which that lies:
    of 40 m² a thousandth is what a bucket of a litre may have to spare."""
    each_m2 = sum(area.size_m2 for area in task.areas) / count
    found: list[FloorPiece] = []
    begun_m2 = 0.0
    for area in task.areas:
        lines = [round(FINEST * (each_m2 * line - begun_m2) / area.size_m2) for line in range(1, count)]
        least = math.ceil(FINEST * LEAST_REST_M2 / area.size_m2)
        ends = sorted({line for line in lines if least <= line <= FINEST - least})
        (whole,) = uncut((area,))
        for part, (begin, end) in enumerate(pairwise((0, *ends, FINEST)), start=1):
            found.append(_cut(whole, (begin, end), part, len(ends) + 1))
        begun_m2 += area.size_m2
    return tuple(found)


def _cut(whole: FloorPiece, lines: tuple[int, int], part: int, parts: int) -> FloorPiece:
    """An area from one chalk line to the next."""
    share = (lines[1] - lines[0]) / FINEST
    size_m2, edge_m, upright_m2 = whole.size_m2 * share, whole.edge_m * share, whole.upright_m2 * share
    return replace(
        whole,
        size_m2=size_m2,
        edge_m=edge_m,
        upright_m2=upright_m2,
        part=part,
        parts=parts,
        thousandths=(1000.0 * lines[0] / FINEST, 1000.0 * lines[1] / FINEST) if parts > 1 else None,
    )
