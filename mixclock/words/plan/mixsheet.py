"""The mix sheet: what goes into one bucket, in which order, for how long, and by when it must be out."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from mixclock.decide.alerting.grit import STIR_EVERY
from mixclock.decide.plan.floor.flake import flake_of
from mixclock.decide.plan.floor.handybuckets import MOST_OVER, part_kit_said
from mixclock.decide.plan.floor.plans import PlannedBatch
from mixclock.decide.plan.floor.quantities import amounts, film_um, water_to_product
from mixclock.formulas.acid import WATER_KG_L
from mixclock.job import practice
from mixclock.job.profile import WASHED_OFF, Family, Profile
from mixclock.job.site import Coat
from mixclock.job.steps import INDUCTION
from mixclock.units import CrewUnits, write_span
from mixclock.values import dataclass
from mixclock.words.cautions import DEFERS, Moment, cautions_for, merged
from mixclock.words.gritwords import dose_words, grit_of
from mixclock.words.plan.acidwords import HOW, acid_steps
from mixclock.words.plan.sheet import PlanSheet

CLEAN_PAIL = "Scrape sides and bottom half way; the last half minute in a clean pail."
"""From a trainer's guide (read): pour into a clean second pail and mix 30 s more."""

SLOWLY = "slowly, 300 to 450 turns a minute"
"""Between what trade pages ask (read): faster stirs air in."""

WORTH_TELLING = MOST_OVER
"""A smaller share of a bucket than this disappears into the film."""

BY_MASS, BY_VOLUME = "by mass", "by volume"
"""What stands in place of an amount that nobody can tell from the sheet."""

A_STAND = timedelta(minutes=1)
"""A shorter stand than this is not told."""


@dataclass(frozen=True)
class MixSheet:
    """One batch on paper. `parts` are name, volume, mass and what to do with it, in the order of adding."""

    number: int
    head: str
    when: str
    parts: tuple[tuple[str, str, str, str], ...]
    how: tuple[str, ...]
    steps: tuple[str, ...]
    size: str


def mix_sheet(sheet: PlanSheet, batch: PlannedBatch) -> MixSheet:
    """The sheet of one batch."""
    profile = sheet.profile(batch.product)
    where = sheet.places((piece.said for piece in batch.pieces), batch)
    return MixSheet(
        number=batch.number,
        head=f"{batch.coat}, {where}: {batch.product}",
        when=sheet.day_and_clock(batch.mixed_at),
        parts=tuple(_parts(sheet, batch, profile)),
        how=tuple(how_to_mix(profile)),
        steps=tuple(_steps(sheet, batch, profile)),
        size=_size(sheet, batch),
    )


def mixing_cautions(profile: Profile) -> list[str]:
    """What to mind while this product is mixed, poured, and left over; its own cautions first."""
    usual = [
        line
        for moment in (Moment.MIXING, Moment.POURING, Moment.NEUTRALISING, Moment.LEFTOVERS)
        for line in cautions_for(profile.family, moment)
    ]
    return [*dict.fromkeys(line for line in (*profile.cautions, *usual) if line != DEFERS), DEFERS]


def every_buckets_cautions(sheet: PlanSheet) -> list[str]:
    """What holds for the mixing of each coat, said once; nothing where one coat alone is mixed."""
    coats = {batch.coat: sheet.profile(batch.product) for batch in sheet.plan.batches}
    if len(coats) < 2:
        return []
    first, *others = (mixing_cautions(profile) for profile in coats.values())
    return [line for line in first if all(line in other for other in others)]


def own_cautions(sheet: PlanSheet, profile: Profile) -> list[str]:
    """What to mind with this product beside what holds for every bucket."""
    shared = every_buckets_cautions(sheet)
    return [line for line in mixing_cautions(profile) if line not in shared]


def how_to_mix(profile: Profile) -> Iterator[str]:
    """How this product is mixed, the same for every bucket of it."""
    yield from HOW.get(profile.family, ())
    if profile.two_part:
        mixing_s = practice.mixing_time(profile).value
        yield f"Mix {write_span(mixing_s)}, {SLOWLY}."
        if mixing_s > 60.0:
            yield CLEAN_PAIL


def working_cautions(sheet: PlanSheet) -> list[str]:
    """What to mind while it is rolled, flaked, scraped and cleaned up, each line once; what stands by the mixing of the
    products already is not said again, and that ends with what comes before all of it."""
    scraped = any(step.kind == "scrape" for step in sheet.plan.steps)
    lines: dict[str, None] = {}
    for batch in sheet.plan.batches:
        moments = working_moments(flaked=bool(batch.flake_kg), scraped=scraped)
        lines.update(dict.fromkeys(merged((sheet.profile(batch.product).family,), moments)))
    said = {line for batch in sheet.plan.batches for line in mixing_cautions(sheet.profile(batch.product))}
    return [line for line in lines if line not in said and line != DEFERS]


def working_moments(flaked: bool, scraped: bool) -> tuple[Moment, ...]:
    """The moments of the work on a floor after the pour."""
    moments = [Moment.ACID, Moment.NEUTRALISING, Moment.ROLLING, Moment.CLEANING]
    moments += [Moment.BROADCAST] if flaked else []
    moments += [Moment.SANDING] if scraped and flaked else []
    return tuple(moments)


def _parts(sheet: PlanSheet, batch: PlannedBatch, profile: Profile) -> Iterator[tuple[str, str, str, str]]:
    """What goes in, in the order of adding, all amounts in one unit."""
    rows = list(_parts_of(batch, profile))
    units = sheet.bucket_units(batch)
    said_l = iter(units.write_volumes([litres for _, litres, _, _ in rows if litres is not None]))
    said_kg = iter(units.write_masses([kg for _, _, kg, _ in rows if kg is not None]))
    for name, litres, kg, do in rows:
        volume = BY_MASS if litres is None else next(said_l)
        yield name, volume, BY_VOLUME if kg is None else next(said_kg), do


def _parts_of(batch: PlannedBatch, profile: Profile) -> Iterator[tuple[str, float | None, float | None, str]]:
    water = water_to_product(profile)
    product_l = batch.volume_l / (1.0 + water)
    water_l = batch.volume_l - product_l
    water_kg = water_l * WATER_KG_L
    if profile.family is Family.ACID_ETCH:
        yield "water", water_l, water_kg, "into the pail first"
        yield "acid", product_l, batch.mass_kg - water_kg, "INTO the water, slowly; never the other way"
    elif water and not profile.two_part:
        yield "water", water_l, water_kg, "into the pail first"
        yield "product", product_l, batch.mass_kg - water_kg, "into the water, a little at a time"
    elif not profile.two_part:
        yield "product", batch.volume_l, batch.mass_kg, "one part: stir it up from the bottom"
    else:
        part = batch.kits is not None and abs(batch.kits - round(batch.kits)) > 1e-6
        stir = "into the pail first; can stirred to the bottom" if part else "into the pail first; stir it alone"
        yield "A", batch.a_l, batch.a_kg, stir
        yield "B", batch.b_l, batch.b_kg, "into A, all of it: the clock runs from here"
        if water:
            yield "water", water_l, water_kg, "last, when A and B are one"


def _steps(sheet: PlanSheet, batch: PlannedBatch, profile: Profile) -> Iterator[str]:
    who = sheet.mixer(batch)
    by = f", {who}" if who else ""
    begun = "B into A at" if profile.two_part else "Mixed from"
    mixed = f"{begun} {sheet.clock(batch.mixed_at)}{by}."
    if profile.family in WASHED_OFF:
        yield from acid_steps(sheet, batch, profile, mixed)
        return
    yield mixed
    induction = next((window for window in batch.windows if window.name == INDUCTION), None)
    if induction is not None and induction.opens is not None and induction.opens - induction.starts > A_STAND:
        yield f"Let it stand until {sheet.clock(induction.opens, up=True)}."
    out = f"{_poured_out(sheet, batch)} at {sheet.clock(batch.poured_at)}"
    if batch.pour_by is not None:
        spare = (batch.pour_by - batch.poured_at).total_seconds()
        yield f"{out}; pour by {sheet.clock(batch.pour_by)}, {sheet.units.write_remaining(max(0.0, spare))} to spare."
    else:
        yield f"{out}."
    if batch.strips > 1:
        yield f"Chalk {batch.strips} strips of {_strip_said(sheet, batch)}. Pour the next when the roller comes to it."
    coat = sheet.coat(batch.coat)
    grit = grit_of(coat, batch.volume_l, sheet.bucket_units(batch))
    if grit is not None and coat is not None:
        dose, every = dose_words(coat.grit_g_l or 0.0, sheet.units), write_span(STIR_EVERY.total_seconds())
        yield f"{grit} once A and B are one: {dose}, weighed, the same in every bucket. Stir it up every {every}."
    yield from _left_over(sheet, batch, profile)
    last = batch.pieces[-1] if batch.pieces else None
    if last is not None and last.part < last.parts:
        yield f"It ends inside {last.area}: chalk the line there before you mix."
    if batch.flake_kg and coat is not None:
        flake = flake_of(coat, batch.size_m2)
        yield f"Have {sheet.units.write_mass(batch.flake_kg)} of {flake.named} ready beside it."


def _poured_out(sheet: PlanSheet, batch: PlannedBatch) -> str:
    """How a bucket is poured out, up to when."""
    if batch.strips == 1:
        return "Poured out"
    pours = [step.ends for step in sheet.plan.steps if (step.batch, step.kind) == (batch.number, "pour")]
    first = sheet.clock(min(pours, default=batch.poured_at))
    return f"Poured out in {batch.strips} strips, the first at {first}, the last"


def _strip_said(sheet: PlanSheet, batch: PlannedBatch) -> str:
    """What a strip covers, and how much of the bucket goes on it."""
    each = 1.0 / batch.strips
    units = sheet.bucket_units(batch)
    return f"{units.write_area(batch.size_m2 * each)}, {units.write_volume(batch.volume_l * each)} each"


def _left_over(sheet: PlanSheet, batch: PlannedBatch, profile: Profile) -> Iterator[str]:
    """What a kit holds beyond its floor's need: laid it is too thick, left in the pail it heats itself."""
    coat = sheet.coat(batch.coat)
    if coat is None or not batch.pieces or not profile.two_part:
        return
    needed_l = amounts(coat, profile, batch.pieces).needed_l
    over_l = batch.volume_l - needed_l
    if over_l > WORTH_TELLING * batch.volume_l:
        needed, over = sheet.bucket_units(batch).write_in_line((needed_l, over_l))
        yield (
            f"{needed} of it for this floor, {over} over: spread that thin outside at once, never leave it in the pail."
        )


def _size(sheet: PlanSheet, batch: PlannedBatch) -> str:
    units = sheet.bucket_units(batch)
    coat = sheet.coat(batch.coat)
    film = f" at {_thick(sheet, coat)}" if coat is not None else ""
    kits = _kits_said(batch.kits)
    held = f"{_in_the_pail(batch, units)} ({units.write_mass(batch.mass_kg)}{kits})"
    return f"{held} in the {batch.vessel}, for {units.write_area(batch.size_m2)}{film}. Size set by {batch.set_by}."


def _thick(sheet: PlanSheet, coat: Coat) -> str:
    """How thick a coat goes on; of what is rinsed off again how far it goes."""
    profile = sheet.profile(coat.product)
    film = film_um(coat, profile)
    return sheet.units.write_spread(1000.0 / film) if profile.family in WASHED_OFF else sheet.units.write_film(film)


def _kits_said(kits: float | None) -> str:
    """How many kits a batch is.

    A share that nobody would name is weighed out, and its weights stand above.

    >>> _kits_said(1.0), _kits_said(2.0), _kits_said(0.281), _kits_said(0.5), _kits_said(None)
    (', 1 kit', ', 2 kits', '', ', half a kit', '')
    """
    if kits is None:
        return ""
    if abs(kits - round(kits)) < 1e-6:
        return f", {round(kits)} kit{'s' if round(kits) != 1 else ''}"
    said = part_kit_said(kits)
    return f", {said}" if said is not None else ""


def _in_the_pail(batch: PlannedBatch, units: CrewUnits) -> str:
    """All that is in the pail, in the unit in which its parts are measured."""
    parts = [part for part in (batch.a_l, batch.b_l) if part is not None]
    if not parts or not units.is_us:
        return units.write_volume(batch.volume_l)
    return units.write_sum(parts, batch.volume_l)
