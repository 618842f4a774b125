"""Buckets that a person would weigh out: half a kit, a third or a quarter, or part A at a round weight.

A plan sizes its buckets by the floor, which gives figures like 1.588 kg. Each is rounded up, by six hundredths at the
most: that much more goes into the film unseen. Nothing is rounded down, for the floor would come out short.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from mixclock.decide.plan.floor.quantities import (
    FULL_KIT,
    LEAST_BUCKET_L,
    Amounts,
    density_kg_l,
    in_whole_kits,
    kit_l,
    split_parts,
)
from mixclock.job.profile import WASHED_OFF, Profile
from mixclock.job.site import Coat
from mixclock.units import CrewUnits
from mixclock.units.spellings import MASS_KG, VOLUME_L
from mixclock.values import dataclass

MOST_OVER = 0.06
"""By so much of itself at most a bucket is rounded up (judgement)."""

KIT_PARTS = (1, 2, 3, 4)
"""Whole kits, halves, thirds and quarters: what is told apart on a pail without a scale."""

LEAST_SHARE = 1e-6


@dataclass(frozen=True)
class RoundSteps:
    """By what part A is measured out, the roundest first."""

    kg: tuple[float, ...]
    litres: tuple[float, ...]


METRIC_STEPS = RoundSteps((1.0, 0.5, 0.25, 0.1, 0.05), (1.0, 0.5, 0.25, 0.1, 0.05))
US_STEPS = RoundSteps(
    tuple(lb * MASS_KG["lb"] for lb in (1.0, 0.5, 0.25, 0.125, 0.0625)),
    tuple(qt * VOLUME_L["qt"] for qt in (1.0, 0.5, 0.25, 0.125, 0.0625)),
)

SAID: Mapping[tuple[int, int], str] = {
    (1, 2): "half a kit",
    (1, 3): "a third of a kit",
    (2, 3): "two thirds of a kit",
    (1, 4): "a quarter of a kit",
    (3, 4): "three quarters of a kit",
}


def part_kit_said(kits: float) -> str | None:
    """A part of a kit in words; None where it is none of the handy ones.

    >>> part_kit_said(0.5), part_kit_said(2 / 3), part_kit_said(0.281)
    ('half a kit', 'two thirds of a kit', None)
    """
    return next((said for (count, of), said in SAID.items() if abs(kits - count / of) < 1e-4), None)


def handy(needed: Amounts, coat: Coat, profile: Profile, units: CrewUnits, most_l: float) -> Iterator[Amounts]:
    """What may be weighed out in place of a bucket's exact amount, the handiest first and the exact amount last."""
    measured = profile.two_part and profile.family not in WASHED_OFF and not in_whole_kits(coat, profile)
    measured = measured and needed.mixed_l >= LEAST_BUCKET_L  # what is smaller goes on scales to the gram anyway
    for litres in _round_litres(needed.mixed_l, coat, profile, units) if measured else ():
        if litres <= most_l + 1e-9:
            kit = kit_l(coat, profile)
            yield Amounts(needed.needed_l, litres, litres * density_kg_l(coat, profile), litres / kit if kit else None)
    yield needed


def room_to_round_l(buckets: Sequence[Amounts], coat: Coat, profile: Profile) -> float:
    """By how much each of a coat's buckets may be rounded up before one kit more would have to be bought for that."""
    kit = kit_l(coat, profile)
    if kit is None or not buckets:
        return math.inf
    exact_l = sum(amount.mixed_l for amount in buckets)
    return (math.ceil(exact_l / kit - FULL_KIT) * kit - exact_l) / len(buckets)


def _round_litres(exact_l: float, coat: Coat, profile: Profile, units: CrewUnits) -> Iterator[float]:
    kit = kit_l(coat, profile)
    steps = [kit / parts for parts in KIT_PARTS] if kit else []
    steps += list(_by_part_a(coat, profile, units))
    for step in steps:
        rounded = math.ceil(exact_l / step - LEAST_SHARE) * step
        if exact_l <= rounded <= exact_l * (1.0 + MOST_OVER):
            yield rounded


def _by_part_a(coat: Coat, profile: Profile, units: CrewUnits) -> Iterator[float]:
    """The litres of a bucket for each round step of part A: by weight where the sheet lets it be weighed."""
    steps = US_STEPS if units.is_us else METRIC_STEPS
    a_l, _, a_kg, _ = split_parts(profile, 1.0, density_kg_l(coat, profile))
    if a_kg:
        yield from (step / a_kg for step in steps.kg)
    elif a_l:
        yield from (step / a_l for step in steps.litres)
