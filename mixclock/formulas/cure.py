"""A window's clock: how fast it runs at a temperature, and how far it has run along a history.

dξ/dt = m(t) / (factor · τ(T(t))), the edge at ξ = 1. ξ is the *ripeness*. τ(T) is the data sheet's, read as
Arrhenius: ln τ is piecewise linear in 1/T (absolute). The integral is taken with a 6-point Gauss rule on pieces cut
at the readings, at the sheet's own temperatures and every 15 K, which leaves errors near rounding; so the same
history sampled finer or coarser gives the same answer.
"""

import math
from bisect import bisect_right
from collections.abc import Iterator
from heapq import merge
from itertools import chain, pairwise

from mixclock.formulas.air import ZERO_C_IN_K
from mixclock.formulas.history import (
    History,
    Moisture,
)
from mixclock.formulas.longhistory import LONG_HISTORY, along, along_both, are_many_after, run_long
from mixclock.formulas.notedclocks import noted_before
from mixclock.formulas.pieces import CUT_EVERY_K, FLAT_K, GAUSS, GAUSS_FLAT, Piece, cut, held_moist, moist_stretch
from mixclock.formulas.ranges import require_positive, require_within
from mixclock.formulas.rate_law import RateLaw


def _run(
    law: RateLaw, history: History, start_s: float, end_s: float, wanted: float, moisture: Moisture | None
) -> tuple[float, Piece]:
    """Ripeness gained before the piece that holds `end_s` or in which `wanted` is passed, and that piece."""
    if not (moisture and moisture.exponent):
        return _run_dry(law, history, start_s, end_s, wanted)
    both = along_both(law, history, moisture) if are_many_after(start_s, history, moisture.history) else None
    if both is not None:
        return run_long(both, start_s, end_s, wanted)
    gained = 0.0
    for piece in _moist_pieces(law, history, start_s, moisture):
        if piece.end_s >= end_s:
            return gained, piece
        more = piece.ripened(piece.end_s)
        if gained + more >= wanted:
            return gained, piece
        gained += more
    raise AssertionError("the last piece has no end")


def _run_dry(law: RateLaw, history: History, start_s: float, end_s: float, wanted: float) -> tuple[float, Piece]:
    """The same without moisture. Readings a minute apart differ little, so these stretches are added up right here."""
    first = bisect_right(history.times_s, start_s)
    if len(history.times_s) - first > LONG_HISTORY:
        return run_long(along(law, history), start_s, end_s, wanted)
    (node_1, weight_1), (node_2, weight_2), (node_3, weight_3) = GAUSS_FLAT
    exp, lines, starts_c = math.exp, law.lines, law.starts_c
    gained, begin_s, begin_c = 0.0, start_s, history.after(start_s)
    line = lines[bisect_right(starts_c, begin_c)]
    for until_s, until_c in zip(history.times_s[first:], history.values[first:], strict=True):
        change_k, following = until_c - begin_c, lines[bisect_right(starts_c, until_c)]
        if line is following and -CUT_EVERY_K <= change_k <= CUT_EVERY_K and begin_s < until_s < end_s:
            (less, slope_k), begin_k = line, begin_c + ZERO_C_IN_K
            if -FLAT_K <= change_k <= FLAT_K:
                more = (until_s - begin_s) * (
                    weight_1 * exp(-less - slope_k / (begin_k + node_1 * change_k))
                    + weight_2 * exp(-less - slope_k / (begin_k + node_2 * change_k))
                    + weight_3 * exp(-less - slope_k / (begin_k + node_3 * change_k))
                )
            else:
                more = (until_s - begin_s) * sum(
                    [weight * exp(-less - slope_k / (begin_k + node * change_k)) for node, weight in GAUSS]
                )
            if gained + more >= wanted:
                return gained, Piece(begin_s, until_s, begin_c, until_c, *line)
            gained += more
        elif until_s > begin_s:  # equal at a jump
            for piece in cut(law, begin_s, until_s, begin_c, until_c):
                more = piece.ripened(piece.end_s)
                if piece.end_s >= end_s or gained + more >= wanted:
                    return gained, piece
                gained += more
        begin_s, begin_c, line = until_s, until_c, following
    return gained, Piece(begin_s, math.inf, begin_c, begin_c, *line)


def _moist_pieces(law: RateLaw, history: History, start_s: float, moisture: Moisture) -> Iterator[Piece]:
    """The same with moisture: readings of both are cuts, and so are the humidities where its factor bends."""
    last_s = start_s
    for begin_s, end_s in pairwise(chain((start_s,), _knots_after(start_s, history, moisture.history))):
        last_s = end_s
        yield from moist_stretch(law, history, moisture, begin_s, end_s)
    yield held_moist(law, history, moisture, last_s)


def _knots_after(start_s: float, *histories: History) -> Iterator[float]:
    """The times after a start at which any of them bends, each once, no further than they are asked for."""
    later = (history.times_s[bisect_right(history.times_s, start_s) :] for history in histories)
    before = start_s
    for time_s in merge(*later):
        if time_s > before:
            yield time_s
            before = time_s


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
        return start_s + wanted * law.constant_s  # equal to the last digit
    before = noted_before(law, history, start_s, moisture)
    if before is not None:
        gained = before.gained(before.until_s, ripeness)
        if gained >= wanted:
            return before.reached(wanted, time_of_ripeness)
        return time_of_ripeness(law, history, before.until_s, wanted - gained, moisture=moisture)
    gained, piece = _run(law, history, start_s, math.inf, wanted, moisture)
    return piece.time_of(wanted - gained)
