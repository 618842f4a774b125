"""What to buy, said line by line: for the terminal and for the page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from mixclock.decide.plan.floor.acid import DilutedBucket
from mixclock.decide.plan.floor.flake import Flake
from mixclock.decide.plan.floor.handybuckets import MOST_OVER
from mixclock.decide.plan.floor.pailsinuse import tools_at_once
from mixclock.decide.plan.floor.stock import Stock
from mixclock.decide.plan.floor.takeoff import AreaTake, CoatTake, Kits, PartAmounts
from mixclock.units import CrewUnits
from mixclock.words.plan.acidwords import FIRST_UP, RINSED_TWICE
from mixclock.words.plan.sheet import PlanSheet

WORTH_L = 0.05
"""A smaller amount is not told (judgement)."""


def coat_lines(sheet: PlanSheet, coat: CoatTake) -> Iterator[str]:
    """A coat's purchases: how much, in which kits, what is left, flake, etch, cost."""
    units = sheet.units
    if coat.stock is not None and coat.stock.mixed_l > 0.0:
        yield from _stock_lines(coat, coat.stock, units)
    needed, *said = units.write_in_line(_with_parts(coat.needed_l, coat.parts))
    yield f"{needed} ({units.write_mass(coat.mass_kg)}) needed{_parts(coat.parts, units, said)}"
    yield from _kit_lines(sheet, coat)
    if coat.flake is not None:
        yield flake_said(coat.flake, units)
    if coat.grit_kg is not None:
        yield f"{units.write_mass(coat.grit_kg)} of grit for all its buckets, weighed out bucket by bucket"
    if coat.dilution is not None:
        yield from dilution_lines(sheet, coat.dilution)
    if coat.cost:
        size_m2 = sum(area.size_m2 for area in coat.areas)
        yield f"{sheet.money(coat.cost)}, {_per_area(sheet, coat.cost / size_m2)}"


def _stock_lines(coat: CoatTake, stock: Stock, units: CrewUnits) -> Iterator[str]:
    """What is mixed already, and the kits at hand: the crew uses these before it buys or opens more."""
    yield f"{units.write_volume(stock.mixed_l)} is mixed already; what follows is for the rest alone"
    if coat.kits is None:
        return
    there = [f"{units.write_volume(stock.opened_l)} in opened kits"] if stock.opened_l > WORTH_L else []
    if stock.bought_kits is not None:
        kits = stock.unopened_kits
        there.append(f"{kits or 'no'} unopened kit{'s' if kits != 1 else ''} of the {stock.bought_kits} first bought")
    if there:
        yield f"there should stand: {' and '.join(there)}; look before you buy"


def _per_area(sheet: PlanSheet, cost_m2: float) -> str:
    one_m2 = sheet.units.scale("m2").back(1.0)
    return f"{sheet.money(cost_m2 * one_m2)} a square {'foot' if sheet.units.is_us else 'metre'}"


def _with_parts(whole_l: float, parts: PartAmounts) -> list[float]:
    """A volume and, where they are known, its two parts: they stand in one line."""
    return [whole_l, *([parts.a_l, parts.b_l] if parts.a_l is not None and parts.b_l is not None else [])]


def _measured(parts: PartAmounts, units: CrewUnits, said: Sequence[str]) -> Sequence[str]:
    """Two parts to be measured out: by a third figure, and for a US crew in the unit of their line."""
    alike = units.is_us or parts.a_l is None or parts.b_l is None
    return said if alike else units.write_volumes((parts.a_l or 0.0, parts.b_l or 0.0))


def _parts(parts: PartAmounts, units: CrewUnits, said: Sequence[str]) -> str:
    each = [
        *([_measured(parts, units, said)] if said else []),
        *([units.write_masses((parts.a_kg, parts.b_kg))] if parts.a_kg is not None and parts.b_kg is not None else []),
    ]
    if not each:
        return ""
    return f": A {' or '.join(a for a, _ in each)}, B {' or '.join(b for _, b in each)}"


def _kit_lines(sheet: PlanSheet, coat: CoatTake) -> Iterator[str]:
    units, kits = sheet.units, coat.kits
    if kits is None:
        yield f"the job file names no kit; buy at least {units.write_enough(max(coat.mixed_l, coat.needed_l))}"
        yield from _drinks_said(coat, units)
        return
    spare = f", {kits.spare} of them to spare" if kits.spare else ""
    bought = f"buy {kits.bought or 'no'} {'more ' if kits.there else ''}kit{'s' if kits.bought != 1 else ''} of"
    if coat.dilution is not None:
        parts = 1.0 + coat.dilution.water_to_product
        each = f"{', each' if kits.bought > 1 else ', which'} makes {units.write_volume(kits.size_l)} of solution"
        yield f"{bought} {units.write_volume(kits.size_l / parts)}{each}{spare}"
        yield f"{units.write_volume(coat.left_l / parts)} of it left over, in its own can{_collected(coat)}"
        return
    yield f"{bought} {_kit_said(sheet, coat, kits)}{spare}"
    yield _left_said(coat, units)
    yield from _drinks_said(coat, units)


def _drinks_said(coat: CoatTake, units: CrewUnits) -> Iterator[str]:
    """What a top coat may take more than the job file counts on, where its sheet is silent."""
    if coat.may_drink_l is not None:
        yield f"over flake it may drink up to {units.write_volume(coat.may_drink_l)} more: have that there as well"


def _kit_said(sheet: PlanSheet, coat: CoatTake, kits: Kits) -> str:
    """A kit as it is sold: by weight, with what it makes, or by what it makes."""
    makes, stated = sheet.units.write_volume(kits.size_l), sheet.coat(coat.coat)
    if stated is None or stated.kit_l is not None or stated.kit_kg is None:
        return makes
    each = "each makes" if kits.bought > 1 else "which makes"
    return f"{sheet.units.write_mass(stated.kit_kg)}, {each} {makes}"


def _left_said(coat: CoatTake, units: CrewUnits) -> str:
    """What is left over, and how much of it was mixed: that must be spread out. A little rounding goes into the film
    and is not told."""
    unopened_l = max(0.0, coat.bought_l - coat.mixed_l)
    if coat.left_l <= WORTH_L:
        return "none left over"
    if coat.surplus_l <= max(WORTH_L, MOST_OVER * coat.mixed_l):
        return f"{units.write_volume(coat.left_l)} left over"
    if unopened_l <= WORTH_L:
        return f"{units.write_volume(coat.left_l)} left over, all of it mixed: spread it out thin"
    over, mixed, whole = units.write_in_line((coat.left_l, coat.surplus_l, unopened_l))
    return f"{over} left over: {mixed} of it mixed and to be spread out thin, {whole} unopened"


def _collected(coat: CoatTake) -> str:
    return ": unused acid goes to a collection point" if coat.dilution and coat.dilution.acid_pct is not None else ""


def flake_said(flake: Flake, units: CrewUnits) -> str:
    """Flake thrown, stuck and swept back."""
    how = "to refusal" if flake.to_refusal else "scattered, base shows"
    return (
        f"{units.write_mass(flake.thrown_kg)} of {flake.named} to throw {how}: {units.write_mass(flake.stuck_kg)} "
        f"sticks ({flake.cover_share * 100:.0f} % of full cover), {units.write_mass(flake.swept_kg)} is swept back"
    )


def dilution_lines(sheet: PlanSheet, dilution: DilutedBucket) -> Iterator[str]:
    """An etch or a neutraliser in its water, and the soda that takes up all of the acid."""
    units = sheet.units
    water, product = units.write_in_line((dilution.water_l, dilution.product_l))
    if dilution.acid_pct is None:
        yield f"{product} into {water} of water, {dilution.water_to_product:g} parts of water to one"
        return
    three = "; the trade calls it 10 %" if abs(dilution.water_to_product - 3.0) < 0.01 else ""
    yield (
        f"{product} of acid INTO {water} of water, never the other way: {dilution.water_to_product:g} parts of water "
        f"to one of acid ({dilution.acid_pct:.1f} % by weight{three})"
    )
    if dilution.soda_kg is not None:
        soda = f"{units.write_mass(dilution.soda_kg)} of baking soda"
        yield f"for a spill of all of it {soda}, or as much of another neutraliser, stands ready"
        yield FIRST_UP
        yield f"rinse {RINSED_TWICE}"


def tool_lines(sheet: PlanSheet) -> Iterator[str]:
    """Thinner and cleaner for the tools."""
    units = sheet.units
    if sheet.plan.batches:
        yield at_once_said(sheet)
    for coat in sheet.take.coats:
        cleaner = f"{units.write_volume(coat.cleaner_l)} of {coat.cleaner}" if coat.cleaner_l else coat.cleaner
        yield f"{coat.coat}: tools with {cleaner}; thinner: {coat.thinner}"


_TOOLS = {"squeegee": ("squeegee", "squeegees"), "roll": ("roller", "rollers"), "cut-in": ("brush", "brushes")}


def at_once_said(sheet: PlanSheet) -> str:
    """The most pails and tools in use at one moment."""
    found = tools_at_once(sheet.plan)
    pails = found.get("pail", 0)
    boxed = any(sheet.profile(batch.product).two_part for batch in sheet.plan.batches)
    clean = ", each with a clean one to change into" if pails != 1 else " and a clean one to change into"
    said = [f"{pails} mixing pail{'s' if pails != 1 else ''}{clean if boxed else ''}"]
    said += [f"{count} {_TOOLS[kind][count > 1]}" for kind in _TOOLS if (count := found.get(kind))]
    return f"in use at once: {'; '.join(said)}"


def area_line(sheet: PlanSheet, area: AreaTake) -> str:
    """What one area takes of one coat, in one line; all areas of a coat in the same unit."""
    units = sheet.units
    coats = (coat for coat in sheet.take.coats if any(one is area for one in coat.areas))
    largest_l = max((one.volume_l for coat in coats for one in coat.areas), default=area.volume_l)
    litres = _with_parts(area.volume_l, area.parts)
    diluted = [area.dilution.water_l, area.dilution.product_l] if area.dilution is not None else []
    _, whole, *alike = units.write_in_line([largest_l, *litres, *diluted])
    said = [f"{whole}{_short_parts(area.parts, units, alike[: len(litres) - 1])}"]
    if area.upright_m2:
        thin = "" if area.dilution is not None else ", in thin coats"
        said.append(f"with {units.write_area(area.upright_m2)} of coves and stairs{thin}")
    if area.flake is not None:
        said.append(f"{area.flake.material} {units.write_mass(area.flake.thrown_kg)}")
    if area.dilution is not None:
        water, product = alike[-2:]
        what = "acid INTO" if area.dilution.acid_pct is not None else "into"
        said.append(f"{product} {what} {water} of water")
        if area.dilution.soda_kg is not None:
            said.append(f"baking soda {units.write_mass(area.dilution.soda_kg)} ready for a spill")
    if area.cost:
        said.append(sheet.money(area.cost))
    return ", ".join(said)


def _short_parts(parts: PartAmounts, units: CrewUnits, said: Sequence[str]) -> str:
    if said:
        return " (A {}, B {})".format(*_measured(parts, units, said))
    if parts.a_kg is not None and parts.b_kg is not None:
        return " (A {}, B {})".format(*units.write_masses((parts.a_kg, parts.b_kg)))
    return ""


def total_lines(sheet: PlanSheet) -> Iterator[str]:
    """What it costs in all, area by area, and what has no price."""
    take = sheet.take
    if take.cost is None:
        yield "No prices are given, so no cost."
        return
    if not take.cost:  # nothing more is bought, so there is nothing to pay
        return
    left_out = f", without {', '.join(take.unpriced)}: no price" if take.unpriced else ""
    yield f"In all {sheet.money(take.cost)}{left_out}."
    each = [f"{area}: {sheet.money(cost)}" for area, cost in take.cost_by_area().items()]
    yield f"By area: {'; '.join(each)}."
