"""What a coat's plan assumes because neither job file nor sheet states it: one line each, in the crew's units."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from mixclock.decide.plan.floor.crew import CARRY_SAID, Crew, prep_figures
from mixclock.decide.plan.floor.films import unknown_said
from mixclock.decide.plan.floor.plans import FloorPiece
from mixclock.decide.plan.floor.precedence import BY_A_SECOND
from mixclock.decide.plan.search.chain import kinds_of
from mixclock.job import practice
from mixclock.job.profile import Profile
from mixclock.job.site import Coat, Site
from mixclock.job.steps import RECOAT, WET_EDGE

MOST_NAMED = 4


def assumed_for(site: Site, crew: Crew, coat: Coat, profile: Profile, pieces: Sequence[FloorPiece]) -> list[str]:
    """The lines for one coat."""
    return list(_lines(site, crew, coat, profile, kinds_of(coat, profile, pieces)))


def _lines(site: Site, crew: Crew, coat: Coat, profile: Profile, kinds: tuple[str, ...]) -> Iterator[str]:
    if not coat.after_said:
        yield f"{coat.name} goes on {coat.after}: coats follow the file's order where no after is named"
    yield from crew.fallbacks(kinds)
    yield from _not_shared(site)
    for assumed in (practice.mixing_time(profile), practice.waste_share(coat)):
        if assumed.words:
            yield assumed.words
    figures = [practice.SET_UP_S, *prep_figures(kinds)]
    figures += [practice.POUR_S] if "squeegee" in kinds else []
    followed = any(other.after == coat.name for other in site.coats)
    if "broadcast" in kinds:
        figures += [practice.FLAKE_LAG_S, *([practice.SCRAPE_M2_H] if followed else [])]
    yield from (figure.words(site.units) for figure in figures)
    if coat.wet_edge is not False and profile.window(WET_EDGE) is not None:
        yield from _alone(site, coat)
    if site.mixing_at is not None:
        yield CARRY_SAID
    if followed and not any(profile.window(name) for name in (RECOAT, "dry")):
        yield unknown_said(profile)


def _not_shared(site: Site) -> Iterator[str]:
    """Who is named for helping with what two do not share in a plan: that was passed over without a word."""
    for person in practice.crew(site).value:
        left_out = [task for task in person.helps if task not in BY_A_SECOND and task not in person.does]
        if person.does and left_out:
            tasks = " and ".join(left_out)
            yield (
                f"{person.name} is named for helping with {tasks}, which no two share in a plan: write it under does "
                f"where {person.name} may do it alone"
            )


def _alone(site: Site, coat: Coat) -> Iterator[str]:
    """Areas that name no neighbours while others do. If no area names any, each counts as touching the one before
    it."""
    areas = [area for area in site.areas if coat.goes_on(area.name)]
    alone = [area.name for area in areas if not area.next_to]
    if len(areas) > 1 and 0 < len(alone) < len(areas):
        names = f"{', '.join(alone[:MOST_NAMED])}{' and others' if len(alone) > MOST_NAMED else ''}"
        yield f"{names}: no neighbours are named, so nothing is joined there wet"
