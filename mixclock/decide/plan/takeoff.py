"""The take-off: what to buy for a floor, what will be left of it, and what it costs."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from mixclock.decide.plan.pieces import ordered_areas
from mixclock.decide.plan.quantities import (
    UPRIGHT_SAID,
    UPRIGHT_THIN,
    density_kg_l,
    film_um,
    kit_l,
    split_parts,
    upright_m2,
)
from mixclock.decide.plan.shapes import PlannedBatch
from mixclock.formulas.acid import bicarbonate_kg, diluted_acid_wt_pct
from mixclock.formulas.coverage import with_waste_l
from mixclock.job import practice
from mixclock.job.profile import Family, Profile
from mixclock.job.site import Area, Coat, Site

CLEANER_L = 0.5
CLEANER_SAID = "half a litre of cleaner for the tools of each batch (judgement)"
FLAKE_SIZE_SHARE: Mapping[str, float] = {"1/16 in": 1.25, "1/8 in": 1.1, "1/4 in": 1.0, "1 in": 0.9}
FLAKE_SIZE_SAID = "fine flake packs closer: up to a quarter more than 1/4 in by mass (judgement)"


@dataclass(frozen=True)
class AreaTake:
    """What one area takes of one coat."""

    area: str
    size_m2: float
    volume_l: float
    mass_kg: float
    flake_thrown_kg: float
    flake_stuck_kg: float
    cost: float | None


@dataclass(frozen=True)
class Etch:
    """What an etch takes: solution, the acid and the water in it, its strength, and soda to neutralise it at most."""

    solution_l: float
    acid_l: float
    water_l: float
    strength_pct: float
    soda_kg: float


@dataclass(frozen=True)
class CoatTake:
    """What one coat takes, kit by kit and area by area."""

    coat: str
    product: str
    volume_l: float
    mass_kg: float
    a_l: float | None
    b_l: float | None
    a_kg: float | None
    b_kg: float | None
    kits: int | None
    bought_l: float
    left_l: float
    flake_thrown_kg: float
    flake_stuck_kg: float
    flake_swept_kg: float
    flake_size: str | None
    cleaner_l: float
    cost: float | None
    areas: tuple[AreaTake, ...]
    etch: Etch | None = None
    flake_cost: float | None = None


@dataclass(frozen=True)
class TakeOff:
    """What a job takes in all."""

    coats: tuple[CoatTake, ...]
    currency: str | None
    cost: float | None
    assumed: tuple[str, ...]


def take_off(site: Site, profiles: Mapping[str, Profile], batches: tuple[PlannedBatch, ...] = ()) -> TakeOff:
    """Quantities of every coat. With the batches of a plan, what is mixed there is what is bought; else the floor's."""
    assumed: list[str] = []
    coats = []
    for coat in site.coats:
        mine = [batch for batch in batches if batch.coat == coat.name]
        coats.append(_coat(site, coat, profiles[coat.product.casefold()], mine, assumed))
    known = [coat.cost for coat in coats if coat.cost is not None]
    known += [coat.flake_cost for coat in coats if coat.flake_cost is not None]
    return TakeOff(tuple(coats), site.currency, sum(known) if known else None, tuple(dict.fromkeys(assumed)))


def area_net_l(coat: Coat, area: Area) -> float:
    """What stays on an area: film and texture, and coves and stairs by their length in a thinner coat."""
    floor = area.size_m2 * (film_um(coat) + practice.texture_um(area).value) / 1000.0
    return floor + upright_m2(area) * film_um(coat) * UPRIGHT_THIN / 1000.0


def _coat(site: Site, coat: Coat, profile: Profile, batches: list[PlannedBatch], assumed: list[str]) -> CoatTake:
    areas = ordered_areas(site, coat)
    waste = practice.waste_share(coat)
    assumed += [waste.words] if waste.words else []
    if any(area.cove_m or area.stairs_m for area in areas):
        assumed += UPRIGHT_SAID
    volumes = {area.name: with_waste_l(area_net_l(coat, area), waste.value) for area in areas}
    needed_l = sum(volumes.values())
    mixed_l = max(needed_l, sum(batch.volume_l for batch in batches))
    kit = kit_l(coat, profile)
    kits = None if kit is None else math.ceil(mixed_l / kit - 1e-6) + coat.spare_kits
    bought_l = mixed_l if kits is None or kit is None else kits * kit
    mass_kg = needed_l * density_kg_l(profile)
    cost = None if coat.price is None else coat.price * (kits if kits is not None else 1)
    a_l, b_l, a_kg, b_kg = split_parts(profile, needed_l, mass_kg)
    stuck, thrown = _flake(coat, sum(area.size_m2 for area in areas), assumed)
    assumed.append(CLEANER_SAID)
    takes = []
    for area in areas:
        share = volumes[area.name] / needed_l if needed_l else 0.0
        area_stuck, area_thrown = _flake(coat, area.size_m2, assumed)
        of_it = None if cost is None else cost * share
        takes.append(
            AreaTake(area.name, area.size_m2, volumes[area.name], mass_kg * share, area_thrown, area_stuck, of_it)
        )
    return CoatTake(
        coat.name,
        coat.product,
        needed_l,
        mass_kg,
        a_l,
        b_l,
        a_kg,
        b_kg,
        kits,
        bought_l,
        bought_l - needed_l,
        thrown,
        stuck,
        thrown - stuck,
        coat.flake_size,
        CLEANER_L * max(1, len(batches)),
        cost,
        tuple(takes),
        _etch(coat, profile, sum(area.size_m2 for area in areas), assumed),
        None if coat.flake_price_kg is None else coat.flake_price_kg * thrown,
    )


def _flake(coat: Coat, size_m2: float, assumed: list[str]) -> tuple[float, float]:
    """Flake that sticks and flake that is thrown."""
    if not coat.flake_kg_m2:
        return 0.0, 0.0
    share = FLAKE_SIZE_SHARE.get(coat.flake_size or "", 1.0)
    if share != 1.0:
        assumed.append(FLAKE_SIZE_SAID)
    figure = practice.FLAKE_THROWN_PER_STUCK
    assumed.append(f"{figure.said} ({figure.source})")
    stuck = coat.flake_kg_m2 * size_m2 * share
    return stuck, stuck * figure.value


def _etch(coat: Coat, profile: Profile, size_m2: float, assumed: list[str]) -> Etch | None:
    if profile.family is not Family.ACID_ETCH:
        return None
    spread = profile.dilution.spread_m2_l or coat.spread_m2_l
    if spread is None:
        spread = practice.ETCH_SPREAD_M2_L.value
        assumed.append(f"{practice.ETCH_SPREAD_M2_L.said} ({practice.ETCH_SPREAD_M2_L.source})")
    ratio = profile.dilution.water_to_product
    if ratio is None:
        ratio = practice.WATER_TO_ACID.value
        assumed.append(f"{practice.WATER_TO_ACID.said} ({practice.WATER_TO_ACID.source})")
    solution_l = size_m2 / spread
    acid_l = solution_l / (1.0 + ratio)
    acid_pct = profile.dilution.acid_pct or 31.45
    return Etch(solution_l, acid_l, solution_l - acid_l, diluted_acid_wt_pct(ratio, acid_pct), bicarbonate_kg(acid_l))
