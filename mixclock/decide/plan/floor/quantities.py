"""How much is mixed for a piece of floor: film, texture, waste, kits and what a vessel holds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime

from mixclock.decide.plan.floor.plans import FloorPiece, PlannedBatch
from mixclock.formulas.acid import WATER_KG_L
from mixclock.formulas.coverage import with_waste_l
from mixclock.formulas.mix import USUAL_DENSITY_KG_L, parts
from mixclock.job import practice
from mixclock.job.profile import WASHED_OFF, Family, Profile
from mixclock.job.site import Area, Coat, Site, Vessel
from mixclock.values import dataclass

DENSITY_KG_L = practice.UsualFigure(
    USUAL_DENSITY_KG_L,
    "a sheet states no densities: {density} is taken, as unfilled epoxies have within 5 %",
    "from memory",
)
FULL_KIT = 1e-6
LEAST_BUCKET_L = 1.0
"""Under a litre a measured bucket is for a patch, a cove or a repair, on scales: a spoon too much of B changes it
(judgement)."""

SMALL_JOB_L = 2.0
"""What takes less than this in all is a patch or a repair: its buckets may be small (judgement)."""

SMALL_BUCKET = "small bucket"
"""The constraint by which no bucket is measured out smaller than that."""

COVE_M = practice.UsualFigure(0.1, "a cove takes a strip of {length}", practice.JUDGEMENT)
STAIR_M = practice.UsualFigure(0.45, "a stair has {length} of tread and riser, all along it", practice.JUDGEMENT)
OVER_FLAKE_UM = (272.0, 314.0)
"""The film that a top coat takes over flake: 130 to 150 ft²/gal (a flake installer's polyaspartic sheet, read as an
excerpt)."""
UPRIGHT_THIN = practice.UsualFigure(
    0.5, "coves and stairs are laid in coats of half the film: they sag", practice.PRACTICE
)


@dataclass(frozen=True)
class Amounts:
    """What one bucket takes: needed on the floor with waste, and mixed in whole kits or as measured."""

    needed_l: float
    mixed_l: float
    mass_kg: float
    kits: float | None


def film_um(coat: Coat, profile: Profile | None) -> float:
    """The wet film of a coat, from its film or its spread rate; else from how far its product usually goes."""
    stated = practice.stated_film_um(coat, profile)
    if stated is not None:
        return stated
    usual = practice.usual_spread(profile) if profile is not None else None
    if usual is None:
        raise ValueError(f"coat '{coat.name}' states neither wet film nor spread")
    return 1000.0 / usual.value


def water_to_product(profile: Profile) -> float:
    """Parts of water to one of the product, as it goes on; an etch whose sheet is silent is thinned three to one."""
    stated = profile.dilution.water_to_product
    if stated is not None:
        return stated
    return practice.WATER_TO_ACID.value if profile.family is Family.ACID_ETCH else 0.0


def density_kg_l(coat: Coat, profile: Profile) -> float:
    """The density of what is in the bucket, its water included. A kit by weight whose sheet states no densities is
    taken as a filled resin in all that is reckoned from it: the bucket of a whole kit then weighs what the kit does."""
    water = water_to_product(profile)
    return (_undiluted_kg_l(coat, profile) + water * WATER_KG_L) / (1.0 + water)


def _undiluted_kg_l(coat: Coat, profile: Profile) -> float:
    return practice.FILLED_KG_L.value if practice.is_taken_as_filled(coat, profile) else profile.mixed_kg_l


def split_parts(profile: Profile, volume_l: float, mass_kg: float) -> tuple[float | None, ...]:
    """Litres of A and B and kilograms of A and B in a bucket; None where the sheet does not say."""
    water = water_to_product(profile)
    volume_l = volume_l / (1.0 + water)
    mass_kg -= volume_l * water * WATER_KG_L
    volume_ratio = profile.mix.a_to_b
    density = profile.mix.density_kg_l or ()
    if volume_ratio is not None:
        known = (density[0], density[1]) if len(density) > 1 else (math.nan, math.nan)
        found = parts(volume_l, volume_ratio, *known)
        return tuple(None if math.isnan(value) else value for value in (found.a_l, found.b_l, found.a_kg, found.b_kg))
    if profile.mix.ratio_by_mass is not None:
        a, b = profile.mix.ratio_by_mass
        return None, None, mass_kg * a / (a + b), mass_kg * b / (a + b)
    return None, None, None, None


def kit_l(coat: Coat, profile: Profile) -> float | None:
    """What one kit makes, thinned as it goes on."""
    undiluted = coat.kit_l
    if undiluted is None and coat.kit_kg is not None:
        undiluted = coat.kit_kg / _undiluted_kg_l(coat, profile)
    return None if undiluted is None else undiluted * (1.0 + water_to_product(profile))


def in_whole_kits(coat: Coat, profile: Profile) -> bool:
    """Whether a bucket holds whole kits only; of one part any measure may be poured out, the rest is closed again."""
    return (coat.kit_l is not None or coat.kit_kg is not None) and profile.two_part and not coat.split


def least_l(coat: Coat, profile: Profile) -> float:
    """The least that a bucket may hold where its parts are measured; a whole kit of the maker's is measured already."""
    asked = coat.batch_l is not None and coat.batch_l < LEAST_BUCKET_L
    measured = profile.two_part and profile.family not in WASHED_OFF and not in_whole_kits(coat, profile)
    return LEAST_BUCKET_L if measured and not asked else 0.0


def net_l(coat: Coat, pieces: Sequence[FloorPiece], profile: Profile) -> float:
    """What stays on these pieces: the film, and what the texture takes first. What is rinsed off again goes by its
    spread alone, on stairs and where coves come as well: what is coated is etched."""
    film = film_um(coat, profile)
    if profile.family in WASHED_OFF:
        return sum([piece.size_m2 + piece.upright_m2 for piece in pieces]) * film / 1000.0
    flat_l = sum([piece.size_m2 * (film + piece.texture_um) for piece in pieces]) / 1000.0
    return flat_l + sum([piece.upright_m2 for piece in pieces]) * film * UPRIGHT_THIN.value / 1000.0


def upright_m2(area: Area) -> float:
    """The strip that the coves and stairs of an area make, by their length."""
    return (area.cove_m or 0.0) * COVE_M.value + (area.stairs_m or 0.0) * STAIR_M.value


def amounts(coat: Coat, profile: Profile, pieces: Sequence[FloorPiece]) -> Amounts:
    """What goes into the bucket for these pieces."""
    needed_l = with_waste_l(net_l(coat, pieces, profile), practice.waste_share(coat).value)
    kit = kit_l(coat, profile)
    mixed_l, kits = needed_l, None
    if kit is not None:
        kits = needed_l / kit
        if in_whole_kits(coat, profile):
            kits = float(math.ceil(kits - FULL_KIT))
        mixed_l = kits * kit
    return Amounts(needed_l, mixed_l, mixed_l * density_kg_l(coat, profile), kits)


def room_l(vessel: Vessel) -> float:
    """What a vessel takes with room to mix."""
    return vessel.volume_l * practice.FILL_SHARE.value


def largest_vessel(site: Site) -> Vessel:
    """The vessel that takes most."""
    return max(practice.vessels(site).value, key=lambda vessel: (vessel.volume_l, vessel.name))


def usable_vessels(site: Site, volume_l: float) -> list[Vessel]:
    """The vessels that hold this with room to mix, the smallest first."""
    fitting = [vessel for vessel in practice.vessels(site).value if room_l(vessel) >= volume_l - 1e-9]
    return sorted(fitting, key=lambda vessel: (vessel.volume_l, vessel.name))


def planned_bucket(
    site: Site,
    coat: Coat,
    profile: Profile,
    pieces: tuple[FloorPiece, ...],
    amount: Amounts,
    number: int,
    mixed: datetime,
    poured: datetime,
    set_by: str,
) -> PlannedBatch:
    """A bucket of a plan, its windows aside: what goes in, into which vessel, and when."""
    a_l, b_l, a_kg, b_kg = split_parts(profile, amount.mixed_l, amount.mass_kg)
    fitting = usable_vessels(site, amount.mixed_l)
    return PlannedBatch(
        number=number,
        coat=coat.name,
        product=coat.product,
        pieces=pieces,
        volume_l=amount.mixed_l,
        mass_kg=amount.mass_kg,
        needed_l=amount.needed_l,
        kits=amount.kits,
        a_l=a_l,
        b_l=b_l,
        a_kg=a_kg,
        b_kg=b_kg,
        mixed_at=mixed,
        poured_at=poured,
        pour_by=None,
        vessel=fitting[0].name if fitting else practice.vessels(site).value[-1].name,
        set_by=set_by,
    )


def most_l(site: Site, coat: Coat, profile: Profile) -> tuple[float, str]:
    """The most that one bucket may take, and what says so."""
    vessel = largest_vessel(site)
    held = f"{vessel.name} of {site.units.write_volume(vessel.volume_l)}"
    most, why = room_l(vessel), f"{held}, filled to four fifths"
    kit = kit_l(coat, profile)
    if kit is not None and in_whole_kits(coat, profile):
        if kit > most:
            most, why = min(kit, vessel.volume_l), f"one kit, which leaves {vessel.name} little room to mix"
        else:
            most = math.floor(most / kit + FULL_KIT) * kit
            why = f"whole kits of {site.units.write_volume(kit)} in {held}"
    if coat.batch_l is not None and coat.batch_l < most:
        a_kit_each = kit is not None and in_whole_kits(coat, profile) and abs(coat.batch_l - kit) < 1e-9
        why = "one kit a bucket, to its end" if a_kit_each else "the batch that the job file asks for"
        most = coat.batch_l
    return most, why


def largest_piece_m2(site: Site, coat: Coat, profile: Profile, texture_um: float) -> float:
    """The largest piece of floor that one bucket can do, as far as the bucket goes."""
    most, _ = most_l(site, coat, profile)
    share = 1.0 - practice.waste_share(coat).value
    return most * share * 1000.0 / (film_um(coat, profile) + texture_um)
