"""τ(T): how long a window's clock takes at a temperature, as its data sheet says.

Arrhenius: ln τ is linear in 1/T (absolute), piecewise between the stated points. Each window has its own law: gel,
recoat and hardness share none.
"""

import math
from bisect import bisect_right
from collections.abc import Sequence
from functools import cached_property
from itertools import pairwise
from typing import Any

from mixclock.formulas.air import ZERO_C_IN_K
from mixclock.formulas.ranges import require_positive, require_within
from mixclock.values import dataclass

GAS_R_J_MOL_K = 8.314462618  # CODATA 2018
TEMP_RANGE_C = (-60.0, 250.0)
P90_SIGMAS = 1.2816  # the 10th and the 90th percentile lie this many standard deviations from the median
COLD_SLAB_C = 10.0  # common practice, no source: epoxies hardly cure below it
ONE_POINT_REACH_K = 5.0  # judgement: how far from its only stated temperature a sheet still speaks


@dataclass(frozen=True)
class RateLaw:
    """τ(T) of one window.

    points: (temperature [°C], τ [s]) as stated, coldest first; empty for a span without any dependence.
    energy_j_mol: slope outside the stated points, and of a single one [J/mol]; 0 without dependence.
    constant_s: the span [s] where nothing depends on temperature, else None.
    """

    points: tuple[tuple[float, float], ...]
    energy_j_mol: float
    constant_s: float | None = None

    @property
    def depends(self) -> bool:
        """Whether temperature moves it at all."""
        return bool(self.points)

    @property
    def stated_low_c(self) -> float:
        """Lowest temperature that the sheet states [°C]; -inf without dependence."""
        return self.points[0][0] if self.points else -math.inf

    @property
    def stated_high_c(self) -> float:
        """Highest temperature that the sheet states [°C]; inf without dependence."""
        return self.points[-1][0] if self.points else math.inf

    @cached_property
    def starts_c(self) -> tuple[float, ...]:
        """Temperatures at which one line ends and the next begins [°C], coldest first."""
        return tuple(start for start, _, _ in self.segments[1:])

    @cached_property
    def lines(self) -> tuple[tuple[float, float], ...]:
        """(a, b) of ln τ = a + b/T, one more than there are starts."""
        return tuple((intercept, slope_k) for _, intercept, slope_k in self.segments)

    @cached_property
    def climbs(self) -> dict[tuple[int, int], Any]:
        """What it gains while temperature climbs: the tables that `climb` made, by the range that they cover."""
        return {}

    @cached_property
    def segments(self) -> tuple[tuple[float, float, float], ...]:
        """(from [°C], a, b) with ln τ = a + b/T, coldest first; the first holds from -inf."""
        if self.constant_s is not None:
            return ((-math.inf, math.log(self.constant_s), 0.0),)
        outside = self.energy_j_mol / GAS_R_J_MOL_K
        slopes = [outside, *(_slope_k(low, high) for low, high in pairwise(self.points)), outside]
        anchors = [self.points[0], *self.points]
        starts = [-math.inf, *(temp_c for temp_c, _ in self.points)]
        return tuple(
            (start, math.log(tau_s) - slope / (temp_c + ZERO_C_IN_K), slope)
            for start, (temp_c, tau_s), slope in zip(starts, anchors, slopes, strict=True)
        )


def constant_law(span_s: float) -> RateLaw:
    """The clock of a span that stands alone on the sheet: τ is the same at every temperature.

    >>> tau_s(constant_law(1800.0), 5.0)
    1800.0
    """
    return RateLaw((), 0.0, require_positive("span", span_s, "s"))


def law_from_points(points: Sequence[tuple[float, float]], default_energy_j_mol: float) -> RateLaw:
    """τ(T) from what the sheet states.

    One point: Arrhenius with the default energy. Two: through both. Three or more: ln τ piecewise linear in 1/T
    between them, and outside along the least-squares slope of all.

    Args:
        points: (temperature [°C] -60 to 250, τ [s] above 0), in any order, no temperature twice.
        default_energy_j_mol: activation energy for a single point [J/mol], 0 to 300 000.

    Returns:
        RateLaw.

    Raises:
        ValueError: no point, a temperature twice, or values outside those ranges.

    >>> law = law_from_points([(30.0, 1200.0), (20.0, 2400.0)], 47e3)
    >>> round(law.energy_j_mol)
    51216

    Source: Arrhenius, as for the equivalent age of concrete in ASTM C1074.
    """
    if not points:
        raise ValueError("a temperature law needs at least one point (temperature in °C, time in s)")
    ordered = tuple(sorted((float(temp_c), float(tau)) for temp_c, tau in points))
    for temp_c, tau in ordered:
        require_within("temperature", temp_c, *TEMP_RANGE_C, "°C")
        require_positive("time", tau, "s")
    for (low_c, _), (high_c, _) in pairwise(ordered):
        if high_c - low_c < 1e-6:
            raise ValueError(f"{low_c:g} °C is stated twice; keep one time per temperature")
    energy = require_within("activation energy", default_energy_j_mol, 0.0, 300e3, "J/mol")
    return RateLaw(ordered, fitted_energy_j_mol(ordered) if len(ordered) > 1 else energy)


def _slope_k(low: tuple[float, float], high: tuple[float, float]) -> float:
    """d ln τ / d(1/T) [K] between two points."""
    inverse_k = 1.0 / (low[0] + ZERO_C_IN_K) - 1.0 / (high[0] + ZERO_C_IN_K)
    return math.log(low[1] / high[1]) / inverse_k


def fitted_energy_j_mol(points: Sequence[tuple[float, float]]) -> float:
    """Activation energy [J/mol] of the least-squares line of ln τ over 1/T through all points.

    Args:
        points: at least two (temperature [°C], τ [s]).

    Returns:
        energy [J/mol]; negative where the warmer point is the slower one.

    Raises:
        ValueError: fewer than two points.

    >>> round(fitted_energy_j_mol([(10.0, 3600.0), (20.0, 1800.0), (30.0, 900.0)]) / 1e3, 1)
    49.4

    Source: Arrhenius; ordinary least squares.
    """
    if len(points) < 2:
        raise ValueError("a slope needs at least two points (temperature in °C, time in s)")
    inverse = [1.0 / (temp_c + ZERO_C_IN_K) for temp_c, _ in points]
    logs = [math.log(tau) for _, tau in points]
    mean_x, mean_y = math.fsum(inverse) / len(inverse), math.fsum(logs) / len(logs)
    spread = math.fsum((x - mean_x) ** 2 for x in inverse)
    return GAS_R_J_MOL_K * math.fsum((x - mean_x) * (y - mean_y) for x, y in zip(inverse, logs, strict=True)) / spread


def outside_sheet(law: RateLaw, temp_c: float) -> bool:
    """Whether a deadline at this temperature rests on extrapolation.

    True below the lowest or above the highest stated temperature (5 K to either side where only one is stated), and
    below 10 °C where the sheet states nothing that cold.

    >>> law = law_from_points([(10.0, 3600.0), (30.0, 900.0)], 47e3)
    >>> outside_sheet(law, 20.0), outside_sheet(law, 8.0)
    (False, True)
    """
    if not law.depends:
        return False
    reach_k = ONE_POINT_REACH_K if len(law.points) == 1 else 0.0
    too_cold = law.stated_low_c > temp_c and temp_c < COLD_SLAB_C
    return too_cold or not law.stated_low_c - reach_k <= temp_c <= law.stated_high_c + reach_k


def tau_s(law: RateLaw, temp_c: float) -> float:
    """Time [s] that the window's clock takes from 0 to 1 when held at one temperature: exp(a + b/T).

    Args:
        law: the window's law.
        temp_c: temperature [°C], -60 to 250.

    Returns:
        time [s].

    Raises:
        ValueError: outside -60…250 °C.

    >>> round(tau_s(law_from_points([(20.0, 2400.0), (30.0, 1200.0)], 47e3), 25.0))
    1687

    Source: Arrhenius.
    """
    require_within("temperature", temp_c, *TEMP_RANGE_C, "°C")
    if law.constant_s is not None:
        return law.constant_s
    intercept, slope_k = segment_of(law, temp_c)
    return math.exp(intercept + slope_k / (temp_c + ZERO_C_IN_K))


def segment_of(law: RateLaw, temp_c: float) -> tuple[float, float]:
    """(a, b) of ln τ = a + b/T that holds at a temperature."""
    return law.lines[bisect_right(law.starts_c, temp_c)]
