"""Statements about the bucket: part B goes in, mixing ends, the bucket goes out on the floor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from mixclock.job.amounts import mixed_density
from mixclock.job.candidates import being_mixed, described, in_the_bucket, the_one, where_it_lies
from mixclock.job.drafts import Draft
from mixclock.job.entry import Combined, MixingEnded, Poured
from mixclock.job.folding import ASSUMED_MIXING_S, EMPTY_ENOUGH
from mixclock.job.naming import areas_named, batch_numbered, coat_and_product, vessel_named
from mixclock.job.profile import Profile
from mixclock.job.progress import Batch, Standing
from mixclock.job.saying import CannotTellError, Said, checked, clock, text

_SAME_AMOUNT = 0.15
"""A mixed amount and the sum of its parts may differ by so much: pails are not measuring cups (judgement)."""

_FILM_IS_PILED = 1.5
"""Nobody covers half as much again as an area has; a unit was mistaken (judgement)."""

_MATERIAL_C = (-20.0, 60.0)
_MIXING_S = (5.0, 3600.0)


def mixing(
    standing: Standing,
    said: Said,
    *,
    product: str,
    areas: Sequence[str] = (),
    volume_l: float | None = None,
    mass_kg: float | None = None,
    coat: str | None = None,
    a_l: float | None = None,
    a_kg: float | None = None,
    b_l: float | None = None,
    b_kg: float | None = None,
    material_c: float | None = None,
    lot: str | None = None,
    vessel: str | None = None,
    mixing_s: float | None = None,
    ended: bool = False,
) -> tuple[Draft, ...]:
    """Part B goes in now. With `ended` mixing is over already, and now is its end unless a time was said."""
    _refuse_finished(standing, said)
    coat_name, name = coat_and_product(standing, product, coat)
    profile = standing.profile(name)
    facts = Combined(
        product=name,
        areas=_areas_of_batch(standing, areas),
        coat=coat_name,
        volume_l=_above_zero(volume_l, "the amount"),
        mass_kg=_above_zero(mass_kg, "the amount"),
        a_l=_above_zero(a_l, "part A"),
        a_kg=_above_zero(a_kg, "part A"),
        b_l=_above_zero(b_l, "part B"),
        b_kg=_above_zero(b_kg, "part B"),
        material_c=_within(material_c, _MATERIAL_C, "the material's temperature", "°C"),
        lot=text(lot, "--lot") if lot is not None else None,
        mixing_s=_within(mixing_s, _MIXING_S, "the mixing time", "s"),
        ended=ended,
    )
    facts = _with_amount(facts, profile)
    facts = replace(facts, vessel=_vessel_that_holds(standing, facts, profile, vessel))
    facts, said = _dated(facts, said, profile)
    said = checked(standing, said)
    return (Draft(facts, said.when, said.by, said.note),)


def mixed(standing: Standing, said: Said, *, batch: int | None = None) -> tuple[Draft, ...]:
    """Mixing of a batch ends."""
    said = checked(standing, said)
    if batch is not None:
        meant = batch_numbered(standing, batch)
        _refuse_ended(standing, meant)
    else:
        meant = the_one(
            standing,
            being_mixed(standing, said.when),
            f"nobody was mixing at {clock(standing, said.when)}; state a batch with `mixed PRODUCT AMOUNT --on AREA`, "
            "or mend --at",
        )
    _not_before(standing, said, meant, "mixed")
    return (Draft(MixingEnded(meant.id), said.when, said.by, said.note),)


def poured(
    standing: Standing,
    said: Said,
    *,
    batch: int | None = None,
    areas: Sequence[str] = (),
    part_l: float | None = None,
    part_kg: float | None = None,
    covered_m2: float | None = None,
) -> tuple[Draft, ...]:
    """A bucket, or a part of it, is out on the floor."""
    said = checked(standing, said)
    places = areas_named(standing, areas)
    if batch is not None:
        meant = batch_numbered(standing, batch)
        _refuse_poured(standing, meant)
    else:
        meant = the_one(
            standing,
            in_the_bucket(standing, said.when, places),
            f"no batch was in a bucket at {clock(standing, said.when)}; state it first with `mixed PRODUCT AMOUNT --on "
            "AREA`, or mend --at",
        )
    _not_before(standing, said, meant, "poured")
    facts = Poured(
        batch=meant.id,
        areas=places,
        part_l=_above_zero(part_l, "--part"),
        part_kg=_above_zero(part_kg, "--part"),
        covered_m2=_above_zero(covered_m2, "--covered"),
    )
    _refuse_more_than_left(standing, meant, facts)
    _refuse_more_than_floor(standing, meant, facts)
    return (Draft(facts, said.when, said.by, said.note),)


def _areas_of_batch(standing: Standing, areas: Sequence[str]) -> tuple[str, ...]:
    if areas:
        return areas_named(standing, areas)
    known = [area.name for area in standing.site.areas]
    if len(known) == 1:
        return (known[0],)
    raise CannotTellError(f"for which area? say --on AREA; known are: {', '.join(known)}")


def _with_amount(facts: Combined, profile: Profile | None) -> Combined:
    """The batch with its amount settled; parts that were measured apart may stand for it."""
    if (facts.a_l or facts.a_kg) is None and (facts.b_l or facts.b_kg) is None:
        if facts.volume_l is None and facts.mass_kg is None:
            raise CannotTellError("how much was mixed? say a volume or a weight, such as '6 L' or '6.5 kg'")
        return facts
    if (facts.a_l or facts.a_kg) is None or (facts.b_l or facts.b_kg) is None:
        raise CannotTellError("only one part was measured; say both with --a AMOUNT --b AMOUNT, or neither")
    return _agreed(facts, _sum_of_parts(facts, profile))


def _sum_of_parts(facts: Combined, profile: Profile | None) -> Combined:
    if facts.a_l is not None and facts.b_l is not None:
        return replace(facts, volume_l=facts.a_l + facts.b_l, mass_kg=None)
    if facts.a_kg is not None and facts.b_kg is not None:
        return replace(facts, mass_kg=facts.a_kg + facts.b_kg, volume_l=None)
    densities = profile.mix.density_kg_l if profile else None
    if densities is None or len(densities) != 2:
        raise CannotTellError(
            "one part by volume and one by weight need the densities of both in the profile; say both the same way"
        )
    a_kg = facts.a_kg if facts.a_kg is not None else (facts.a_l or 0.0) * densities[0]
    b_kg = facts.b_kg if facts.b_kg is not None else (facts.b_l or 0.0) * densities[1]
    return replace(facts, mass_kg=a_kg + b_kg, volume_l=None)


def _agreed(facts: Combined, summed: Combined) -> Combined:
    """The amount as it was said where it agrees with its parts; the sum of the parts where none was said."""
    for stated, sum_, unit in (
        (facts.volume_l, summed.volume_l, "L"),
        (facts.mass_kg, summed.mass_kg, "kg"),
    ):
        if stated is not None and sum_ is not None and abs(stated - sum_) > _SAME_AMOUNT * sum_:
            raise CannotTellError(
                f"A and B make {sum_:.3g} {unit}, not {stated:.3g} {unit}; mend the one that is wrong"
            )
    return facts if facts.volume_l is not None or facts.mass_kg is not None else summed


def _vessel_that_holds(standing: Standing, facts: Combined, profile: Profile | None, said: str | None) -> str | None:
    vessel = vessel_named(standing, said)
    volume_l = facts.volume_l
    density = mixed_density(profile)
    if volume_l is None and facts.mass_kg is not None and density is not None:
        volume_l = facts.mass_kg / density
    largest = vessel or max(standing.site.vessels, key=lambda each: each.volume_l, default=None)
    if volume_l is not None and largest is not None and volume_l > largest.volume_l:
        units = standing.site.units
        raise CannotTellError(
            f"{units.write_volume(volume_l)} do not fit into the {largest.name}, which holds "
            f"{units.write_volume(largest.volume_l)}; state one bucket at a time, or mend the amount"
        )
    return vessel.name if vessel else None


def _dated(facts: Combined, said: Said, profile: Profile | None) -> tuple[Combined, Said]:
    """The instant at which B met A: as said, else now, or now less the mixing where that is over."""
    if not facts.ended:
        return facts, said
    usual_s = (profile.mix.time_s if profile else None) or ASSUMED_MIXING_S
    mixing_s = facts.mixing_s if facts.mixing_s is not None else usual_s
    if said.at is None:
        return facts, replace(said, at=said.now - timedelta(seconds=mixing_s))
    since_s = (said.now - said.at).total_seconds()
    if 0 <= since_s < mixing_s:
        # it is said to be mixed, so it took no longer than until now
        return replace(facts, mixing_s=since_s), said
    return facts, said


def _refuse_finished(standing: Standing, said: Said) -> None:
    if standing.finished is not None and said.when >= standing.finished:
        raise CannotTellError(
            f"the job '{standing.job}' was finished at {clock(standing, standing.finished)}; "
            "choose another with `mixclock job use NAME`, or withdraw its finish"
        )


def _refuse_ended(standing: Standing, batch: Batch) -> None:
    if batch.mixing_stated:
        raise CannotTellError(f"{described(standing, batch)} is mixed already; state what came next")


def _refuse_poured(standing: Standing, batch: Batch) -> None:
    if batch.emptied is not None and not any(portion.assumed for portion in batch.portions):
        raise CannotTellError(
            f"batch {batch.id} was poured out at {clock(standing, batch.emptied.at)}; "
            f"`withdraw {batch.emptied.entry}` first if that was wrong"
        )


def _not_before(standing: Standing, said: Said, batch: Batch, what: str) -> None:
    if said.when < batch.combined.at:
        raise CannotTellError(
            f"batch {batch.id} was begun at {clock(standing, batch.combined.at)}, so it cannot have been {what} at "
            f"{clock(standing, said.when)}; mend --at"
        )


def _refuse_more_than_left(standing: Standing, batch: Batch, facts: Poured) -> None:
    part_l = facts.part_l
    if part_l is None and facts.part_kg is not None:
        part_l = facts.part_kg * batch.volume_l / batch.mass_kg
    only_implied = any(portion.assumed for portion in batch.portions)
    left_l = batch.volume_l if only_implied else batch.left_l
    if part_l is not None and part_l * EMPTY_ENOUGH > left_l:
        units = standing.site.units
        raise CannotTellError(
            f"batch {batch.id} has {units.write_volume(left_l)} left, not {units.write_volume(part_l)}; mend --part"
        )


def _refuse_more_than_floor(standing: Standing, batch: Batch, facts: Poured) -> None:
    names = facts.areas or where_it_lies(batch)
    sizes = [area.size_m2 for area in standing.site.areas if area.name in names]
    if facts.covered_m2 is not None and facts.covered_m2 > _FILM_IS_PILED * sum(sizes):
        units = standing.site.units
        raise CannotTellError(
            f"{' and '.join(names)} has {units.write_area(sum(sizes))}, so {units.write_area(facts.covered_m2)} cannot "
            "have been covered; mend --covered or say every --on AREA"
        )


def _above_zero(value: float | None, what: str) -> float | None:
    if value is not None and not 0 < value < 1e6:
        raise CannotTellError(f"{what} must be above 0; mend it")
    return value


def _within(value: float | None, limits: tuple[float, float], what: str, unit: str) -> float | None:
    if value is not None and not limits[0] <= value <= limits[1]:
        raise CannotTellError(f"{what} of {value:g} {unit} is outside {limits[0]:g} to {limits[1]:g} {unit}; mend it")
    return value
