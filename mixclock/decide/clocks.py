"""A window's clock as the sheet allows it: the likely law, and the fastest and slowest that doubt must reckon with.

The fast law puts closing edges early, the slow law puts opening edges late. Near the stated temperatures they are the
likely law times the band. Away from them the likely law follows the sheet's overall slope, while the fast law gives
cold little credit and heat full blame, and the slow law the other way round: that is how "outside the data sheet"
widens without a jump, so that warmer is never later.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from mixclock.formulas.air import absolute_humidity_g_m3
from mixclock.formulas.history import moisture_exponent
from mixclock.formulas.rate_law import RateLaw, constant_law, fitted_energy_j_mol, law_from_points, tau_s
from mixclock.job.profile import Family, SheetPoint, SheetSpan
from mixclock.job.windownames import Law, default_energy, law_of

P90_SIGMAS = 1.2816
"""How many standard deviations the 10th and the 90th percentile lie from the median of a log-normal."""

EARLY_AT_MOST = 0.8
"""Until something was observed, early is never later than this share of likely (±20 %: band to claim)."""

HARDNESS_BAND = 1.6
"""×/÷ of hardness and traffic: the published chart's hardness is not even a straight line."""

OUTSIDE_COLD_CREDIT = 0.5
OUTSIDE_HOT_BLAME = 1.5
"""Slopes outside the sheet, as shares of its overall slope: half and one and a half (judgement)."""

AT_ONCE_S = 1e-3
"""A window that opens after "0 min" opens at once; a clock needs some time to run."""

COLDEST_C, HOTTEST_C = -55.0, 240.0
"""Where the extended laws end: beyond any slab."""

DEFAULT_HUMIDITY_EXPONENT = 0.5
DOUBTED_EXPONENTS = (0.0, 1.0)
"""Half the power of moisture, from none to all of it in the band: no published table of time against humidity was found
(judgement)."""

REFERENCE_C, REFERENCE_RH_PCT = 23.0, 50.0
"""Where a moisture-driven sheet names no humidity: laboratory air, 23 °C and 50 % (from memory: ISO 3270)."""


@dataclass(frozen=True)
class Learned:
    """What observations say of a window's clock: a factor on its times, with its spread."""

    factor: float = 1.0
    sigma: float | None = None
    observations: int = 0


NOTHING_LEARNED = Learned()


@dataclass(frozen=True)
class Damp:
    """How the water in the air drives a clock: the sheet's humidity and the likely, weakest and strongest exponent.

    The rate goes with (water at the slab / water in the sheet's own air)^exponent. The sheet's air held its humidity at
    each of its temperatures, so the ratio of the two waters is that of the humidity at the slab to the sheet's, and
    where the floor is as the sheet says, moisture changes nothing whatever the exponent.
    """

    reference_rh_pct: float
    exponent: float
    low: float
    high: float


@dataclass(frozen=True)
class Clock:
    """One edge's clock. `fast` and `slow` carry the band already; the learned factor is in all three."""

    likely: RateLaw
    fast: RateLaw
    slow: RateLaw
    damp: Damp | None
    one_point: bool
    hardness: bool
    learned: Learned

    @property
    def depends(self) -> bool:
        """Whether temperature moves this edge at all."""
        return self.likely.depends


@cache
def clock_of(window: str, span: SheetSpan, family: Family, learned: Learned) -> Clock:
    """The clock of one edge of a window."""
    low, high = _band(window, learned)
    hardness = law_of(window) is Law.HARDNESS
    if not span.depends_on_temperature:
        law = constant_law(max(span.points[0].span_s * learned.factor, AT_ONCE_S))
        early, late = (1.0, 1.0) if not learned.observations else (low, high)
        return Clock(law, _times(law, early), _times(law, late), None, False, hardness, learned)
    damp, points = _settled_humidity(span, family)
    energy = default_energy(window)
    likely = law_from_points([(c, s * learned.factor) for c, s in points], energy.likely_kj_mol * 1e3)
    one_point = len(points) == 1
    if one_point:
        fast = _extended(likely, energy.low_kj_mol * 1e3, energy.high_kj_mol * 1e3)
        slow = _extended(likely, energy.high_kj_mol * 1e3, energy.low_kj_mol * 1e3)
    else:
        slope = fitted_energy_j_mol(likely.points)
        fast = _extended(likely, slope * OUTSIDE_COLD_CREDIT, slope * OUTSIDE_HOT_BLAME)
        slow = _extended(likely, slope * OUTSIDE_HOT_BLAME, slope * OUTSIDE_COLD_CREDIT)
    return Clock(likely, _times(fast, low), _times(slow, high), damp, one_point, hardness, learned)


def _band(window: str, learned: Learned) -> tuple[float, float]:
    """Shares of the likely time at which the 10th and the 90th percentile lie."""
    sigma = prior_sigma(window) if learned.sigma is None else learned.sigma
    low, high = math.exp(-P90_SIGMAS * sigma), math.exp(P90_SIGMAS * sigma)
    return (low, high) if learned.observations else (min(low, EARLY_AT_MOST), high)


def prior_sigma(window: str) -> float:
    """Spread (log-normal sigma) of a window's times about its sheet before anything was observed."""
    band = HARDNESS_BAND if law_of(window) is Law.HARDNESS else 1.0 / EARLY_AT_MOST
    return math.log(band) / P90_SIGMAS


def _extended(law: RateLaw, cold_energy: float, hot_energy: float) -> RateLaw:
    """The same law inside the stated temperatures, with other slopes outside, held by a far point on each side."""
    first, last = law.points[0], law.points[-1]
    cold = law_from_points([first], max(0.0, cold_energy))
    hot = law_from_points([last], max(0.0, hot_energy))
    far = [(COLDEST_C, tau_s(cold, COLDEST_C)), *law.points, (HOTTEST_C, tau_s(hot, HOTTEST_C))]
    return law_from_points(far, 0.0)


def _times(law: RateLaw, factor: float) -> RateLaw:
    if not law.depends:
        return constant_law(tau_s(law, REFERENCE_C) * factor)
    return RateLaw(tuple((c, s * factor) for c, s in law.points), law.energy_j_mol)


def _settled_humidity(span: SheetSpan, family: Family) -> tuple[Damp | None, list[tuple[float, float]]]:
    """What moisture does, and the temperature points brought to one humidity.

    Points at several humidities of one temperature give the exponent. The driest row of each temperature is kept and
    brought to the humidity of the coldest.
    """
    kept = _driest_points(span.points)
    if family is not Family.POLYASPARTIC and not span.depends_on_humidity:
        return None, [(point.temp_c, point.span_s) for point in kept if point.temp_c is not None]
    stated = _stated_exponent(span.points)
    reference = kept[0].rh_pct or REFERENCE_RH_PCT
    likely = DEFAULT_HUMIDITY_EXPONENT if stated is None else stated
    low, high = DOUBTED_EXPONENTS if stated is None else (stated, stated)
    brought = [
        (point.temp_c, point.span_s * ((point.rh_pct or REFERENCE_RH_PCT) / reference) ** likely)
        for point in kept
        if point.temp_c is not None
    ]
    return Damp(reference, likely, low, high), brought


def _driest_points(points: tuple[SheetPoint, ...]) -> list[SheetPoint]:
    kept: dict[float | None, SheetPoint] = {}
    for point in points:
        known = kept.get(point.temp_c)
        if known is None or (point.rh_pct or 0.0) < (known.rh_pct or 0.0):
            kept[point.temp_c] = point
    return list(kept.values())


def _stated_exponent(points: tuple[SheetPoint, ...]) -> float | None:
    """The exponent from the driest and the dampest point of one temperature, where the sheet has such a pair."""
    by_temp: dict[float, list[SheetPoint]] = {}
    for point in points:
        if point.temp_c is not None and point.rh_pct is not None:
            by_temp.setdefault(point.temp_c, []).append(point)
    found = []
    for temp_c, rows in by_temp.items():
        if len(rows) > 1:
            rows.sort(key=lambda row: row.rh_pct or 0.0)
            dry, humid = rows[0], rows[-1]
            at_dry = absolute_humidity_g_m3(temp_c, dry.rh_pct or 0.0)
            at_humid = absolute_humidity_g_m3(temp_c, humid.rh_pct or 0.0)
            found.append(moisture_exponent((at_humid, humid.span_s), (at_dry, dry.span_s)))
    return max(0.0, sum(found) / len(found)) if found else None
