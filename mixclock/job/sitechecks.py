"""Whether the parts of a job file fit each other: names that exist, neighbours both ways, one floor."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from mixclock.formulas.coverage import spread_m2_l
from mixclock.job.mistakes import Mistake, did_you_mean, quoted
from mixclock.job.sharedsides import shared_m
from mixclock.job.site import Area, Coat, Site
from mixclock.job.tablereading import Table
from mixclock.units import CrewUnits
from mixclock.values import replace

FILM_AND_SPREAD_MAX = 0.05
"""Judgement: film and spread of one sheet, each rounded, differ by less than this."""


def check_site(site: Site, top: Table) -> None:
    """Note every mistake that shows only when the parts are seen together."""
    _check_neighbours(site, top)
    _check_order_numbers(site, top)
    _check_saw_cuts(site, top)
    for coat in site.coats:
        _check_coat(site, coat, top)
    _check_circle(site, top)
    _check_place(site, "door", site.door, top)
    if site.mixing_at is not None and _misspelt(site.mixing_at, site):
        _check_place(site, "mixing_at", site.mixing_at, top)


def completed_neighbours(site: Site) -> Site:
    """The site with neighbours known both ways. In a job of one area, a neighbour that is no area lies outside the
    job."""
    names = [area.name for area in site.areas]
    beside: dict[str, list[str]] = {name: [] for name in names}
    for area in site.areas:
        for other in area.next_to:
            if other in beside and other != area.name:
                beside[area.name].append(other)
                beside[other].append(area.name)
    known = {area.name: area for area in site.areas}
    areas = tuple(
        replace(
            area,
            next_to=tuple(name for name in names if name in beside[area.name]),
            shared_m=shared_m(area, [known[name] for name in dict.fromkeys(beside[area.name])]),
        )
        for area in site.areas
    )
    return replace(site, areas=areas)


def _misspelt(place: str, site: Site) -> bool:
    return all(area.name != place for area in site.areas) and any(
        area.name.casefold() == place.casefold() for area in site.areas
    )


def _check_place(site: Site, key: str, place: str | None, top: Table) -> None:
    names = [area.name for area in site.areas]
    if place is not None and names and place not in names:
        top.wrong(key, f"{quoted(place)} is no area of this job", did_you_mean(place, names))


def _check_neighbours(site: Site, top: Table) -> None:
    names = [area.name for area in site.areas]
    for area in site.areas:
        where = f"areas[{area.name}].next_to"
        for other in area.next_to:
            if other == area.name:
                top.found.add(where, f"{quoted(other)} is named as its own neighbour", "leave it out")
            elif other not in names and len(names) > 1:
                top.found.add(where, f"{quoted(other)} is no area of this job", did_you_mean(other, names))


def _check_saw_cuts(site: Site, top: Table) -> None:
    names = [area.name for area in site.areas]
    for one, other in site.saw_cuts:
        for name in (one, other):
            if name not in names:
                top.wrong("saw_cuts", f"{quoted(name)} is no area of this job", did_you_mean(name, names))
        if one == other:
            top.wrong("saw_cuts", f"{quoted(one)} is cut from itself", "name the areas on both sides of the cut")


def _check_order_numbers(site: Site, top: Table) -> None:
    taken: dict[int, str] = {}
    for area in site.areas:
        if area.order is None:
            continue
        if area.order in taken:
            where = f"areas[{area.name}].order"
            top.found.add(
                where, f"{area.order} is the order of {taken[area.order]} too", "give each area its own number"
            )
        taken.setdefault(area.order, area.name)


def _check_coat(site: Site, coat: Coat, top: Table) -> None:
    where = f"coats[{coat.name}]"
    others = [other.name for other in site.coats if other.name != coat.name]
    if coat.after is not None and coat.after not in others:
        top.found.add(f"{where}.after", f"{quoted(coat.after)} is no other coat", did_you_mean(coat.after, others))
    names = [area.name for area in site.areas]
    for area in coat.areas:
        if area not in names:
            top.found.add(f"{where}.areas", f"{quoted(area)} is no area of this job", did_you_mean(area, names))
    _check_film(coat, site.units, where, top)
    _check_kit(site, coat, site.units, where, top)
    for mistake in wet_edge_mistakes(site, coat):
        top.found.add(mistake.where, mistake.what, mistake.mend)


def _areas_of(site: Site, coat: Coat) -> list[Area]:
    return [area for area in completed_neighbours(site).areas if coat.goes_on(area.name)]


def _check_film(coat: Coat, crew: CrewUnits, where: str, top: Table) -> None:
    if coat.wet_film_um is None or coat.spread_m2_l is None:
        return
    off = coat.spread_m2_l / spread_m2_l(coat.wet_film_um) - 1.0
    if abs(off) > FILM_AND_SPREAD_MAX:
        top.found.add(
            f"{where}.spread",
            f"does not fit wet_film: {crew.write_film(coat.wet_film_um)} is "
            f"{crew.write_spread(spread_m2_l(coat.wet_film_um))}, {abs(off) * 100:.0f} % off",
            "state one of the two",
        )


def _check_kit(site: Site, coat: Coat, crew: CrewUnits, where: str, top: Table) -> None:
    if coat.kit_l is None or coat.split or not site.vessels:
        return
    largest = max(site.vessels, key=lambda vessel: vessel.volume_l)
    if coat.kit_l > largest.volume_l > 0.0:
        top.found.add(
            f"{where}.kit",
            f"a kit of {crew.write_volume(coat.kit_l)} does not fit the largest pail, {largest.name}, "
            f"of {crew.write_volume(largest.volume_l)}",
            "name a larger pail, or write split = true where measured part kits are allowed",
        )


def wet_edge_mistakes(site: Site, coat: Coat) -> Iterator[Mistake]:
    """The mistakes if a job file asks for a wet edge: areas without neighbours, and a floor cut in two."""
    areas, where = _areas_of(site, coat), f"coats[{coat.name}]"
    if not coat.wet_edge or len(areas) < 2:
        return
    pieces = _pieces(areas)
    for name in (piece[0] for piece in pieces if len(piece) == 1):
        what = f"no neighbours, but {where} asks for a wet edge"
        yield Mistake(f"areas[{name}].next_to", what, 'write next_to = ["its neighbour"]')
    whole = [piece for piece in pieces if len(piece) > 1]
    if len(whole) > 1:
        cut = " and ".join(_listed(piece) for piece in whole)
        yield Mistake(
            f"{where}.wet_edge",
            f"the floor is cut in two: {cut} touch nowhere",
            "name the neighbours across the cut, or lay them as coats of their own areas",
        )


def _pieces(areas: Sequence[Area]) -> list[list[str]]:
    """The names of the areas that hang together, piece by piece, each in the order of the file."""
    left = {area.name: area for area in areas}
    pieces = []
    while left:
        first = next(iter(left))
        piece, open_ends = {first}, [left.pop(first)]
        while open_ends:
            for name in open_ends.pop().next_to:
                if name in left:
                    piece.add(name)
                    open_ends.append(left.pop(name))
        pieces.append([area.name for area in areas if area.name in piece])
    return pieces


def _listed(names: Iterable[str], most: int = 4) -> str:
    shown = list(names)
    return ", ".join(shown[:most]) + (f" and {len(shown) - most} more" if len(shown) > most else "")


def _check_circle(site: Site, top: Table) -> None:
    under = {coat.name: coat.after for coat in site.coats}
    for coat in site.coats:
        seen = [coat.name]
        while (below := under.get(seen[-1])) is not None and below not in seen:
            seen.append(below)
        if below == coat.name and len(seen) > 1:
            top.found.add(
                f"coats[{coat.name}].after",
                f"lies over itself: {' after '.join([*seen, below])}",
                "leave after out at the lowest coat",
            )
            return
