"""The time that practice allows a big mass of 100 % solids epoxy, as a curve without a step.

    cap = 10 min · (9 kg / m)^0.35 · 2^((21 °C − max(T, 21 °C)) / 8.4 K)
    early = min(early, early^(1 − w) · cap^w),   w = ln(m / m0) / ln(9 kg / m0), held within 0 and 1

m0 is the larger of 1 kg and the mass that the sheet tested. Up to m0 the model counts, and from a full kit on practice
does. If a sheet states a kit of 9 kg or more, the sheet alone counts.
"""

from __future__ import annotations

import math

from mixclock.formulas.ranges import require_positive, require_within
from mixclock.formulas.rate_law import TEMP_RANGE_C

FULL_KIT_KG, FULL_KIT_S = 9.0, 600.0  # 10 minutes for a full kit: common practice, no source
MASS_POWER = 0.35  # a doubling costs a fifth: 20 to 30 %, from memory
ROOM_C, HALVED_EVERY_K = 21.0, 8.4  # so that it is 2 to 5 minutes over 30 °C (read: a pail in air over 85 °F)
FROM_KG = 1.0


def practice_cap_s(mass_kg: float, warmest_c: float) -> float:
    """What practice allows a mass [s]: 600·(9/m)^0.35·2^((21 − max(T, 21))/8.4).

    Args:
        mass_kg: resin and hardener in the bucket, without filler [kg], above 0.
        warmest_c: the warmer of material at mixing and air [°C], -60 to 250.

    Returns:
        time from part B on [s].

    Raises:
        ValueError: outside those ranges.

    >>> [round(practice_cap_s(9.0, temp_c) / 60.0, 1) for temp_c in (15.0, 21.0, 29.4, 35.0)]
    [10.0, 10.0, 5.0, 3.1]

    Source: 10 minutes for a full kit: common practice, no source; 2 to 5 minutes in air over 85 °F: a page (read);
    20 to 30 % a doubling of the mass: from memory.
    """
    require_positive("mass", mass_kg, "kg")
    require_within("temperature", warmest_c, *TEMP_RANGE_C, "°C")
    warmth = math.pow(2.0, (ROOM_C - max(warmest_c, ROOM_C)) / HALVED_EVERY_K)
    return FULL_KIT_S * math.pow(FULL_KIT_KG / mass_kg, MASS_POWER) * warmth


def practice_weight(mass_kg: float, sheet_kg: float) -> float:
    """How much practice weighs beside the model [-]: 0 up to what the sheet tested, 1 from a full kit on.

    Args:
        mass_kg: what stands in the bucket [kg], above 0.
        sheet_kg: the mass that the sheet's pot life was measured on [kg], above 0.

    Returns:
        weight, 0 to 1.

    Raises:
        ValueError: a mass not above 0.

    >>> practice_weight(1.0, 0.15), practice_weight(3.0, 0.15), practice_weight(20.0, 0.15), practice_weight(20.0, 10.0)
    (0.0, 0.5, 1.0, 0.0)

    Source: judgement.
    """
    from_kg = max(FROM_KG, require_positive("sheet mass", sheet_kg, "kg"))
    require_positive("mass", mass_kg, "kg")
    if from_kg >= FULL_KIT_KG:
        return 0.0
    return min(1.0, max(0.0, math.log(mass_kg / from_kg) / math.log(FULL_KIT_KG / from_kg)))


def capped_s(early_s: float, mass_kg: float, sheet_kg: float, warmest_c: float) -> float:
    """An early edge that practice holds back [s]: min(early, early^(1 − w)·cap^w).

    Args:
        early_s: what the model gives [s], above 0.
        mass_kg, sheet_kg, warmest_c: as for `practice_weight` and `practice_cap_s`.

    Returns:
        time from part B on [s].

    Raises:
        ValueError: outside those ranges.

    >>> round(capped_s(1200.0, 3.0, 0.15, 20.0) / 60.0, 1), round(capped_s(1200.0, 9.0, 0.15, 20.0) / 60.0, 1)
    (17.1, 10.0)

    Source: as for `practice_cap_s`; the passage from model to practice is judgement.
    """
    weight = practice_weight(mass_kg, sheet_kg)
    require_positive("early edge", early_s, "s")
    held_s = math.pow(early_s, 1.0 - weight) * math.pow(practice_cap_s(mass_kg, warmest_c), weight)
    return min(early_s, held_s)
