"""How much a batch was, by volume and by mass, from what was said of it."""

from __future__ import annotations

from mixclock.formulas.mix import mixed_density_kg_l, ratio_by_volume
from mixclock.job.entry import Combined
from mixclock.job.profile import MixRule, Profile

ASSUMED_DENSITY_KG_L = 1.1
"""Density of a mixed coating where the profile is silent: from memory, unfilled epoxies lie at 1.05 to 1.15."""


def amount_of(facts: Combined, profile: Profile | None) -> tuple[float, float, tuple[str, ...]]:
    """Volume in L and mass in kg of the mixed product, and what had to be assumed."""
    density = mixed_density(profile)
    assumed = () if density is not None else (f"density taken as {ASSUMED_DENSITY_KG_L} kg/L",)
    density = density or ASSUMED_DENSITY_KG_L
    volume, mass = facts.volume_l, facts.mass_kg
    if volume is None and mass is None and facts.a_kg is not None and facts.b_kg is not None:
        mass = facts.a_kg + facts.b_kg
    if volume is None and mass is None:
        volume = (facts.a_l or 0.0) + (facts.b_l or 0.0)
    if volume is None:
        volume = (mass or 0.0) / density
    return volume, mass if mass is not None else volume * density, assumed


def mixed_density(profile: Profile | None) -> float | None:
    """Density of the mixed product in kg/L, where the profile settles it."""
    return density_of(profile.mix) if profile is not None else None


def density_of(mix: MixRule) -> float | None:
    """Density of what a mix rule gives in kg/L, where it settles it."""
    if mix.density_kg_l is None:
        return None
    densities = mix.density_kg_l
    if len(densities) == 1:
        return densities[0]
    if mix.ratio_by_volume is not None:
        a_per_b = mix.ratio_by_volume[0] / mix.ratio_by_volume[1]
    elif mix.ratio_by_mass is not None:
        by_mass = mix.ratio_by_mass
        a_per_b = ratio_by_volume(by_mass[0] / by_mass[1], densities[0], densities[1])
    else:
        return None
    return mixed_density_kg_l(a_per_b, densities[0], densities[1])
