"""A film that still lies wet when the damp comes: dew blushes it or spots it, however well it was laid."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime

from mixclock.decide.plan.floor.conditions import STEP, Outlook, objection
from mixclock.decide.plan.floor.placenames import areas_said
from mixclock.decide.plan.floor.plans import PlannedBatch
from mixclock.job.profile import WASHED_OFF, Profile
from mixclock.job.site import Coat, Site
from mixclock.job.steps import RECOAT, TACK_FREE
from mixclock.units import write_day
from mixclock.values import dataclass, replace


@dataclass(frozen=True)
class _DampFilm:
    """A film that the damp finds wet: from when on, why that is too damp, and until when it is wet."""

    batch: PlannedBatch
    damp_at: datetime
    why: str
    wet_until: datetime
    then: str


THEN = ((TACK_FREE, "tack free"), (RECOAT, "open to the next coat"))
"""What a film is when damp harms it no more; the second where the sheet does not state the first."""


def wet_in_the_damp(
    site: Site, profiles: Mapping[str, Profile], batches: Sequence[PlannedBatch], outlook: Outlook
) -> Iterator[str]:
    """One line for each coat of which some film is not tack free when the air or the slab passes the sheet's limits on
    damp, or the customary ones where it states none."""
    for coat in site.coats:
        profile = profiles.get(coat.product.casefold())
        if profile is not None and profile.family not in WASHED_OFF:
            mine = (each for each in batches if each.coat == coat.name)
            found = [film for each in mine if (film := _found_wet(each, profile, outlook, site)) is not None]
            if found:
                yield _said(coat, found, site)


def _found_wet(batch: PlannedBatch, profile: Profile, outlook: Outlook, site: Site) -> _DampFilm | None:
    opens = {window.name: window.opens for window in batch.windows}
    ends = ((until, then) for name, then in THEN if (until := opens.get(name)) is not None)
    wet_until, then = next(ends, (batch.poured_at, ""))
    damp_only = replace(profile.limits, slab_c=None, air_c=None)
    at = batch.poured_at
    while at < wet_until:
        why = objection(damp_only, outlook.at(at), site.units)
        if why is not None:
            return _DampFilm(batch, at, why, wet_until, then)
        at += STEP
    return None


def _said(coat: Coat, found: Sequence[_DampFilm], site: Site) -> str:
    units, zone = site.units, site.wall
    first = min(found, key=lambda film: film.damp_at)
    damp, dry = first.damp_at.astimezone(zone), max(film.wet_until for film in found).astimezone(zone)
    wet = {area for film in found for area in film.batch.areas}
    where = areas_said(area.name for area in site.areas if area.name in wet)
    since, until = units.write_clock(damp, zone), units.write_clock(dry, zone, up=True)
    return (
        f"{coat.name} on {where} still lies wet when the damp comes, {write_day(damp)} {since}: {first.why}; it is "
        f"{first.then} by {write_day(dry)} {until} only: keep it warm and dry until then, or lay it sooner"
    )
