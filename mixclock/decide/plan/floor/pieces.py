"""The floor in the order in which it is done, cut into pieces that one bucket can do."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Mapping, Sequence
from itertools import pairwise

from mixclock.decide.plan.floor.plans import FloorPiece
from mixclock.decide.plan.floor.quantities import upright_m2
from mixclock.job import practice
from mixclock.job.profile import WASHED_OFF, Profile
from mixclock.job.site import Area, Coat, Site
from mixclock.values import replace


def ordered_areas(site: Site, coat: Coat) -> tuple[Area, ...]:
    """The areas of a coat as they are to be done.

    By their `order`; without any, from the far side towards the door to leave by, else by their names. The order in
    which the file lists them plays no part.
    """
    areas = [area for area in practice.areas_in_order(site) if coat.goes_on(area.name)]
    if site.door is None or any(area.order is not None for area in areas):
        return tuple(areas)
    return tuple(_towards_the_door(areas, site))


def _towards_the_door(areas: Sequence[Area], site: Site) -> list[Area]:
    """The farthest first; then always the farthest of those that touch what is done, so that the wet edge goes on, but
    nothing that would cut the rest off from the door."""
    far, beside, door = hops(site, site.door), site.neighbours, site.door or ""
    left = list(areas)
    done: list[Area] = []
    while left:
        touching = [area for area in left if done and any(area.name in beside[other.name] for other in done[-3:])]
        names = {area.name for area in left}
        free = [
            area for area in touching if _cut_off(names - {area.name}, door, beside) <= _cut_off(names, door, beside)
        ]
        choice = max(free or left, key=lambda area: far.get(area.name, 0))
        done.append(choice)
        left.remove(choice)
    return done


def _cut_off(names: set[str], door: str, beside: Mapping[str, Sequence[str]]) -> int:
    """How many of these areas can't be left through each other by the door."""
    reached, queue = {door} & names, deque({door} & names)
    while queue:
        for other in beside.get(queue.popleft(), ()):
            if other in names and other not in reached:
                reached.add(other)
                queue.append(other)
    return len(names - reached)


def hops(site: Site, place: str | None) -> dict[str, int]:
    """How many borders lie between a place and each area; a place outside the floor is next to all of it. Where no
    neighbours are named each area is taken to touch the one before it."""
    if place is None or site.area(place) is None:
        return {area.name: 0 for area in site.areas}
    found = {place: 0}
    queue = deque([place])
    while queue:
        name = queue.popleft()
        for other in sorted(site.neighbours.get(name, ())):
            if other not in found:
                found[other] = found[name] + 1
                queue.append(other)
    return found


def neighbours(site: Site, areas: Sequence[Area]) -> tuple[frozenset[tuple[str, str]], bool]:
    """The pairs of areas that touch and must be joined wet, and whether that had to be assumed.

    Where no area names a neighbour each is taken to touch the one before it. A joint at a saw cut that the job file
    names is left out: it is taped and may be cold.
    """
    pairs = {tuple(sorted((area.name, other))) for area in areas for other in area.next_to}
    assumed = not pairs and len(areas) > 1
    if assumed:
        mine = {area.name for area in areas}
        row = [area for area in site.areas_in_order if area.name in mine]
        pairs = {tuple(sorted((a.name, b.name))) for a, b in pairwise(row)}
    cuts = {tuple(sorted(pair)) for pair in site.saw_cuts}
    return frozenset((a, b) for a, b in pairs - cuts), assumed


def meets_slab(site: Site, profiles: Mapping[str, Profile], coat: Coat, area: str) -> bool:
    """Whether a coat lies on the slab itself there: below it is nothing, or only what was rinsed off again."""
    below = site.coat(coat.after) if coat.after is not None else None
    if below is None:
        return True
    profile = profiles.get(below.product.casefold())
    fills = below.goes_on(area) and profile is not None and profile.family not in WASHED_OFF
    return not fills and meets_slab(site, profiles, below, area)


def as_it_meets(site: Site, profiles: Mapping[str, Profile], coat: Coat, area: Area) -> Area:
    """The area as a coat finds it: the first that stays there fills the slab's texture, the others lie on that one."""
    return area if area.texture is None or meets_slab(site, profiles, coat, area.name) else replace(area, texture=None)


def uncut(areas: Sequence[Area]) -> tuple[FloorPiece, ...]:
    """The areas as pieces, each whole."""
    return pieces_of(areas, {area.name: area.size_m2 for area in areas})


def pieces_of(areas: Sequence[Area], largest_m2: Mapping[str, float]) -> tuple[FloorPiece, ...]:
    """The areas as pieces: whole where one bucket can do them, else in equal parts, each a bucket at most."""
    found: list[FloorPiece] = []
    for area in areas:
        parts = max(1, math.ceil(area.size_m2 / largest_m2[area.name] - 1e-9))
        edge_m = practice.edge_m(area).value
        texture_um = practice.texture_um(area).value
        found += [
            FloorPiece(
                area.name, area.size_m2 / parts, edge_m / parts, part, parts, texture_um, upright_m2(area) / parts
            )
            for part in range(1, parts + 1)
        ]
    return tuple(found)
