"""A window's clock: how fast it runs at a temperature, and how far it has run along a history.

dξ/dt = m(t) / (factor · τ(T(t))), the edge at ξ = 1. ξ is the *ripeness*. τ(T) is the data sheet's, read as
Arrhenius: ln τ is piecewise linear in 1/T (absolute). The integral is taken with a 6-point Gauss rule on pieces cut
at the readings, at the sheet's own temperatures and every 15 K, which leaves errors near rounding; so the same
history sampled finer or coarser gives the same answer.
"""

from mixclock.formulas.gaintable import gains
from mixclock.formulas.history import History, Moisture
from mixclock.formulas.notedclocks import noted_before
from mixclock.formulas.ranges import require_positive, require_within
from mixclock.formulas.rate_law import RateLaw


def ripeness(
    law: RateLaw,
    history: History,
    start_s: float,
    end_s: float,
    factor: float = 1.0,
    moisture: Moisture | None = None,
) -> float:
    """How far a window's clock runs from `start_s` to `end_s`: ∫ m/(factor·τ(T)) dt.

    Args:
        law: the window's law.
        history: temperature [°C] over time [s].
        start_s, end_s: from when to when [s]; the same zero as the history's.
        factor: learned factor on τ [-], above 0; 1.2 means that this product takes 20 % longer than its sheet.
        moisture: humidity at the slab where it drives this window.

    Returns:
        ripeness gained [-]; 0 where end_s is not after start_s.

    Raises:
        ValueError: factor not above 0.

    >>> from mixclock.formulas.rate_law import law_from_points
    >>> law = law_from_points([(20.0, 2400.0), (30.0, 1200.0)], 47e3)
    >>> round(ripeness(law, History((0.0,), (20.0,)), 0.0, 1200.0), 12)
    0.5

    Source: equivalent age, ASTM C1074, applied to a window.
    """
    require_positive("factor", factor, "(times the sheet)")
    if end_s <= start_s:
        return 0.0
    before = noted_before(law, history, start_s, moisture)
    if before is not None:
        return before.gained(end_s, ripeness) / factor + (
            ripeness(law, history, before.until_s, end_s, factor, moisture) if end_s > before.until_s else 0.0
        )
    return gains(law, history, moisture).gained(start_s, end_s) / factor


def time_of_ripeness(
    law: RateLaw,
    history: History,
    start_s: float,
    target: float = 1.0,
    start_ripeness: float = 0.0,
    factor: float = 1.0,
    moisture: Moisture | None = None,
) -> float:
    """When a window's clock reaches `target`, having stood at `start_ripeness` at `start_s`.

    Args:
        law: the window's law.
        history: temperature [°C] over time [s]; the last reading is held.
        start_s: when it starts [s].
        target: ripeness wanted [-]; 1 is the edge.
        start_ripeness: what was used up before, such as in the bucket [-].
        factor: learned factor on τ [-], above 0.
        moisture: humidity at the slab where it drives this window.

    Returns:
        time [s], not before start_s.

    Raises:
        ValueError: factor not above 0, or target not finite.

    >>> from mixclock.formulas.rate_law import law_from_points
    >>> law = law_from_points([(20.0, 2400.0), (30.0, 1200.0)], 47e3)
    >>> round(time_of_ripeness(law, History((0.0,), (30.0,)), 0.0, start_ripeness=0.25), 6)
    900.0

    Source: as for `ripeness`; Newton with a bracket.
    """
    require_positive("factor", factor, "(times the sheet)")
    require_within("ripeness", target, -1e9, 1e9, "")
    wanted = (target - start_ripeness) * factor
    if wanted <= 0.0:
        return start_s
    if law.constant_s is not None and moisture is None:
        return start_s + wanted * law.constant_s  # equal to the last digit
    before = noted_before(law, history, start_s, moisture)
    if before is not None:
        gained = before.gained(before.until_s, ripeness)
        if gained >= wanted:
            return before.reached(wanted, time_of_ripeness)
        return time_of_ripeness(law, history, before.until_s, wanted - gained, moisture=moisture)
    return gains(law, history, moisture).reached_s(start_s, wanted)
