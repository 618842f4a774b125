"""Stretches of time in which temperature and moisture run straight and a law has one slope: a clock's small steps."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from mixclock.formulas.air import ZERO_C_IN_K
from mixclock.formulas.history import FACTOR_RANGE, Moisture, between
from mixclock.formulas.rate_law import RateLaw

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

    def since(self, start_s: float) -> Piece:
        """What is left of it from an instant on."""
        if start_s <= self.start_s:
            return self
        share = (start_s - self.start_s) / (self.end_s - self.start_s)
        start_c, end_c, start_m, end_m = self.start_c, self.end_c, self.start_m, self.end_m
        if start_c != end_c:
            start_c = between(start_c, end_c, share)
        if start_m != end_m:
            start_m = between(start_m, end_m, share)
        return Piece(start_s, self.end_s, start_c, end_c, self.intercept, self.slope_k, start_m, end_m, self.exponent)

    def time_of(self, wanted: float) -> float:
        """When `ripened` reaches `wanted`, no later than the piece's end: steps that are kept in a shrinking bracket.

        Temperature runs straight, so a step knows how the rate goes on from where it begins. Moisture leaves Newton's.
        """
        low_s, high_s = self.start_s, self.end_s
        if self.start_c == self.end_c and self.start_m == self.end_m:
            return min(low_s + wanted / self.rate(0.0), high_s)
        climb_k_s = (self.end_c - self.start_c) / (high_s - low_s)
        time_s, missing = low_s, wanted
        for _ in range(100):
            after_s = time_s - self.start_s
            steady_s = missing / self.rate(after_s / (self.end_s - self.start_s))
            if self.exponent:
                step_s = error_s = steady_s
            else:
                temp_k = self.start_c + after_s * climb_k_s + ZERO_C_IN_K
                step_s, error_s = _step_s(steady_s, self.slope_k * climb_k_s / temp_k**2, climb_k_s / temp_k)
            following_s = time_s + step_s
            if not low_s <= following_s <= high_s:
                following_s = 0.5 * (low_s + high_s)
                step_s = error_s = following_s - time_s
            if -1e-10 < error_s < 1e-10 or abs(step_s) <= 1e-12 * abs(time_s):
                return following_s
            time_s = following_s
            missing = wanted - self.ripened(time_s)
            low_s, high_s = (time_s, high_s) if missing > 0.0 else (low_s, time_s)
        return time_s


def _step_s(steady_s: float, slope: float, climb: float) -> tuple[float, float]:
    """How long a gain takes that would take so long at a steady rate, and how far off that may be.

    The logarithm of the rate goes on by its slope and its bend: ln r + b·t − b·c·t², with b = E/R·Ṫ/T² and c = Ṫ/T.
    What lies beyond is some hundredths of the bend's share.

    >>> _step_s(60.0, 0.0, 0.0)
    (60.0, 0.0)
    """
    growth = slope * steady_s
    if not (1e-9 < growth < 1e3 or -0.9 < growth < -1e-9):
        return steady_s, growth * steady_s
    grown = math.log1p(growth)
    evenly_s = grown / slope
    bent_s = slope * climb * evenly_s**3 * (1.0 / 3.0 + grown * (grown / 60.0 - 1.0 / 12.0))
    return evenly_s + bent_s, bent_s


def cut(law: RateLaw, begin_s: float, end_s: float, start_c: float, end_c: float) -> list[Piece]:
    """Cut a stretch between readings so that each piece is smooth and no longer than the Gauss rule can take."""
    levels, lines, change_k = law.starts_c, law.lines, end_c - start_c
    low_c, high_c = (start_c, end_c) if start_c <= end_c else (end_c, start_c)
    first, last = bisect_right(levels, low_c), bisect_left(levels, high_c)
    if first >= last and high_c - low_c <= CUT_EVERY_K:
        return [Piece(begin_s, end_s, start_c, end_c, *lines[first])]
    span_s = end_s - begin_s
    shares = [(level - start_c) / change_k for level in levels[first:last]]
    if high_c - low_c > CUT_EVERY_K:
        count = math.ceil((high_c - low_c) / CUT_EVERY_K)
        shares = sorted({*shares, *(step / count for step in range(1, count))})
    elif change_k < 0.0:
        shares.reverse()
    pieces, before, before_s, before_c = [], 0.0, begin_s, start_c
    for share in (*shares, 1.0):
        until_s = begin_s + share * span_s if share < 1.0 else end_s
        if until_s > before_s:
            until_c = start_c + share * change_k if share < 1.0 else end_c
            line = lines[bisect_right(levels, start_c + 0.5 * (before + share) * change_k)]
            pieces.append(Piece(before_s, until_s, before_c, until_c, *line))
            before, before_s, before_c = share, until_s, until_c
    return pieces


def cut_moist(
    law: RateLaw,
    bends: Sequence[float],
    exponent: float,
    ends_s: tuple[float, float],
    ends_c: tuple[float, float],
    ends_m: tuple[float, float],
) -> Iterator[Piece]:
    """The same where moisture drives the clock too: cut as well where its factor bends."""
    (begin_s, end_s), (start_c, end_c), (start_m, end_m) = ends_s, ends_c, ends_m
    span_s = end_s - begin_s
    inside = sorted(_crossings(start_m, end_m, bends))
    # the last piece ends with its reading: begin + (end - begin) falls short of the end by a last digit now and then
    parts_s = [begin_s, *(min(begin_s + share * span_s, end_s) for share in inside), end_s]
    parts_c = [start_c, *(start_c + share * (end_c - start_c) for share in inside), end_c]
    for (from_s, until_s), (from_c, until_c) in zip(pairwise(parts_s), pairwise(parts_c), strict=True):
        for piece in cut(law, from_s, until_s, from_c, until_c):
            low_m, high_m = (between(start_m, end_m, (at_s - begin_s) / span_s) for at_s in piece[:2])
            yield piece._replace(start_m=low_m, end_m=high_m, exponent=exponent)


def _crossings(start: float, end: float, levels: Sequence[float]) -> list[float]:
    """The shares of a stretch at which it meets some rising levels, strictly inside it.

    >>> _crossings(0.0, 4.0, (-1.0, 0.0, 1.0, 3.0, 4.0)), _crossings(4.0, 0.0, (1.0,))
    ([0.25, 0.75], [0.75])
    """
    low, high = (start, end) if start < end else (end, start)
    met = levels[bisect_right(levels, low) : bisect_left(levels, high)]  # a law may have a level for each kelvin
    return [share for level in met if 0.0 < (share := (level - start) / (end - start)) < 1.0]
