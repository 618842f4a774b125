"""Stretches of time in which temperature and moisture run straight and a law has one slope: a clock's small steps."""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from mixclock.formulas.air import ZERO_C_IN_K
from mixclock.formulas.history import FACTOR_RANGE, History, Moisture, between
from mixclock.formulas.rate_law import RateLaw, segment_of

CUT_EVERY_K = 15.0

# Gauss–Legendre on [0, 1], six points: Abramowitz and Stegun, table 25.4
GAUSS = tuple(
    (0.5 * (1.0 + sign * node), 0.5 * weight)
    for node, weight in (
        (0.238619186083196909, 0.467913934572691047),
        (0.661209386466264514, 0.360761573048138608),
        (0.932469514203152028, 0.171324492379170345),
    )
    for sign in (-1.0, 1.0)
)
GAUSS_FLAT = ((0.5 - math.sqrt(0.15), 5.0 / 18.0), (0.5, 4.0 / 9.0), (0.5 + math.sqrt(0.15), 5.0 / 18.0))
FLAT_K = 1.0  # three points serve for a stretch as flat as this: error under 3e-12 of it at 110 kJ/mol


class Piece(NamedTuple):
    """A stretch of time in which temperature and moisture run straight and the law has one slope."""

    start_s: float
    end_s: float
    start_c: float
    end_c: float
    intercept: float
    slope_k: float
    start_m: float = 1.0  # moisture relative to its reference
    end_m: float = 1.0
    exponent: float = 0.0

    def ripened(self, end_s: float) -> float:
        """∫ dt/τ from the piece's start to `end_s`, moisture included."""
        span_s = end_s - self.start_s
        if span_s <= 0.0:
            return 0.0
        if self.start_c == self.end_c and self.start_m == self.end_m:
            return span_s * self.rate(0.0)
        share = span_s / (self.end_s - self.start_s) if end_s < self.end_s else 1.0
        if self.exponent:
            return span_s * self._mean_damp_rate(share)
        start_k, change_k = self.start_c + ZERO_C_IN_K, share * (self.end_c - self.start_c)
        exp, less, slope_k = math.exp, -self.intercept, self.slope_k
        if -FLAT_K <= change_k <= FLAT_K:
            (node_1, weight_1), (node_2, weight_2), (node_3, weight_3) = GAUSS_FLAT
            return span_s * (
                weight_1 * exp(less - slope_k / (start_k + node_1 * change_k))
                + weight_2 * exp(less - slope_k / (start_k + node_2 * change_k))
                + weight_3 * exp(less - slope_k / (start_k + node_3 * change_k))
            )
        return span_s * sum([weight * exp(less - slope_k / (start_k + node * change_k)) for node, weight in GAUSS])

    def _mean_damp_rate(self, share: float) -> float:
        """The mean of `rate` from the start up to a share of the piece. It is asked for most of all, so it is written
        out."""
        start_c, start_m, exponent = self.start_c, self.start_m, self.exponent
        change_k, change_m = self.end_c - start_c, self.end_m - start_m
        exp, less, slope_k, (low, high) = math.exp, -self.intercept, self.slope_k, FACTOR_RANGE
        mean = 0.0
        for node, weight in GAUSS:
            at = share * node
            factor = (start_m + at * change_m) ** exponent
            factor = low if factor < low else high if factor > high else factor
            mean += weight * (exp(less - slope_k / (start_c + at * change_k + ZERO_C_IN_K)) * factor)
        return mean

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
            moved_s = following - time_s
            if -1e-12 <= moved_s <= 1e-12 or abs(moved_s) <= 1e-12 * abs(time_s):
                return following
            time_s = following
        return time_s


def cut(law: RateLaw, begin_s: float, end_s: float, start_c: float, end_c: float) -> Iterator[Piece]:
    """Cut a stretch between readings so that each piece is smooth and no longer than the Gauss rule can take."""
    segment, change_k = segment_of(law, start_c), end_c - start_c
    if segment is segment_of(law, end_c) and -CUT_EVERY_K <= change_k <= CUT_EVERY_K:
        yield Piece(begin_s, end_s, start_c, end_c, *segment)
        return
    span_s = end_s - begin_s
    for low, high in pairwise([0.0, *sorted(set(_cut_shares(law, start_c, end_c))), 1.0]):
        ends_s = begin_s + low * span_s, begin_s + high * span_s
        segment = segment_of(law, start_c + 0.5 * (low + high) * change_k)
        yield Piece(*ends_s, start_c + low * change_k, start_c + high * change_k, *segment)


def _cut_shares(law: RateLaw, start_c: float, end_c: float) -> list[float]:
    """Where between 0 and 1 a stretch meets the sheet's temperatures, and its even parts of at most 15 K."""
    shares = _crossings(start_c, end_c, law.starts_c)
    count = math.ceil(abs(end_c - start_c) / CUT_EVERY_K)
    return shares + [step / count for step in range(1, count)]


def moist_stretch(law: RateLaw, history: History, moisture: Moisture, begin_s: float, end_s: float) -> Iterator[Piece]:
    wet, exponent = moisture.history, moisture.exponent
    low, high = moisture.relative(wet.after(begin_s)), moisture.relative(wet.before(end_s))
    shares = [0.0, *sorted(_crossings(low, high, moisture.cuts)), 1.0]
    start_c, end_c = history.after(begin_s), history.before(end_s)
    for part, next_part in pairwise(shares):
        ends_s = [begin_s + share * (end_s - begin_s) for share in (part, next_part)]
        ends_c = [start_c + share * (end_c - start_c) for share in (part, next_part)]
        for piece in cut(law, *ends_s, *ends_c):
            ends_m = [between(low, high, (at_s - begin_s) / (end_s - begin_s)) for at_s in piece[:2]]
            yield piece._replace(start_m=ends_m[0], end_m=ends_m[1], exponent=exponent)


def held_moist(law: RateLaw, history: History, moisture: Moisture, last_s: float) -> Piece:
    """The piece that holds after the last reading."""
    temp_c, held = history.after(last_s), moisture.relative(moisture.history.after(last_s))
    return Piece(last_s, math.inf, temp_c, temp_c, *segment_of(law, temp_c), held, held, moisture.exponent)


def _crossings(start: float, end: float, levels: Sequence[float]) -> list[float]:
    """The shares of a stretch at which it meets some rising levels, strictly inside it.

    >>> _crossings(0.0, 4.0, (-1.0, 0.0, 1.0, 3.0, 4.0)), _crossings(4.0, 0.0, (1.0,))
    ([0.25, 0.75], [0.75])
    """
    low, high = (start, end) if start < end else (end, start)
    met = levels[bisect_right(levels, low) : bisect_left(levels, high)]  # a law may have a level for each kelvin
    return [share for level in met if 0.0 < (share := (level - start) / (end - start)) < 1.0]
