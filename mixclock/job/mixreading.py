"""Reading how the parts go together, and whether ratio by volume, ratio by mass and densities fit each other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from mixclock.formulas.mix import ratio_contradiction
from mixclock.job import kinds
from mixclock.job.mistakes import quoted
from mixclock.job.profile import Family, MixRule
from mixclock.job.tablereading import Table
from mixclock.units import number

ONE_PART_FAMILIES = frozenset({Family.ACID_ETCH, Family.NEUTRALISER})
EITHER_FAMILIES = frozenset({Family.ACRYLIC})
CONTRADICTION_MAX = 0.03
"""Judgement: a sheet rounds its ratios and densities to two or three digits."""

DENSITY_QUOTIENT = (0.4, 2.5)
"""Judgement: the range of part A to part B. Even heavily filled parts with thin hardeners stay within it."""

_RATIO_EXAMPLE = "expected two numbers, A then B, as in [2, 1]"


def read_mix(table: Table, family: Family | None) -> MixRule:
    """The [mix] table; a missing ratio is a mistake where the family has two parts."""
    by_volume, by_mass = _ratio(table, "ratio_by_volume"), _ratio(table, "ratio_by_mass")
    parts = table.whole("parts", 1)
    if parts is not None and parts > 2:
        table.wrong("parts", f"mixclock knows products of one or two parts, not of {parts}", "expected 1 or 2")
    two = _has_two_parts(table, family, parts)
    density = _densities(table, two)
    rule = MixRule(by_volume, by_mass, density, table.quantity("time", kinds.SPAN))
    _check_fit(table, rule)
    table.finish()
    return rule


def _has_two_parts(table: Table, family: Family | None, parts: int | None) -> bool:
    stated = [key for key in ("ratio_by_volume", "ratio_by_mass") if key in table.values]
    if family is None:
        return bool(stated)
    if stated and (parts == 1 or family in ONE_PART_FAMILIES):
        why = "parts = 1 says otherwise" if parts == 1 else f"{family.value} has one part"
        table.wrong(stated[0], f"a mix ratio needs two parts, and {why}", "leave it out; water goes under [dilution]")
    elif not stated and (parts == 2 or (parts is None and family not in ONE_PART_FAMILIES | EITHER_FAMILIES)):
        table.wrong(
            "ratio_by_volume",
            f"is missing, and so is ratio_by_mass: {family.value} is mixed from two parts",
            "write ratio_by_volume = [2, 1] as the sheet has it, or parts = 1 for a product in one pail",
        )
    return bool(stated)


def _ratio(table: Table, key: str) -> tuple[float, float] | None:
    raw = table.raw(key)
    if raw is None:
        return None
    parts: Sequence[Any] = raw.split(":") if isinstance(raw, str) else raw if isinstance(raw, list) else [raw]
    if len(parts) != 2:
        table.wrong(key, f"a mix ratio has two numbers, here are {len(parts)}", _RATIO_EXAMPLE)
        return None
    try:
        a, b = (_ratio_part(part) for part in parts)
    except ValueError as error:
        table.wrong(key, str(error), _RATIO_EXAMPLE)
        return None
    return a, b


def _ratio_part(part: object) -> float:
    if isinstance(part, bool) or not isinstance(part, int | float | str):
        raise ValueError(f"{quoted(part)} is not a number")
    try:
        value = number(part) if isinstance(part, str) else float(part)
    except OverflowError:
        value = 0.0
    if not 0.0 < value <= 10_000.0:
        raise ValueError(f"{quoted(part)} is not a number above zero")
    return value


def _densities(table: Table, two: bool) -> tuple[float, ...] | None:
    raw = table.raw("density")
    if raw is None:
        return None
    parts = raw if isinstance(raw, list) else [raw]
    wanted = 2 if two else 1
    if len(parts) != wanted:
        example = '["1.13 kg/L", "0.98 kg/L"], A then B' if two else '"1.05 kg/L"'
        table.wrong(
            "density",
            f"takes {'two figures' if two else 'one figure'}, and here are {len(parts)}",
            f"write density = {example}",
        )
        return None
    values = [table.found.quantity(part, kinds.DENSITY, table.where("density")) for part in parts]
    known = tuple(value for value in values if value is not None)
    return known if len(known) == wanted else None


def _check_fit(table: Table, rule: MixRule) -> None:
    if rule.ratio_by_volume is None or rule.ratio_by_mass is None:
        return
    by_volume = rule.ratio_by_volume[0] / rule.ratio_by_volume[1]
    by_mass = rule.ratio_by_mass[0] / rule.ratio_by_mass[1]
    if rule.density_kg_l is None or len(rule.density_kg_l) != 2:
        _check_without_densities(table, by_mass / by_volume)
        return
    a, b = rule.density_kg_l
    off = ratio_contradiction(by_volume, by_mass, a, b)
    if abs(off) > CONTRADICTION_MAX:
        table.wrong(
            "ratio_by_mass",
            f"{by_mass:.3g} to 1 does not fit: ratio by volume and densities give {by_volume * a / b:.3g} to 1, "
            f"{abs(off) * 100:.0f} % off",
            "look which of ratio_by_volume, ratio_by_mass and density was mistyped",
        )


def _check_without_densities(table: Table, quotient: float) -> None:
    low, high = DENSITY_QUOTIENT
    if not low <= quotient <= high:
        table.wrong(
            "ratio_by_mass",
            f"together with ratio_by_volume part A would weigh {quotient:.2g} times as much a litre as part B",
            "look which of the two ratios was mistyped, or whether A and B were swapped",
        )
