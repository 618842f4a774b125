"""What goes into the bucket: parts of A and B, volumes and masses, ratio checks."""

import math

from mixclock.formulas.ranges import require_positive
from mixclock.values import dataclass

CUP_KG = (0.1, 0.2)
"""How much a test cup holds: enough to heat itself, and little enough to watch."""

USUAL_DENSITY_KG_L = 1.1
"""Of a mixed resin where no sheet says. It stands here, since what only asks for it needs no numpy."""


@dataclass(frozen=True)
class Parts:
    """What to measure out of each part; a volume is nan where the densities are not known, and so is a mass."""

    a_l: float
    b_l: float
    a_kg: float
    b_kg: float


def ratio_by_mass(ratio_by_volume: float, density_a_kg_l: float, density_b_kg_l: float) -> float:
    """A:B by mass from A:B by volume: r_m = r_v · ρ_A / ρ_B.

    Args:
        ratio_by_volume: litres of A to one of B [-], above 0.
        density_a_kg_l, density_b_kg_l: densities of the parts [kg/L], above 0.

    Returns:
        kilograms of A to one of B [-].

    Raises:
        ValueError: anything not above 0.

    >>> round(ratio_by_mass(2.0, 1.13, 0.98), 3)
    2.306

    Source: definition.
    """
    require_positive("ratio by volume", ratio_by_volume, "parts A to one of B")
    require_positive("density of A", density_a_kg_l, "kg/L")
    return ratio_by_volume * density_a_kg_l / require_positive("density of B", density_b_kg_l, "kg/L")


def ratio_by_volume(ratio_by_mass: float, density_a_kg_l: float, density_b_kg_l: float) -> float:
    """A:B by volume from A:B by mass: r_v = r_m · ρ_B / ρ_A.

    Args:
        ratio_by_mass: kilograms of A to one of B [-], above 0.
        density_a_kg_l, density_b_kg_l: densities of the parts [kg/L], above 0.

    Returns:
        litres of A to one of B [-].

    Raises:
        ValueError: anything not above 0.

    >>> round(ratio_by_volume(2.306, 1.13, 0.98), 2)
    2.0

    Source: definition.
    """
    require_positive("ratio by mass", ratio_by_mass, "parts A to one of B")
    require_positive("density of B", density_b_kg_l, "kg/L")
    return ratio_by_mass * density_b_kg_l / require_positive("density of A", density_a_kg_l, "kg/L")


def mixed_density_kg_l(ratio_by_volume: float, density_a_kg_l: float, density_b_kg_l: float) -> float:
    """Density of the mixture [kg/L] = (r·ρ_A + ρ_B) / (r + 1), the volumes taken as additive.

    Args:
        ratio_by_volume: litres of A to one of B [-], above 0.
        density_a_kg_l, density_b_kg_l: densities of the parts [kg/L], above 0.

    Returns:
        density [kg/L].

    Raises:
        ValueError: anything not above 0.

    >>> round(mixed_density_kg_l(2.0, 1.13, 0.98), 3)
    1.08

    Source: conservation of mass; additive volumes are judgement (real ones shrink by a percent or so on curing only).
    """
    require_positive("ratio by volume", ratio_by_volume, "parts A to one of B")
    require_positive("density of A", density_a_kg_l, "kg/L")
    require_positive("density of B", density_b_kg_l, "kg/L")
    return (ratio_by_volume * density_a_kg_l + density_b_kg_l) / (ratio_by_volume + 1.0)


def parts_for_volume(volume_l: float, ratio_by_volume: float) -> tuple[float, float]:
    """Litres of A and of B for a mixed volume: A = V·r/(r+1), B = V/(r+1).

    Args:
        volume_l: mixed volume [L], above 0.
        ratio_by_volume: litres of A to one of B [-], above 0.

    Returns:
        (A, B) [L].

    Raises:
        ValueError: anything not above 0.

    >>> parts_for_volume(9.0, 2.0)
    (6.0, 3.0)

    Source: definition.
    """
    part_b = require_positive("volume", volume_l, "L") / (
        1.0 + require_positive("ratio by volume", ratio_by_volume, "parts A to one of B")
    )
    return volume_l - part_b, part_b


def parts(
    volume_l: float, ratio_by_volume: float, density_a_kg_l: float = math.nan, density_b_kg_l: float = math.nan
) -> Parts:
    """Both parts of a mixed volume, by volume and (where the densities are known) by mass.

    A = V·r/(r+1), B = V/(r+1), mass = volume × density

    Args:
        volume_l: mixed volume [L], above 0.
        ratio_by_volume: litres of A to one of B [-], above 0.
        density_a_kg_l, density_b_kg_l: densities of the parts [kg/L]; nan where unknown.

    Returns:
        Parts [L, kg]; a mass is nan where its density is.

    Raises:
        ValueError: volume or ratio not above 0.

    >>> parts(9.0, 2.0, 1.13, 0.98)
    Parts(a_l=6.0, b_l=3.0, a_kg=6.779999999999999, b_kg=2.94)

    Source: definition.
    """
    a_l, b_l = parts_for_volume(volume_l, ratio_by_volume)
    return Parts(a_l, b_l, a_l * density_a_kg_l, b_l * density_b_kg_l)


def ratio_contradiction(
    ratio_by_volume: float, ratio_by_mass: float, density_a_kg_l: float, density_b_kg_l: float
) -> float:
    """How far the sheet's ratio by mass lies off the one that its ratio by volume and densities give [-].

    r_m / (r_v · ρ_A/ρ_B) − 1: zero when they agree, +0.05 when the ratio by mass asks for 5 % more A.

    Args:
        ratio_by_volume: litres of A to one of B [-], above 0.
        ratio_by_mass: kilograms of A to one of B [-], above 0.
        density_a_kg_l, density_b_kg_l: densities of the parts [kg/L], above 0.

    Returns:
        signed fraction [-].

    Raises:
        ValueError: anything not above 0.

    >>> round(ratio_contradiction(2.0, 2.42, 1.13, 0.98), 2)
    0.05

    Source: definition.
    """
    require_positive("ratio by mass", ratio_by_mass, "parts A to one of B")
    expected = ratio_by_volume * density_a_kg_l / density_b_kg_l if density_b_kg_l else math.nan
    return ratio_by_mass / require_positive("ratio by volume and densities", expected, "parts A to one of B") - 1.0
