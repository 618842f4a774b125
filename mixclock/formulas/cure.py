"""A window's clock: how fast it runs at a temperature, and how far it has run along a history.

dξ/dt = m(t) / (factor · τ(T(t))), the edge at ξ = 1. ξ is the *ripeness*. τ(T) is the data sheet's, read as
Arrhenius: ln τ is piecewise linear in 1/T (absolute). The integral is taken with a 6-point Gauss rule on pieces cut
at the readings, at the sheet's own temperatures and every 15 K, which leaves errors near rounding; so the same
history sampled finer or coarser gives the same answer.
"""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from heapq import merge
from itertools import chain, pairwise
from typing import NamedTuple

from mixclock.formulas.air import ZERO_C_IN_K
from mixclock.formulas.history import (
    History,
    Moisture,
)
from mixclock.formulas.ranges import require_positive, require_within
from mixclock.formulas.rate_law import (
    RateLaw,
    segment_of,
)

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
_GAUSS_FLAT = ((0.5 - math.sqrt(0.15), 5.0 / 18.0), (0.5, 4.0 / 9.0), (0.5 + math.sqrt(0.15), 5.0 / 18.0))
LONG_HISTORY = 64  # from so many readings on, sums are kept; below, adding up is as quick
SIMPSON_K = 0.12  # so flat a stretch takes Simpson's rule
FLAT_K = 1.0  # so flat a stretch takes three points: error under 3e-12 of it at 110 kJ/mol


class _Piece(NamedTuple):
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
            return span_s * sum(weight * self.rate(share * node) for node, weight in _GAUSS)
        start_k, change_k = self.start_c + ZERO_C_IN_K, share * (self.end_c - self.start_c)
        rule = _GAUSS_FLAT if abs(change_k) <= FLAT_K else _GAUSS
        exp, less, slope_k = math.exp, -self.intercept, self.slope_k
        return span_s * sum([weight * exp(less - slope_k / (start_k + node * change_k)) for node, weight in rule])

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


def _run(
    law: RateLaw, history: History, start_s: float, end_s: float, wanted: float, moisture: Moisture | None
) -> tuple[float, _Piece]:
    """Ripeness gained before the piece that holds `end_s` or in which `wanted` is passed, and that piece."""
    if not (moisture and moisture.exponent):
        return _run_dry(law, history, start_s, end_s, wanted)
    gained = 0.0
    for piece in _moist_pieces(law, history, start_s, moisture):
        if piece.end_s >= end_s or gained + piece.ripened(piece.end_s) >= wanted:
            return gained, piece
        gained += piece.ripened(piece.end_s)
    raise AssertionError("the last piece has no end")


def _run_dry(law: RateLaw, history: History, start_s: float, end_s: float, wanted: float) -> tuple[float, _Piece]:
    """The same without moisture. Readings a minute apart differ little: those stretches are done on the spot."""
    first = bisect_right(history.times_s, start_s)
    if len(history.times_s) - first > LONG_HISTORY:
        return _run_long(law, history, start_s, end_s, wanted)
    (node_1, weight_1), (node_2, weight_2), (node_3, weight_3) = _GAUSS_FLAT
    exp, lines, starts_c = math.exp, law.lines, law.starts_c
    gained, begin_s, begin_c = 0.0, start_s, history.after(start_s)
    for until_s, until_c in zip(history.times_s[first:], history.values[first:], strict=True):
        change_k, line = until_c - begin_c, lines[bisect_right(starts_c, begin_c)]
        if -FLAT_K <= change_k <= FLAT_K and until_s < end_s and line is lines[bisect_right(starts_c, until_c)]:
            (less, slope_k), begin_k = line, begin_c + ZERO_C_IN_K
            more = (until_s - begin_s) * (
                weight_1 * exp(-less - slope_k / (begin_k + node_1 * change_k))
                + weight_2 * exp(-less - slope_k / (begin_k + node_2 * change_k))
                + weight_3 * exp(-less - slope_k / (begin_k + node_3 * change_k))
            )
            if gained + more >= wanted:
                return gained, _Piece(begin_s, until_s, begin_c, until_c, *line)
            gained += more
        elif until_s > begin_s:  # equal at a jump
            for piece in _cut(law, begin_s, until_s, begin_c, until_c):
                more = piece.ripened(piece.end_s)
                if piece.end_s >= end_s or gained + more >= wanted:
                    return gained, piece
                gained += more
        begin_s, begin_c = until_s, until_c
    return gained, _Piece(begin_s, math.inf, begin_c, begin_c, *segment_of(law, begin_c))


def _run_long(law: RateLaw, history: History, start_s: float, end_s: float, wanted: float) -> tuple[float, _Piece]:
    """The same over weeks of readings: their ripeness is added up once a law, and then only looked up."""
    times_s, values, sums = history.times_s, history.values, _sums(law, history)
    first = bisect_right(times_s, start_s)
    gained = 0.0
    for piece in _cut(law, start_s, times_s[first], history.after(start_s), values[first]):
        more = piece.ripened(piece.end_s)
        if piece.end_s >= end_s or gained + more >= wanted:
            return gained, piece
        gained += more
    reached = bisect_left(sums, sums[first] + (wanted - gained), first + 1)
    held = min(reached, bisect_left(times_s, end_s, first + 1)) - 1
    gained += sums[held] - sums[first]
    if held == len(times_s) - 1:
        return gained, _Piece(times_s[-1], math.inf, values[-1], values[-1], *segment_of(law, values[-1]))
    for piece in _cut(law, times_s[held], times_s[held + 1], values[held], values[held + 1]):
        more = piece.ripened(piece.end_s)
        if piece.end_s >= end_s or gained + more >= wanted:
            return gained, piece
        gained += more
    return gained - more, piece  # the sum reached what its pieces miss by a last digit


def _sums(law: RateLaw, history: History) -> list[float]:
    """Ripeness from the first reading up to each of them, kept with the history."""
    kept = history.sums_by_law
    if law not in kept:
        kept[law] = _added_up(law, history)
    return kept[law]


def _added_up(law: RateLaw, history: History) -> list[float]:
    """Readings a minute apart differ by little: such a stretch takes Simpson's rule, and each end is worked out once.

    Its error is under 2e-10 of a stretch of 0.12 K at 110 kJ/mol, and grows with the fourth power of both.
    """
    exp, lines, starts_c = math.exp, law.lines, law.starts_c
    times_s, values = history.times_s, history.values
    begin_s, begin_c = times_s[0], values[0]
    line = lines[bisect_right(starts_c, begin_c)]
    least_c, most_c = _ends_of_line(law, begin_c)
    less, slope_k = line
    begin_rate = exp(-less - slope_k / (begin_c + ZERO_C_IN_K))
    sums, total = [0.0], 0.0
    for until_s, until_c in zip(times_s[1:], values[1:], strict=True):
        change_k = until_c - begin_c
        if -SIMPSON_K <= change_k <= SIMPSON_K and least_c <= until_c < most_c:
            until_rate = exp(-less - slope_k / (until_c + ZERO_C_IN_K))
            middle_rate = exp(-less - slope_k / (begin_c + 0.5 * change_k + ZERO_C_IN_K))
            total += (until_s - begin_s) * (begin_rate + 4.0 * middle_rate + until_rate) / 6.0
            begin_rate = until_rate
        else:
            pieces = _cut(law, begin_s, until_s, begin_c, until_c) if until_s > begin_s else ()
            total += sum(piece.ripened(piece.end_s) for piece in pieces)
            less, slope_k = lines[bisect_right(starts_c, until_c)]
            least_c, most_c = _ends_of_line(law, until_c)
            begin_rate = exp(-less - slope_k / (until_c + ZERO_C_IN_K))
        sums.append(total)
        begin_s, begin_c = until_s, until_c
    return sums


def _ends_of_line(law: RateLaw, temp_c: float) -> tuple[float, float]:
    """Between which temperatures the law has the slope that it has at this one."""
    place = bisect_right(law.starts_c, temp_c)
    return (
        law.starts_c[place - 1] if place else -math.inf,
        law.starts_c[place] if place < len(law.starts_c) else math.inf,
    )


def _cut(law: RateLaw, begin_s: float, end_s: float, start_c: float, end_c: float) -> Iterator[_Piece]:
    """Cut a stretch between readings so that each piece is smooth and no longer than the Gauss rule can take."""
    segment, change_k = segment_of(law, start_c), end_c - start_c
    if segment is segment_of(law, end_c) and -CUT_EVERY_K <= change_k <= CUT_EVERY_K:
        yield _Piece(begin_s, end_s, start_c, end_c, *segment)
        return
    span_s = end_s - begin_s
    for low, high in pairwise([0.0, *sorted(set(_cut_shares(law, start_c, end_c))), 1.0]):
        ends_s = begin_s + low * span_s, begin_s + high * span_s
        segment = segment_of(law, start_c + 0.5 * (low + high) * change_k)
        yield _Piece(*ends_s, start_c + low * change_k, start_c + high * change_k, *segment)


def _cut_shares(law: RateLaw, start_c: float, end_c: float) -> list[float]:
    """Where between 0 and 1 a stretch meets the sheet's temperatures, and its even parts of at most 15 K."""
    shares = _crossings(start_c, end_c, law.starts_c)
    count = math.ceil(abs(end_c - start_c) / CUT_EVERY_K)
    return shares + [step / count for step in range(1, count)]


def _moist_pieces(law: RateLaw, history: History, start_s: float, moisture: Moisture) -> Iterator[_Piece]:
    """The same with moisture: readings of both are cuts, and so are the humidities where its factor bends."""
    wet, exponent = moisture.history, moisture.exponent
    last_s = start_s
    for begin_s, end_s in pairwise(chain((start_s,), _knots_after(start_s, history, wet))):
        last_s = end_s
        low, high = moisture.relative(wet.after(begin_s)), moisture.relative(wet.before(end_s))
        shares = [0.0, *sorted(_crossings(low, high, moisture.cuts)), 1.0]
        start_c, end_c = history.after(begin_s), history.before(end_s)
        for part, next_part in pairwise(shares):
            ends_s = [begin_s + share * (end_s - begin_s) for share in (part, next_part)]
            ends_c = [start_c + share * (end_c - start_c) for share in (part, next_part)]
            for piece in _cut(law, *ends_s, *ends_c):
                ends_m = [low + (at_s - begin_s) / (end_s - begin_s) * (high - low) for at_s in piece[:2]]
                yield piece._replace(start_m=ends_m[0], end_m=ends_m[1], exponent=exponent)
    temp_c, held = history.after(last_s), moisture.relative(wet.after(last_s))
    yield _Piece(last_s, math.inf, temp_c, temp_c, *segment_of(law, temp_c), held, held, exponent)


def _knots_after(start_s: float, *histories: History) -> Iterator[float]:
    """The times after a start at which any of them bends, each once, no further than they are asked for."""
    later = (history.times_s[bisect_right(history.times_s, start_s) :] for history in histories)
    before = start_s
    for time_s in merge(*later):
        if time_s > before:
            yield time_s
            before = time_s


def _crossings(start: float, end: float, levels: Sequence[float]) -> list[float]:
    if start == end:
        return []
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

    >>> from mixclock.formulas.rate_law import law_from_points
    >>> law = law_from_points([(20.0, 2400.0), (30.0, 1200.0)], 47e3)
    >>> round(ripeness(law, History((0.0,), (20.0,)), 0.0, 1200.0), 12)
    0.5

    Source: equivalent age, ASTM C1074, applied to a window.
    """
    require_positive("factor", factor, "(times the sheet)")
    if end_s <= start_s:
        return 0.0
    gained, piece = _run(law, history, start_s, end_s, math.inf, moisture)
    return (gained + piece.ripened(end_s)) / factor


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
        return start_s + wanted * law.constant_s  # to the last digit
    gained, piece = _run(law, history, start_s, math.inf, wanted, moisture)
    return piece.time_of(wanted - gained)
