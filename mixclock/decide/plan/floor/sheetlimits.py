"""What a plan asks of a product beyond its sheet: a film too thin or too thick, pails too cold or too warm, more flake
or sand than sticks in one throw. Each is said with what mends it. So are hours that no sheet makes sure on a slab that
nobody has read yet, and acid in the hands of somebody who is alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta

from mixclock.decide.plan.floor.conditions import Outlook
from mixclock.decide.plan.floor.films import GATES
from mixclock.decide.plan.floor.flake import ROUNDED, full_cover, is_sand
from mixclock.decide.plan.floor.plans import PlannedBatch
from mixclock.decide.plan.floor.quantities import film_um
from mixclock.job import practice
from mixclock.job.profile import WASHED_OFF, Family, Profile
from mixclock.job.site import Coat, Site
from mixclock.units import CrewUnits

A_NIGHT = timedelta(hours=6)
"""Pails that stand on the site are taken to lag behind the air by no more than this (judgement)."""

ALONE_WITH_ACID = "{coat}: the crew is one person, and nobody works alone with acid: have somebody stay within call"


def beyond_the_sheet(
    site: Site, profiles: Mapping[str, Profile], batches: Sequence[PlannedBatch], outlook: Outlook
) -> Iterator[str]:
    """One line for each limit of a sheet that the plan does not keep."""
    for coat in site.coats:
        profile = profiles.get(coat.product.casefold())
        if profile is not None:
            yield from _film(coat, profile, site.units)
            yield from _thrown(coat, site.units)
            hours = [batch.mixed_at for batch in batches if batch.coat == coat.name]
            yield from _pails(coat, profile, hours, outlook, site.units)
            if hours and profile.family is Family.ACID_ETCH and len(practice.crew(site).value) == 1:
                yield ALONE_WITH_ACID.format(coat=coat.name)
            if any(other.after == coat.name for other in site.coats):
                yield from _unsure(coat, [batch for batch in batches if batch.coat == coat.name], site)


def _unsure(coat: Coat, batches: Sequence[PlannedBatch], site: Site) -> Iterator[str]:
    """The next coat is planned by the likely hours where the doubt of the slab leaves none that is sure."""
    windows = [window for batch in batches for window in batch.windows if window.name in GATES and not window.sure]
    opens = [window.opens for window in windows if window.opens is not None]
    closes = [window.closes for window in windows if window.closes is not None]
    if not opens or not closes:
        return
    zone, units = site.wall, site.units
    first, last = max(opens).astimezone(zone), min(closes).astimezone(zone)
    yield (
        f"can't call it to the hour for the coat on {coat.name}: most likely {first:%a} {first.day} "
        f"{units.write_clock(first, zone, up=True)} to {last:%a} {last.day} {units.write_clock(last, zone)}; the plan "
        f"goes by that: read the slab on the morning before, and the film with a thumb"
    )


def _film(coat: Coat, profile: Profile, units: CrewUnits) -> Iterator[str]:
    if profile.film.wet_um is None or profile.family in WASHED_OFF:
        return
    low, high = profile.film.wet_um
    film = film_um(coat, profile)
    if low / ROUNDED <= film <= high * ROUNDED:
        return
    allowed = f"{units.write_film(low)} to {units.write_film(high)}"
    mend = "lay it in two coats" if film > high else "state a thicker film"
    yield f"{coat.name} at {units.write_film(film)} wet is outside its sheet, which allows {allowed}: {mend}"


def _thrown(coat: Coat, units: CrewUnits) -> Iterator[str]:
    asked, full = coat.flake_kg_m2 or 0.0, full_cover(coat).value
    if asked > full * ROUNDED:
        what = "sand" if is_sand(coat) else "flake"
        yield (
            f"{coat.name}: {units.write_mass_per_area(asked)} of {what} is more than sticks in one throw, about "
            f"{units.write_mass_per_area(full)}: the rest is swept off; build it up in two coats"
        )


def _pails(
    coat: Coat, profile: Profile, hours: Sequence[datetime], outlook: Outlook, units: CrewUnits
) -> Iterator[str]:
    """Material that stands on the site follows the air: the colder and the warmer of the hour and the night before."""
    if profile.limits.material_c is None or not hours:
        return
    low, high = profile.limits.material_c
    first = min(hours)
    cold = min(outlook.at(at).air_c for at in (first, first - A_NIGHT))
    warm = max(outlook.at(at).air_c for at in hours)
    where = f"the pails of {coat.product}, taken to be as the air where nobody has read them"
    if cold < low:
        do = f"warm the pails to {units.write_temp(low)} the night before {coat.name}"
        yield f"{do}: {where}, are at {units.write_temp_past(cold, low)}"
    if warm > high:
        do = f"keep the pails under {units.write_temp(high)} for {coat.name}"
        yield f"{do}: {where}, come to {units.write_temp_past(warm, high)}"
