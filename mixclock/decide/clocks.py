"""A window's clock as the sheet allows it: the likely law, and the fastest and the slowest that may be true.

The fast law puts edges early, the slow law puts them late. There are two kinds of window, with different doubts.

*Ends that a crew races* (pour-out, back-roll, wet edge, broadcast): near the stated temperatures the fast and the slow
law are the likely law times the band. Away from them the likely law follows the sheet's overall slope. The fast law
lets cold slow it only a little and heat speed it up fully; the slow law does the opposite. So the band widens outside
the data sheet without a jump, and a warmer floor is never later.

*Limits that a maker sets* (recoat, tack-free, traffic) carry the maker's reserve: at a stated temperature all three
laws give the sheet's figure. Away from it they part by a share for each kelvin. Beyond the sheet the crew gets no
credit on the unsafe side. Below the coldest stated point a limit closes no later than at that point. Above the hottest
it opens hardly sooner than at that point.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from itertools import pairwise

from mixclock.formulas.air import absolute_humidity_g_m3
from mixclock.formulas.history import moisture_exponent
from mixclock.formulas.rate_law import P90_SIGMAS, RateLaw, constant_law, fitted_energy_j_mol, law_from_points, tau_s
from mixclock.job.profile import Family, SheetPoint, SheetSpan
from mixclock.job.windownames import DefaultEnergy, Law, default_energy, is_limit, law_of
from mixclock.values import dataclass

EARLY_AT_MOST = 0.8
"""Until somebody has observed an end, early is never later than this share of likely (±20 %: band to claim)."""

HARDNESS_BAND = 1.6
"""The prior band of hardness and traffic before anything is learned, as a factor up and down. It is wide: even a
maker's chart of hardness is no straight line."""

OUTSIDE_COLD_CREDIT = 0.5
OUTSIDE_HOT_BLAME = 1.5
"""Slopes of a raced end outside the sheet, as shares of its overall slope: half and one and a half (judgement)."""

PARTING_PER_K = {Law.GEL_LIKE: 0.02, Law.HARDNESS: 0.04}
PARTING_AT_MOST = {Law.GEL_LIKE: 0.20, Law.HARDNESS: 0.60}
"""How far a limit's edges part from its likely law: for each kelvin from the nearest stated temperature, and at most.
(Judgement. A published chart, read 10 K from the points that the law knows, lies inside.)"""

HOT_CREDIT_J_MOL = 20e3
"""The steepest slope by which heat above the hottest stated temperature opens a limit sooner (read: a sheet's 21
kJ/mol)."""

STEEPEST_J_MOL = 300e3
"""No slope beyond the stated points is steeper than this. If two close points say so, somebody mistyped them."""

AT_ONCE_S = 1e-3
"""A window that opens after "0 min" opens at once. Its clock still needs a span to run, and gets this one."""

SAME_TEMPERATURE_K = 0.01
"""Two temperatures nearer than this are the same: one was converted from °F, the other was not."""

COLDEST_C, HOTTEST_C = -55.0, 240.0
"""The temperatures at which the extended laws end: no slab is colder or hotter."""

SUPPORTED_C = range(-20, 61)
"""At every degree at which floors are laid a parted law has a point. With wider steps it would open up to a twentieth
too soon."""

DEFAULT_HUMIDITY_EXPONENT = 0.5
DOUBTED_EXPONENTS = (0.0, 1.0)
"""The likely exponent of moisture is a half; the band goes from none to one. We found no published table of time
against humidity (judgement)."""

REFERENCE_C, REFERENCE_RH_PCT = 23.0, 50.0
"""If a moisture-driven sheet names no humidity, it was measured in laboratory air: 23 °C and 50 % (from memory: ISO
3270)."""


@dataclass(frozen=True)
class LearnedFactor:
    """What observations teach about a window's clock: a factor on its times, with its spread.

    `mass_kg` is the largest bucket whose pour-out somebody observed. `lot_factor` is the part of `factor` that comes
    from cups of the lot.
    """

    factor: float = 1.0
    sigma: float | None = None
    observations: int = 0
    mass_kg: float = 0.0
    lot_factor: float = 1.0


NOTHING_LEARNED = LearnedFactor()


@dataclass(frozen=True)
class Damp:
    """How the water in the air drives a clock: the sheet's humidity and the likely, weakest and strongest exponent.

    The rate goes with (water at the slab / water in the sheet's own air)^exponent. The sheet's air held one relative
    humidity at all of its temperatures. So the ratio of the two waters is the ratio of the two humidities: that at the
    slab and the sheet's. On a floor as humid as the sheet's air, moisture changes nothing, whatever the exponent.
    """

    reference_rh_pct: float
    exponent: float
    low: float
    high: float


@dataclass(frozen=True)
class EdgeClock:
    """One edge's clock. `fast` and `slow` carry the law's doubt already; the learned factor is in all of them.

    `free` is the likely law without the limits on credit beyond the sheet; for a raced end it is `likely` itself.
    `limit` tells a maker's limit from a raced end. `undated` tells that the sheet names no temperature.
    """

    likely: RateLaw
    fast: RateLaw
    slow: RateLaw
    free: RateLaw
    damp: Damp | None
    one_point: bool
    limit: bool
    closing: bool
    undated: bool
    learned: LearnedFactor
    stated_c: tuple[float, ...] = ()
    window: str = ""

    @property
    def depends(self) -> bool:
        """Whether temperature moves this edge at all."""
        return self.likely.depends

    def is_stated(self, range_c: tuple[float, float] | None) -> bool:
        """Whether the sheet states its times for all of a range. There `free` and `likely` are one law."""
        return (
            range_c is not None
            and bool(self.stated_c)
            and self.stated_c[0] <= range_c[0]
            and range_c[1] < self.stated_c[-1]
        )

    def parting(self, temp_c: float) -> float:
        """How far a limit's edges part from the likely law at a temperature, as a share of its time."""
        return _parting(temp_c, self.stated_c, law_of(self.window)) if self.limit and self.stated_c else 0.0


@cache
def clock_of(window: str, span: SheetSpan, family: Family, learned: LearnedFactor, closing: bool) -> EdgeClock:
    """The clock of one edge of a window. `closing` tells which: doubt makes one edge sooner and the other later."""
    limit, undated = is_limit(window), span.undated
    if not span.depends_on_temperature and not undated:
        return _still(window, span, learned, closing)
    damp, points = _settled_humidity(span.reckoned(closing), family)
    scaled = [(temp_c, span_s * learned.factor) for temp_c, span_s in points]
    energy = default_energy(window)
    stated_c = tuple(temp_c for temp_c, _ in sorted(scaled))
    if limit:
        likely, fast, slow, free = _limit_laws(scaled, energy, law_of(window), closing)
    else:
        free = likely = law_from_points(scaled, energy.likely_kj_mol * 1e3)
        fast, slow = _raced_laws(likely, energy, *_band(window, learned))
    one_point = len(points) == 1
    return EdgeClock(likely, fast, slow, free, damp, one_point, limit, closing, undated, learned, stated_c, window)


def _still(window: str, span: SheetSpan, learned: LearnedFactor, closing: bool) -> EdgeClock:
    """The clock of a span that is the same at any temperature."""
    law = constant_law(max(span.points[0].span_s * learned.factor, AT_ONCE_S))
    early, late = _band(window, learned) if learned.observations and not is_limit(window) else (1.0, 1.0)
    fast, slow = _times(law, early), _times(law, late)
    return EdgeClock(law, fast, slow, law, None, False, is_limit(window), closing, False, learned, (), window)


def _raced_laws(likely: RateLaw, energy: DefaultEnergy, low: float, high: float) -> tuple[RateLaw, RateLaw]:
    """The fast and the slow law of an end that a crew races."""
    if len(likely.points) == 1:
        least, most = energy.low_kj_mol * 1e3, energy.high_kj_mol * 1e3
    else:
        slope = fitted_energy_j_mol(likely.points)
        least, most = slope * OUTSIDE_COLD_CREDIT, slope * OUTSIDE_HOT_BLAME
    return _times(_extended(likely, least, most), low), _times(_extended(likely, most, least), high)


def _limit_laws(
    points: Sequence[tuple[float, float]], energy: DefaultEnergy, law: Law, closing: bool
) -> tuple[RateLaw, RateLaw, RateLaw, RateLaw]:
    """The likely, fast, slow and free law of a maker's limit.

    Below the coldest point the likely law of a closing is level. Above the hottest that of an opening falls only a
    little.
    """
    free = law_from_points(points, energy.likely_kj_mol * 1e3)
    slope = max(0.0, free.energy_j_mol)
    likely = _extended(free, 0.0, slope) if closing else _extended(free, slope, min(slope, HOT_CREDIT_J_MOL))
    least, most = energy.low_kj_mol * 1e3, energy.high_kj_mol * 1e3
    one_point = len(points) == 1
    steep = (_extended(free, least, most), _extended(free, most, least)) if one_point else (free, free)
    fast = _parted(likely if closing else free, steep[0], free.points, law, sooner=True)
    slow = _parted(free if closing else likely, steep[1], free.points, law, sooner=False)
    return likely, fast, slow, free


def _parted(law: RateLaw, steep: RateLaw, stated: Sequence[tuple[float, float]], kind: Law, *, sooner: bool) -> RateLaw:
    """The fast or the slow law: the likely one moved by its doubt, and at least by what the plausible energies say.

    A closing never comes before the sheet's figure at the next warmer stated point, and an opening never after that at
    the next colder one. At a stated point there is no doubt, so a law that passed its figure would turn back.
    """
    temps_c = _nodes([temp_c for temp_c, _ in stated], kind)
    found: list[float] = []
    for temp_c in reversed(temps_c) if sooner else temps_c:
        share = _parting(temp_c, [at_c for at_c, _ in stated], kind)
        span_s = tau_s(law, temp_c) * (1.0 - share if sooner else 1.0 + share)
        span_s = min(span_s, tau_s(steep, temp_c)) if sooner else max(span_s, tau_s(steep, temp_c))
        if found:
            span_s = max(span_s, found[-1]) if sooner else min(span_s, found[-1])
        found.append(span_s)
    return law_from_points(list(zip(temps_c, reversed(found) if sooner else found, strict=True)), 0.0)


def _parting(temp_c: float, stated_c: Sequence[float], law: Law) -> float:
    away_k = min(abs(temp_c - at_c) for at_c in stated_c)
    return min(PARTING_AT_MOST[law], PARTING_PER_K[law] * away_k)


def _nodes(stated_c: Sequence[float], law: Law) -> list[float]:
    """Temperatures between which a parted law runs straight. They lie close, since the law bends until its doubt is
    full."""
    reach_k = PARTING_AT_MOST[law] / PARTING_PER_K[law]
    between = {float(temp_c) for temp_c in SUPPORTED_C}
    between |= {at_c + away_k for at_c in stated_c for away_k in (-reach_k, reach_k)}
    between |= {0.5 * (one + other) for one, other in pairwise(stated_c)}
    apart: list[float] = []
    for temp_c in sorted(between):
        if all(abs(temp_c - at_c) > SAME_TEMPERATURE_K for at_c in (*stated_c, *apart[-1:])):
            apart.append(temp_c)
    return sorted(temp_c for temp_c in {COLDEST_C, HOTTEST_C, *stated_c, *apart} if COLDEST_C <= temp_c <= HOTTEST_C)


def _band(window: str, learned: LearnedFactor) -> tuple[float, float]:
    """Shares of the likely time at which the 10th and the 90th percentile of a raced end lie."""
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
    cold = law_from_points([first], min(STEEPEST_J_MOL, max(0.0, cold_energy)))
    hot = law_from_points([last], min(STEEPEST_J_MOL, max(0.0, hot_energy)))
    far = [(COLDEST_C, tau_s(cold, COLDEST_C)), *law.points, (HOTTEST_C, tau_s(hot, HOTTEST_C))]
    return law_from_points(far, 0.0)


def _times(law: RateLaw, factor: float) -> RateLaw:
    if not law.depends:
        return constant_law(tau_s(law, REFERENCE_C) * factor)
    return RateLaw(tuple((c, s * factor) for c, s in law.points), law.energy_j_mol)


def _settled_humidity(span: SheetSpan, family: Family) -> tuple[Damp | None, list[tuple[float, float]]]:
    """What moisture does, and the temperature points brought to one humidity.

    Points of one temperature at several humidities give the exponent. Of each temperature the driest row is kept, and
    brought to the humidity of the coldest row.
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
    """One point for each temperature: the first, since a span lists the driest first."""
    kept: dict[float | None, SheetPoint] = {}
    for point in points:
        kept.setdefault(point.temp_c, point)
    return list(kept.values())


def _stated_exponent(points: tuple[SheetPoint, ...]) -> float | None:
    """The exponent from the driest and the dampest point of one temperature, if the sheet has such a pair."""
    by_temp: dict[float, list[tuple[float, float]]] = {}
    for point in points:
        if point.temp_c is not None and point.rh_pct is not None:
            by_temp.setdefault(point.temp_c, []).append((point.rh_pct, point.span_s))
    found = []
    for temp_c, rows in by_temp.items():
        (dry_pct, dry_s), (humid_pct, humid_s) = rows[0], rows[-1]
        if humid_pct > dry_pct:
            at_humid, at_dry = (absolute_humidity_g_m3(temp_c, rh_pct) for rh_pct in (humid_pct, dry_pct))
            found.append(moisture_exponent((at_humid, humid_s), (at_dry, dry_s)))
    return max(0.0, sum(found) / len(found)) if found else None
