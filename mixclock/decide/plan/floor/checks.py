"""What a job file that reads well may still get wrong for a plan: all of it at once, each in one line."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta

from mixclock.decide.hours import is_usual_day
from mixclock.decide.plan.floor.acid import neutraliser_for
from mixclock.decide.plan.floor.pieces import uncut
from mixclock.decide.plan.floor.quantities import amounts, in_whole_kits, kit_l
from mixclock.job import practice
from mixclock.job.mistakes import Mistake, Mistakes, did_you_mean
from mixclock.job.profile import Family, Profile
from mixclock.job.site import Area, Coat, Forecast, Site
from mixclock.job.sitechecks import wet_edge_mistakes
from mixclock.job.steps import DWELL, NEUTRALISE
from mixclock.job.timesreading import forecast_hole, forecast_holes, working_spans

MOST_KITS = 12
"""An area that takes more kits than this would be cut into buckets smaller than anybody mixes (judgement)."""

QUANTITIES: Mapping[str, Callable[[Forecast], float | None]] = {
    "air": lambda entry: entry.air_c,
    "humidity": lambda entry: entry.rh_pct,
    "slab": lambda entry: entry.slab_c,
}


def check_plan(site: Site, profiles: Mapping[str, Profile]) -> None:
    """Raise `Mistakes` with everything that stands in the way of planning."""
    found: list[Mistake] = []
    for coat in site.coats:
        profile = profiles.get(coat.product.casefold())
        if profile is None:
            known = [one.name for one in profiles.values()]
            where = f"coats[{coat.name}].product"
            found.append(Mistake(where, f"'{coat.product}' has no profile", did_you_mean(coat.product, known)))
            continue
        found += [*_kit_mistakes(site, coat, profile), *_acid_mistakes(site, coat, profile, profiles)]
        found += wet_edge_mistakes(site, coat)
    found += [*_rate_mistakes(site), *_forecast_mistakes(site)]
    if site.hours is not None and site.hours.end <= site.hours.start:
        found.append(Mistake("hours.end", "the hours end before they begin", "write an end after the start"))
    if found:
        raise Mistakes(found)


def _kit_mistakes(site: Site, coat: Coat, profile: Profile) -> list[Mistake]:
    kit = kit_l(coat, profile)
    if kit is None:
        return []
    where, said = f"coats[{coat.name}].kit", site.units.write_volume
    if coat.batch_l is not None and coat.batch_l > kit * (1 + 1e-9):
        what = f"a kit of {said(kit)} is smaller than the batch of {said(coat.batch_l)}"
        return [Mistake(where, what, "give the kit that one bucket is mixed from, or a smaller batch")]
    if coat.batch_l is not None and coat.batch_l < kit * (1 - 1e-9) and in_whole_kits(coat, profile):
        what = f"a batch of {said(coat.batch_l)} is part of a kit of {said(kit)}, and part kits are not allowed"
        return [Mistake(f"coats[{coat.name}].batch", what, "write split = true if the maker allows measured parts")]
    if not profile.two_part:
        return []
    takes_l = {area: _takes_l(coat, profile, area) for area in _areas_of(site, coat)}
    large = sorted((area for area, litres in takes_l.items() if litres > MOST_KITS * kit), key=lambda a: -takes_l[a])
    if not large:
        return []
    name, more = large[0].name, f", and {len(large) - 1} more are too large" if len(large) > 1 else ""
    what = f"a kit of {said(kit)} is smaller than a batch: {name} alone takes {said(takes_l[large[0]])}{more}"
    return [Mistake(where, what, f"give a larger kit, or cut {name} into areas of at most {MOST_KITS} kits")]


def _acid_mistakes(site: Site, coat: Coat, profile: Profile, profiles: Mapping[str, Profile]) -> list[Mistake]:
    """Acid whose sheet does not say until when it may lie, and floor that is etched but not neutralised."""
    if profile.family is not Family.ACID_ETCH:
        return []
    found = []
    stated = (profile.window(name) for name in (DWELL, NEUTRALISE))
    if not any(rule is not None and rule.closes is not None for rule in stated):
        what = f"the sheet of {profile.name} doesn't say by when its acid must come off"
        mend = f'add [windows.dwell] with closes = "10 min", or what it allows, to {profile.name}'
        found.append(Mistake(f"coats[{coat.name}].product", what, mend))
    own = neutraliser_for(site, profiles, coat)
    if own is not None:
        neutralised = _areas_of(site, own)
        left = ", ".join(area.name for area in _areas_of(site, coat) if area not in neutralised)
        if left:
            what = f"{left} is etched by {coat.name} but not neutralised"
            found.append(
                Mistake(f"coats[{own.name}].areas", what, "name every area that is etched, or leave areas out")
            )
    return found


def _areas_of(site: Site, coat: Coat) -> list[Area]:
    return [area for area in site.areas if coat.goes_on(area.name)]


def _takes_l(coat: Coat, profile: Profile, area: Area) -> float:
    return amounts(coat, profile, uncut((area,))).needed_l


def _rate_mistakes(site: Site) -> list[Mistake]:
    return [
        Mistake(f"crew[{person.name}].{key}", "a rate of zero never ends", "leave it out, or give what they really do")
        for person in site.crew
        for key, rate in (
            ("squeegee", person.squeegee_m2_h),
            ("roll", person.roll_m2_h),
            ("broadcast", person.broadcast_m2_h),
            ("cut_in", person.cut_in_m_h),
        )
        if rate is not None and rate <= 0.0
    ]


def _forecast_mistakes(site: Site) -> list[Mistake]:
    """Holes in the forecast, quantity by quantity: what is drawn straight over a working day is no forecast."""
    holes: dict[tuple[datetime, datetime], list[str]] = {}
    stated = [name for name, value in QUANTITIES.items() if any(value(entry) is not None for entry in site.forecast)]
    for name in stated:
        known = [entry.at for entry in site.forecast if QUANTITIES[name](entry) is not None]
        for hole in forecast_holes(known, _working_spans(site)):
            holes.setdefault(hole, []).append(name)
    zone = site.wall
    return [
        forecast_hole("nothing" if names == stated else f"no {' and no '.join(names)}", begin, end, zone)
        for (begin, end), names in sorted(holes.items())
    ]


def _working_spans(site: Site) -> list[tuple[datetime, datetime]]:
    """The working hours of the days that the forecast spans; where no days are named, all but Sundays."""
    if len(site.forecast) < 2:
        return []
    zone, hours = site.wall, practice.hours(site).value
    first, last = (site.forecast[place].at.astimezone(zone).date() for place in (0, -1))
    spanned = [first + timedelta(days=ahead) for ahead in range((last - first).days + 1)]
    days = [day for day in spanned if (day in hours.days if hours.days else is_usual_day(day))]
    return working_spans(days, hours, zone)
