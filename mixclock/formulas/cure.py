"""A window's clock: how fast it runs at a temperature, and how far it has run along a history.

dξ/dt = m(t) / (factor · τ(T(t))), the edge at ξ = 1. ξ is the *ripeness*. τ(T) is the data sheet's, read as
Arrhenius: ln τ is piecewise linear in 1/T (absolute). The integral is taken with a 6-point Gauss rule on pieces cut
at the readings, at the sheet's own temperatures and every 15 K, which leaves errors near rounding; so the same
history sampled finer or coarser gives the same answer.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from mixclock.formulas.air import ZERO_C_IN_K
from mixclock.formulas.history import (
    History,
    Moisture,
    constant_history,
    history_of,
    hottest_sustained_c,
    moisture_exponent,
)
from mixclock.formulas.ranges import require_positive, require_within
from mixclock.formulas.rate_law import (
    GAS_R_J_MOL_K,
    RateLaw,
    constant_law,
    fitted_energy_j_mol,
    is_suspect,
    law_from_points,
    outside_sheet,
    segment_of,
    tau_s,
)

__all__ = [  # the whole clock through one door
    "History",
    "Moisture",
    "RateLaw",
    "constant_history",
    "constant_law",
    "equivalent_age_s",
    "fitted_energy_j_mol",
    "history_of",
    "hottest_sustained_c",
    "is_suspect",
    "law_from_points",
    "moisture_exponent",
    "outside_sheet",
    "ripeness",
    "tau_s",
    "time_of_ripeness",
]

CUT_EVERY_K = 15.0

# Gauss–Legendre on [0, 1], six points: Abramowitz and Stegun, table 25.4
_GAUSS = tuple(
    (0.5 * (1.0 + sign * node), 0.5 * weight)
    for node, weight in (
        (0.238619186083196909, 0.467913934572691047),
        (0.661209386466264514, 0.360761573048138608),
        (0.932469514203152028, 0.171324492379170345),
    )
    for sign in (-1.0, 1.0)
)


@dataclass(frozen=True, slots=True)
class _Piece:
    """A stretch of time in which temperature and moisture run straight and the law has one slope."""

    start_s: float
    end_s: float
    start_c: float
    end_c: float
    start_m: float  # moisture relative to its reference; 1 where nothing depends on it
    end_m: float
    intercept: float
    slope_k: float
    exponent: float

    def ripened(self, end_s: float) -> float:
        """∫ dt/τ from the piece's start to `end_s`, moisture included."""
        span_s = end_s - self.start_s
        if span_s <= 0.0:
            return 0.0
        if self.start_c == self.end_c and self.start_m == self.end_m:
            return span_s * self.rate(0.0)
        share = span_s / (self.end_s - self.start_s) if end_s < self.end_s else 1.0
        return span_s * sum(weight * self.rate(share * node) for node, weight in _GAUSS)

    def rate(self, share: float) -> float:
        """Ripeness per second at a share of the piece."""
        temp_k = self.start_c + share * (self.end_c - self.start_c) + ZERO_C_IN_K
        rate = math.exp(-self.intercept - self.slope_k / temp_k)
        if not self.exponent:
            return rate
        return rate * Moisture.factor_of(self.start_m + share * (self.end_m - self.start_m), self.exponent)

    def time_of(self, wanted: float) -> float:
        """When `ripened` reaches `wanted`: Newton, kept inside a shrinking bracket."""
        low_s, high_s = self.start_s, self.end_s
        if math.isinf(high_s):
            return low_s + wanted / self.rate(0.0)
        time_s = low_s + min(wanted / self.rate(0.0), high_s - low_s)
        for _ in range(100):
            excess = self.ripened(time_s) - wanted
            low_s, high_s = (time_s, high_s) if excess < 0.0 else (low_s, time_s)
            following = time_s - excess / self.rate((time_s - self.start_s) / (self.end_s - self.start_s))
            if not low_s <= following <= high_s:
                following = 0.5 * (low_s + high_s)
            if abs(following - time_s) <= 1e-12 * max(1.0, abs(time_s)):
                return following
            time_s = following
        return time_s


def _pieces(law: RateLaw, history: History, start_s: float, moisture: Moisture | None) -> Iterator[_Piece]:
    """All pieces from `start_s` on; the last one has no end, as the last reading is held."""
    exponent = moisture.exponent if moisture else 0.0
    knots = {time_s for time_s in history.times_s if time_s > start_s}
    if moisture and exponent:
        knots.update(time_s for time_s in moisture.history.times_s if time_s > start_s)
    for begin_s, end_s in pairwise([start_s, *sorted(knots)]):
        yield from _cut(law, history, begin_s, end_s, moisture if exponent else None)
    begin_s = max(knots, default=start_s)
    temp_c = history.after(begin_s)
    wet = moisture.relative(moisture.history.after(begin_s)) if moisture and exponent else 1.0
    yield _Piece(begin_s, math.inf, temp_c, temp_c, wet, wet, *segment_of(law, temp_c), exponent)


def _cut(law: RateLaw, history: History, begin_s: float, end_s: float, moisture: Moisture | None) -> Iterator[_Piece]:
    """Cut a stretch between knots so that each piece is smooth and no longer than the Gauss rule can take."""
    start_c, end_c = history.after(begin_s), history.before(end_s)
    start_m = moisture.relative(moisture.history.after(begin_s)) if moisture else 1.0
    end_m = moisture.relative(moisture.history.before(end_s)) if moisture else 1.0
    shares = [0.0, 1.0]
    if start_c != end_c:
        shares += _crossings(start_c, end_c, [segment[0] for segment in law.segments[1:]])
        count = math.ceil(abs(end_c - start_c) / CUT_EVERY_K)
        shares += [step / count for step in range(1, count)]
    if moisture and start_m != end_m:
        shares += _crossings(start_m, end_m, moisture.cuts)
    exponent = moisture.exponent if moisture else 0.0
    for low, high in pairwise(sorted(shares)):
        if high > low:
            low_c, high_c = start_c + low * (end_c - start_c), start_c + high * (end_c - start_c)
            yield _Piece(
                begin_s + low * (end_s - begin_s),
                begin_s + high * (end_s - begin_s),
                low_c,
                high_c,
                start_m + low * (end_m - start_m),
                start_m + high * (end_m - start_m),
                *segment_of(law, 0.5 * (low_c + high_c)),
                exponent,
            )


def _crossings(start: float, end: float, levels: Sequence[float]) -> list[float]:
    shares = ((level - start) / (end - start) for level in levels)
    return [share for share in shares if 0.0 < share < 1.0]


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

    >>> law = law_from_points([(20.0, 2400.0), (30.0, 1200.0)], 47e3)
    >>> round(ripeness(law, constant_history(20.0), 0.0, 1200.0), 12)
    0.5

    Source: equivalent age, ASTM C1074, applied to a window.
    """
    require_positive("factor", factor, "(times the sheet)")
    gained = []
    for piece in _pieces(law, history, start_s, moisture):
        if piece.start_s >= end_s:
            break
        gained.append(piece.ripened(min(end_s, piece.end_s)))
    return math.fsum(gained) / factor


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

    >>> law = law_from_points([(20.0, 2400.0), (30.0, 1200.0)], 47e3)
    >>> round(time_of_ripeness(law, constant_history(30.0), 0.0, start_ripeness=0.25), 6)
    900.0

    Source: as for `ripeness`; Newton with a bracket.
    """
    require_positive("factor", factor, "(times the sheet)")
    require_within("ripeness", target, -1e9, 1e9, "")
    wanted = (target - start_ripeness) * factor
    if wanted <= 0.0:
        return start_s
    if law.constant_s is not None and moisture is None:
        return start_s + wanted * law.constant_s  # to the last digit
    for piece in _pieces(law, history, start_s, moisture):
        if math.isinf(piece.end_s):
            return piece.time_of(wanted)
        gained = piece.ripened(piece.end_s)
        if gained >= wanted:
            return piece.time_of(wanted)
        wanted -= gained
    raise AssertionError("the last piece has no end")


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
