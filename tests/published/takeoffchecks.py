"""Floors in the trade's own units, taken off by the product: what the rows of takeoff.toml ask."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from mixclock.decide.plan.floor.flake import flake_of
from mixclock.decide.plan.floor.takeoff import CoatTake, take_off
from mixclock.job.profile import Family, MixRule, Profile
from mixclock.job.site import Area, Coat, Site

L_PER_GAL, M2_PER_FT2, KG_PER_LB, UM_PER_MIL = 3.785411784, 0.3048**2, 0.45359237, 25.4
BASE = Profile("Base", Family.EPOXY, "invented", MixRule((2.0, 1.0), None, (1.13, 0.98)))
ETCH = Profile("Etch", Family.ACID_ETCH, "invented", MixRule(density_kg_l=(1.16,)))


def taken(profile: Profile, size_ft2: float, coat: Coat) -> CoatTake:
    """What one coat takes of one area."""
    site = Site("floor", "UTC", (Area("bay", size_ft2 * M2_PER_FT2),), (coat,))
    return take_off(site, {profile.name.casefold(): profile}).coats[0]


def taken_gal(size_ft2: float, wet_mil: float) -> float:
    coat = Coat("base", "Base", wet_film_um=wet_mil * UM_PER_MIL, waste=0.0)
    return taken(BASE, size_ft2, coat).needed_l / L_PER_GAL


def flake_cover_share(stuck_lb_ft2: float) -> float:
    return flake_of(Coat("base", "Base", flake_kg_m2=stuck_lb_ft2 * KG_PER_LB / M2_PER_FT2), 1.0).cover_share


def flake_bought_lb(size_ft2: float, stuck_lb_ft2: float) -> float:
    coat = Coat("base", "Base", wet_film_um=250.0, flake_kg_m2=stuck_lb_ft2 * KG_PER_LB / M2_PER_FT2)
    flake = taken(BASE, size_ft2, coat).flake
    assert flake is not None
    return flake.thrown_kg / KG_PER_LB


def etch_gal(size_ft2: float) -> float:
    return _etch(size_ft2).needed_l / L_PER_GAL


def etch_acid_share(size_ft2: float) -> float:
    etch = _etch(size_ft2)
    assert etch.dilution is not None
    return etch.dilution.product_l / etch.needed_l


def _etch(size_ft2: float) -> CoatTake:
    return taken(ETCH, size_ft2, Coat("etch", "Etch", waste=0.0))


TAKEOFF_CHECKS: Mapping[str, Callable[..., float]] = {
    "taken_gal": taken_gal,
    "flake_cover_share": flake_cover_share,
    "flake_bought_lb": flake_bought_lb,
    "etch_gal": etch_gal,
    "etch_acid_share": etch_acid_share,
}
