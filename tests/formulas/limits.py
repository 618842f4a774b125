"""Fixed points of theory: where a resin gels, and how large a mass can still shed its heat.

They bound the bucket's model from outside, and are read by the published checks alone.
"""

import math

from mixclock.formulas.air import ZERO_C_IN_K
from mixclock.formulas.ranges import require_positive, require_within
from mixclock.formulas.rate_law import GAS_R_J_MOL_K

_STEP = 0.004


def gel_conversion(epoxide_sites: float = 2.0, amine_sites: float = 4.0) -> float:
    """Conversion at which an endless network first exists: 1/√((f − 1)(g − 1)), in even proportions.

    Args:
        epoxide_sites: reactive sites of a molecule of part A [-], at least 2.
        amine_sites: reactive hydrogens of a molecule of part B [-], above 2.

    Returns:
        conversion [-].

    Raises:
        ValueError: outside those ranges.

    >>> round(gel_conversion(), 3)
    0.577

    Source: Flory and Stockmayer (from memory).
    """
    require_within("sites of part A", epoxide_sites, 2.0, 20.0, "")
    require_within("sites of part B", amine_sites, 2.0001, 20.0, "")
    return 1.0 / math.sqrt((epoxide_sites - 1.0) * (amine_sites - 1.0))


def semenov_critical() -> float:
    """Largest Semenov number at which a stirred mass can still balance: max of θ·e^−θ, found by golden section.

    Returns:
        number [-]: 1/e.

    >>> round(semenov_critical(), 4)
    0.3679

    Source: Semenov's theory of thermal explosion.
    """
    low, high, golden = 0.0, 5.0, (math.sqrt(5.0) - 1.0) / 2.0
    while high - low > 1e-9:
        left, right = high - golden * (high - low), low + golden * (high - low)
        low, high = (left, high) if left * math.exp(-left) < right * math.exp(-right) else (low, right)
    return low * math.exp(-low)


def semenov_number(
    energy_j_mol: float, adiabatic_rise_k: float, peak_rate_per_s: float, loss_per_s: float, air_c: float
) -> float:
    """Heat release over heat loss at the air's temperature: ψ = ΔT·r·E / (R·T²·λ).

    Above `semenov_critical()` no temperature balances while the reaction lasts: the mass runs away.

    Args:
        energy_j_mol: activation energy [J/mol], above 0.
        adiabatic_rise_k: rise at full conversion [K], above 0.
        peak_rate_per_s: fastest dα/dt at the air's temperature [1/s], above 0.
        loss_per_s: λ of the bucket [1/s], above 0.
        air_c: air temperature [°C], -40 to 70.

    Returns:
        number [-].

    Raises:
        ValueError: outside those ranges.

    >>> semenov_number(47e3, 170.0, 2e-4, 1.7e-4, 25.0) > semenov_critical()
    True

    Source: Semenov's theory of thermal explosion.
    """
    require_positive("activation energy", energy_j_mol, "J/mol")
    require_positive("adiabatic rise", adiabatic_rise_k, "K")
    require_positive("rate", peak_rate_per_s, "1/s")
    require_positive("loss", loss_per_s, "1/s")
    temp_k = require_within("air temperature", air_c, -40.0, 70.0, "°C") + ZERO_C_IN_K
    return adiabatic_rise_k * peak_rate_per_s * energy_j_mol / (GAS_R_J_MOL_K * temp_k**2 * loss_per_s)


def critical_delta(shape: int) -> float:
    """Largest δ for which θ'' + (j/x)θ' = −δ·e^θ, θ'(0) = 0, θ(1) = 0 has a solution.

    From the centre outwards by Runge–Kutta in z = x·√(δ·e^θ0): where θ has fallen to 0, δ = z²·e^−θ0; then the
    largest over θ0.

    Args:
        shape: j: 0 for a slab, 1 for a long cylinder, 2 for a sphere.

    Returns:
        δ [-].

    Raises:
        ValueError: another shape.

    >>> round(critical_delta(1), 2)
    2.0

    Source: Frank-Kamenetskii's theory of thermal explosion.
    """
    if shape not in (0, 1, 2):
        raise ValueError(f"shape is {shape}; it must be 0 (slab), 1 (cylinder) or 2 (sphere)")
    best, fall, gradient, z = 0.0, 0.0, 0.0, 1e-6

    def curvature(at: float, value: float, slope: float) -> float:
        return -math.exp(value) - shape * slope / at

    while fall > -4.0:  # each point of one curve is the rim of a vessel with its own θ0 = −fall
        k1, l1 = gradient, curvature(z, fall, gradient)
        k2, l2 = gradient + _STEP / 2 * l1, curvature(z + _STEP / 2, fall + _STEP / 2 * k1, gradient + _STEP / 2 * l1)
        k3, l3 = gradient + _STEP / 2 * l2, curvature(z + _STEP / 2, fall + _STEP / 2 * k2, gradient + _STEP / 2 * l2)
        k4, l4 = gradient + _STEP * l3, curvature(z + _STEP, fall + _STEP * k3, gradient + _STEP * l3)
        fall += _STEP / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        gradient += _STEP / 6 * (l1 + 2 * l2 + 2 * l3 + l4)
        z += _STEP
        best = max(best, z * z * math.exp(fall))
    return best
