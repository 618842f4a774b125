"""Two systems side by side: quantity, cost, time, slack, and what each would leave out."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import zip_longest
from textwrap import wrap

from mixclock.decide.plan.floor.systems import System
from mixclock.decide.plan.floor.takeoff import CoatTake
from mixclock.words.plan.sheet import PlanSheet

COLUMN = 30


def compared_lines(sheet: PlanSheet) -> Iterator[str]:
    """The comparison for a terminal; nothing where none was asked for."""
    compared = sheet.compared
    if compared is None:
        return
    for line in compared.said:
        yield f"  {line}"
    for name, one, other in compared_rows(sheet):
        cells = zip_longest(wrap(one, COLUMN), wrap(other, COLUMN), fillvalue="")
        for number, (left, right) in enumerate(cells):
            yield f"  {name if number == 0 else '':<12} {left:<{COLUMN}} {right}".rstrip()
    for system in (compared.as_planned, compared.instead):
        yield f"  {system.product} would leave out:"
        yield from (f"    {line}" for line in system.leaves_out or ("nothing",))


def compared_rows(sheet: PlanSheet) -> list[tuple[str, str, str]]:
    """What is compared, said for the one and for the other."""
    compared = sheet.compared
    if compared is None:
        return []
    systems = (compared.as_planned, compared.instead)
    rows = [
        ("", *(system.product for system in systems)),
        *((coat, *(_quantity(sheet, system.take.of(coat)) for system in systems)) for coat in compared.coats),
        ("flake", *(_flake(sheet, system, compared.coats) for system in systems)),
        ("cost", *(_cost(sheet, system) for system in systems)),
        ("batches", *(str(len(system.plan.batches)) if system.plan.feasible else "does not fit" for system in systems)),
        ("done", *(_done(sheet, system) for system in systems)),
        ("least slack", *(_slack(sheet, system) for system in systems)),
    ]
    return [(name, one, other) for name, one, other in rows if one or other]


def _quantity(sheet: PlanSheet, take: CoatTake | None) -> str:
    if take is None:
        return "nothing left"
    kits = f", {take.kits.bought} kit{'s' if take.kits.bought != 1 else ''}" if take.kits else ""
    return f"{sheet.units.write_volume(take.needed_l)}{kits}"


def _flake(sheet: PlanSheet, system: System, coats: tuple[str, ...]) -> str:
    flakes = [take.flake for take in system.take.coats if take.flake and take.coat in coats]
    return sheet.units.write_mass(sum(flake.thrown_kg for flake in flakes)) if flakes else ""


def _cost(sheet: PlanSheet, system: System) -> str:
    if system.take.cost is None:
        return "no prices"
    short = f", without {', '.join(system.take.unpriced)}" if system.take.unpriced else ""
    return f"{sheet.money(system.take.cost)}{short}"


def _done(sheet: PlanSheet, system: System) -> str:
    plan = system.plan
    if plan.obstacle is not None:
        return plan.obstacle.said
    return sheet.day_and_clock(plan.finish, up=True) if plan.finish else "nothing to do"


def _slack(sheet: PlanSheet, system: System) -> str:
    tight = system.plan.tightest
    if not system.plan.feasible or tight is None or tight.slack_s is None:
        return ""
    return f"{sheet.units.write_remaining(max(0.0, tight.slack_s))}, {sheet.step_said(tight)}"
