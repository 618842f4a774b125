"""The vessel of a mixed mass, the heat that it loses, and the limits of what counts as a bucket. `bucket_kernel` has
the steps in time.

Lumped: heat released by an autocatalytic reaction against loss through the bucket's wall,

    dα/dt = k·exp(−E/R(1/T − 1/T_ref))·(κ + α^m)(1 − α)^n,   dT/dt = ΔT_ad·dα/dt − λ(T − T_air),
    λ = U·A/(m·cp),  A = 4m/(ρD) + πD²/2,  1/U = 1/h0 + D/(8·k_in).

The lumped model fails in some cases. The published checks hold them: a full gallon, a cup in the cold.
"""

import math
from collections.abc import Sequence

from mixclock.formulas.history import History
from mixclock.formulas.mix import USUAL_DENSITY_KG_L
from mixclock.formulas.ranges import require_within
from mixclock.values import dataclass

MASS_RANGE_KG = (1e-6, 1e6)
MATERIAL_RANGE_C = (-20.0, 60.0)
AIR_RANGE_C = (-40.0, 70.0)

USUAL_HEAT_CAPACITY_J_KG_K = 1900.0


@dataclass(frozen=True)
class BucketShape:
    """The bucket as the heat sees it: how far across [m], and what stands in it.

    across_m None: as high as it is wide when filled, as a cup or pail mostly is.
    """

    across_m: float | None = None
    density_kg_l: float = USUAL_DENSITY_KG_L
    heat_capacity_j_kg_k: float = USUAL_HEAT_CAPACITY_J_KG_K

    def __post_init__(self) -> None:
        if self.across_m is not None:
            require_within("how far it is across the pail", self.across_m, 1e-4, 10.0, "m")
        require_within("density", self.density_kg_l, 0.3, 5.0, "kg/L")
        require_within("heat capacity", self.heat_capacity_j_kg_k, 200.0, 6000.0, "J/kgK")

    def diameter_m(self, mass_kg: float) -> float:
        """Its diameter [m], assumed from the fill where it is not stated."""
        if self.across_m is not None:
            return self.across_m
        return usual_across_m(mass_kg, self.density_kg_l)


def usual_across_m(mass_kg: float, density_kg_l: float = USUAL_DENSITY_KG_L) -> float:
    """Diameter [m] of a vessel that stands as high as wide when filled: (4m/πρ)^(1/3).

    >>> round(usual_across_m(20.0), 2)
    0.29
    """
    require_within("mass", mass_kg, *MASS_RANGE_KG, "kg")
    require_within("density", density_kg_l, 0.3, 5.0, "kg/L")
    return math.cbrt(4.0 * mass_kg / (math.pi * 1000.0 * density_kg_l))


def losses_per_s(
    vessel: BucketShape, mass_kg: float, h0_w_m2k: Sequence[float], k_in_w_mk: Sequence[float]
) -> list[float]:
    """λ [1/s] of each resin: the share of its excess temperature that a bucket loses per second.

    U·A/(m·cp), A = 4m/(ρD) + πD²/2, 1/U = 1/h0 + D/(8·k_in).

    Args:
        vessel: diameter, density, heat capacity.
        mass_kg: what stands in it [kg].
        h0_w_m2k: heat passage at the wall [W/m²K], per resin.
        k_in_w_mk: conductivity of the resin [W/mK], as many.

    Returns:
        losses [1/s].

    Raises:
        ValueError: mass outside 1e-6…1e6 kg.

    >>> [round(loss * 3600.0, 2) for loss in losses_per_s(BucketShape(), 3.0, [16.0], [0.4])]
    [0.62]

    Source: lumped cylinder, lid and floor included; the resistance D/(8·k_in) is a cylinder's mean one.
    """
    require_within("mass", mass_kg, *MASS_RANGE_KG, "kg")
    across = vessel.diameter_m(mass_kg)
    area = 4.0 * mass_kg / (1000.0 * vessel.density_kg_l * across) + math.pi * across**2 / 2.0
    holds_j_k = mass_kg * vessel.heat_capacity_j_kg_k
    passages = zip(h0_w_m2k, k_in_w_mk, strict=True)
    return [1.0 / (1.0 / wall + across / (8.0 * resin)) * area / holds_j_k for wall, resin in passages]


def check_bucket(mass_kg: float, material_c: float, air: float | History) -> None:
    """Refuse figures that no bucket has."""
    require_within("mass", mass_kg, *MASS_RANGE_KG, "kg")
    require_within("material temperature", material_c, *MATERIAL_RANGE_C, "°C")
    for air_c in air.values if isinstance(air, History) else (air,):
        require_within("air temperature", air_c, *AIR_RANGE_C, "°C")
