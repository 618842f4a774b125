"""What a job file that reads well may still get wrong for a plan: all of it at once, each in one line."""

from __future__ import annotations

from collections.abc import Mapping

from mixclock.decide.plan.quantities import amounts, in_whole_kits, kit_l
from mixclock.decide.plan.shapes import Piece
from mixclock.job import practice
from mixclock.job.mistakes import Mistake, Mistakes, did_you_mean
from mixclock.job.profile import Profile
from mixclock.job.site import Area, Coat, Site

MOST_KITS = 3
"""An area that takes more kits than this is not one piece of work: the kit is too small for a batch (judgement)."""


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
        found += _kit_mistakes(site, coat, profile)
    found += _rate_mistakes(site)
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
    large = [area for area in site.areas if _takes_l(coat, profile, area) > MOST_KITS * kit]
    return [
        Mistake(
            where,
            f"a kit of {said(kit)} is smaller than a batch: "
            f"{area.name} alone takes {said(_takes_l(coat, profile, area))}",
            f"give a larger kit, or cut {area.name} into areas of at most {MOST_KITS} kits",
        )
        for area in large
        if not coat.areas or area.name in coat.areas
    ]


def _takes_l(coat: Coat, profile: Profile, area: Area) -> float:
    piece = Piece(area.name, area.size_m2, 0.0, texture_um=practice.texture_um(area).value)
    return amounts(coat, profile, (piece,)).needed_l


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
