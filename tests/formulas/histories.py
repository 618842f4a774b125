"""Histories and ages as textbooks have them: what published figures and properties are checked by."""

from __future__ import annotations

from collections.abc import Sequence

from mixclock.formulas.cure import ripeness
from mixclock.formulas.history import History
from mixclock.formulas.ranges import require_within
from mixclock.formulas.rate_law import GAS_R_J_MOL_K, law_from_points


def constant_history(value: float) -> History:
    """A history that holds one value.

    >>> constant_history(20.0).at(1e9)
    20.0
    """
    return History((0.0,), (value,))


def history_of(readings: Sequence[tuple[float, float]]) -> History:
    """A history from (time [s], value) in any order; of two at one instant the later in the list follows the other.

    >>> history_of([(60.0, 21.0), (0.0, 20.0)])
    History(times_s=(0.0, 60.0), values=(20.0, 21.0))
    """
    ordered = sorted(readings, key=lambda reading: reading[0])
    return History(tuple(float(t) for t, _ in ordered), tuple(float(v) for _, v in ordered))


def equivalent_age_s(
    history: History, start_s: float, end_s: float, reference_c: float = 20.0, energy_over_r_k: float = 4000.0
) -> float:
    """Age [s] at the reference temperature that matures as much: ∫ exp[−Q(1/T − 1/T_ref)] dt.

    Args:
        history: temperature [°C] over time [s].
        start_s, end_s: from when to when [s].
        reference_c: reference temperature [°C], -60 to 250.
        energy_over_r_k: Q = E/R [K], above 0 to 36 000.

    Returns:
        equivalent age [s].

    Raises:
        ValueError: outside those ranges.

    >>> round(equivalent_age_s(constant_history(30.0), 0.0, 10 * 86400.0) / 86400.0, 2)
    15.68

    Source: ASTM C1074; fib Model Code 2020 with Q = 4000 K.
    """
    require_within("E/R", energy_over_r_k, 1e-6, 36000.0, "K")
    law = law_from_points([(reference_c, 1.0)], energy_over_r_k * GAS_R_J_MOL_K)
    return ripeness(law, history, start_s, end_s)
