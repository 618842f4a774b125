"""Etching acid: strength after dilution (acid INTO the water) and what neutralises it."""

from mixclock.formulas.ranges import require_positive, require_within

HCL_G_MOL = 36.461
BICARBONATE_G_MOL = 84.007
WATER_KG_L = 0.998  # at 20 °C


def diluted_acid_wt_pct(water_to_acid: float, acid_wt_pct: float = 31.45, acid_kg_l: float = 1.16) -> float:
    """Strength [wt %] after `water_to_acid` volumes of water take one of acid (acid goes INTO the water).

    w = w₀ / (1 + r·ρ_water/ρ_acid)

    Args:
        water_to_acid: litres of water to one of acid [-], 0 to 1000.
        acid_wt_pct: strength of what is in the bottle [wt %], 0 to 100.
        acid_kg_l: its density [kg/L], above 0.

    Returns:
        strength [wt %].

    Raises:
        ValueError: outside those ranges.

    >>> round(diluted_acid_wt_pct(3.0), 1)
    8.8

    Source: conservation of mass. 31.45 wt % and 1.16 kg/L: muriatic acid of the trade (from memory).
    """
    require_within("water to acid", water_to_acid, 0.0, 1000.0, "parts water to one of acid")
    require_within("acid strength", acid_wt_pct, 0.0, 100.0, "wt %")
    acid_kg = require_positive("density of the acid", acid_kg_l, "kg/L")
    return acid_wt_pct / (1.0 + water_to_acid * WATER_KG_L / acid_kg)  # no water: the bottle's own, to the last digit


def bicarbonate_kg(acid_l: float, acid_wt_pct: float = 31.45, acid_kg_l: float = 1.16) -> float:
    """Baking soda [kg] that neutralises all the hydrochloric acid in `acid_l` litres: one mole for one mole.

    m = V·ρ·w · 84.007/36.461. The slab itself takes up much of the acid, so this is the most that can be needed.

    Args:
        acid_l: acid as it comes or as diluted [L], above 0.
        acid_wt_pct: its strength [wt %], 0 to 100.
        acid_kg_l: its density [kg/L], above 0.

    Returns:
        sodium hydrogencarbonate [kg].

    Raises:
        ValueError: outside those ranges.

    >>> round(bicarbonate_kg(0.946), 2)  # the acid in one US gallon mixed 3:1
    0.8

    Source: HCl + NaHCO3 → NaCl + H2O + CO2; molar masses from IUPAC atomic weights.
    """
    require_positive("acid", acid_l, "L")
    require_within("acid strength", acid_wt_pct, 0.0, 100.0, "wt %")
    acid_kg = acid_l * require_positive("density of the acid", acid_kg_l, "kg/L") * acid_wt_pct / 100.0
    return acid_kg * BICARBONATE_G_MOL / HCL_G_MOL
