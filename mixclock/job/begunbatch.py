"""A batch as it begins: what went together, and what is assumed if nobody said it."""

from __future__ import annotations

from datetime import timedelta

from mixclock.formulas.mix import USUAL_DENSITY_KG_L
from mixclock.job.entry import Combined, Entry
from mixclock.job.practice import FILLED_KG_L, is_taken_as_filled, mixing_time
from mixclock.job.profile import Profile
from mixclock.job.progress import Batch, StatedFact
from mixclock.job.site import Coat, Site


def begun_batch(number: int, entry: Entry, facts: Combined, profile: Profile | None, site: Site) -> Batch:
    """The batch of that number, by its first statement."""
    coat_name = None if facts.spot else facts.coat or _coat_with(site, facts.product)
    density_kg_l = profile.mix.mixed_kg_l if profile else None
    taken_kg_l = density_kg_l or _usual_kg_l(site.coat(coat_name or ""), profile)
    volume_l, mass_kg = facts.amount(taken_kg_l)
    assumed = () if density_kg_l else (f"density taken as {site.units.write_density(taken_kg_l)}",)
    mixing = facts.mixing_s if facts.mixing_s is not None else mixing_time(profile).value
    return Batch(
        id=number,
        product=profile.name if profile else facts.product,
        coat=coat_name,
        areas=facts.areas,
        volume_l=volume_l,
        mass_kg=mass_kg,
        combined=stated(entry),
        mixing_s=mixing,
        mixing_ended=entry.happened + timedelta(seconds=mixing),
        mixing_stated=facts.ended and facts.mixing_s is not None,
        a_l=facts.a_l,
        a_kg=facts.a_kg,
        b_l=facts.b_l,
        b_kg=facts.b_kg,
        material_c=facts.material_c,
        lot=facts.lot,
        lot_a=facts.lot_a,
        lot_b=facts.lot_b,
        vessel=facts.vessel,
        note=entry.note,
        spot=facts.spot,
        assumed=assumed,
        origin=entry.origin,
    )


def _usual_kg_l(coat: Coat | None, profile: Profile | None) -> float:
    """The density where the sheet states none, as the plan of the coat takes it."""
    filled = coat is not None and profile is not None and is_taken_as_filled(coat, profile)
    return FILLED_KG_L.value if filled else USUAL_DENSITY_KG_L


def _coat_with(site: Site, product: str) -> str | None:
    return next((coat.name for coat in site.coats if coat.product.casefold() == product.casefold()), None)


def stated(entry: Entry) -> StatedFact:
    """The fact that this was stated, with its place in the log."""
    return StatedFact(entry.happened, entry.by, entry.number, entry.written, entry.moved_s)
