"""What a clock gains while the temperature climbs by a kelvin a second: added up once for each law, and looked up.

Between two readings temperature runs straight: T = T₀ + Ṫ·t. So ∫ dt/τ = (ρ(T) − ρ(T₀))/Ṫ with ρ(T) = ∫ dT/τ(T), which
goes by the law alone. Every stretch of every history shares it, and it is turned round to tell when a gain is reached.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from itertools import chain, pairwise

from mixclock.formulas.air import ZERO_C_IN_K
from mixclock.formulas.rate_law import RateLaw

BLOCK_K = 5.0  # a table begins and ends at whole multiples of this, so that histories of nearly one range share it
BASE_BLOCK = 2
"""ρ is nought where this block begins, at 10 °C. What is gained in the cold is little beside a sum that comes from the
warmth: the lower it begins, the more digits it keeps there, and the more cells a first question costs."""
CELL_K = 1.0
CELL_CHANGE = 0.07
"""A rate changes by no more than this share in a cell. Its series then errs by under 1e-12 of what a cell gains."""

_Cell = tuple[float, float, float, float, float, float, float, float, float, float]
"""Its middle [°C], ρ there, the six terms of ρ about it, and intercept and slope of its line."""

_Cut = tuple[float, float, tuple[float, float]]
"""From where to where a cell reaches [°C], and its line."""


class Climb:
    """ρ(T) of one law over a range of temperatures.

    >>> from mixclock.formulas.rate_law import constant_law
    >>> climb = Climb(constant_law(1800.0), 15.0, 25.0)
    >>> round((climb.at(24.0) - climb.at(15.0)) * 1800.0, 9), round(climb.temp_of(climb.at(17.25)), 9)
    (9.0, 17.25)
    """

    __slots__ = ("_cells", "_ends", "_ends_c")

    def __init__(self, law: RateLaw, low_c: float, high_c: float) -> None:
        """Add up from 10 °C to a whole multiple of `BLOCK_K` beyond each end: what lies between is the same to its
        last digit whatever the range."""
        first, last = math.floor(low_c / BLOCK_K), math.ceil(high_c / BLOCK_K)
        colder = [_cells(law, block)[::-1] for block in range(BASE_BLOCK - 1, first - 1, -1)]
        warmer = [_cells(law, block) for block in range(BASE_BLOCK, last)]
        down = list(_added(chain.from_iterable(colder), up=False))[::-1]
        up = list(_added(chain.from_iterable(warmer), up=True))
        self._cells = [cell for cell, _, _ in (*down, *up)]
        # the first and the last cell go on beyond the range
        ends = [*down[1:], *([(None, BASE_BLOCK * BLOCK_K, 0.0)] if down and up else []), *up[:-1]]
        self._ends_c, self._ends = [end_c for _, end_c, _ in ends], [end for _, _, end in ends]

    def at(self, temp_c: float) -> float:
        """ρ at a temperature [K/s]: only differences of it mean anything."""
        middle_c, gained, a, b, c, d, e, f, _, _ = self._cells[bisect_right(self._ends_c, temp_c)]
        away_k = temp_c - middle_c
        return gained + away_k * (a + away_k * (b + away_k * (c + away_k * (d + away_k * (e + away_k * f)))))

    def temp_of(self, wanted: float) -> float:
        """The temperature at which ρ is so much: three terms of a logarithm and its bend, then a step of Newton's."""
        middle_c, gained, a, b, c, d, e, f, intercept, slope_k = self._cells[bisect_right(self._ends, wanted)]
        more, middle_k = wanted - gained, middle_c + ZERO_C_IN_K
        steady_k = more / a
        growth = 2.0 * b * more / (a * a)
        k = steady_k * (1.0 - growth * (0.5 - growth * (1.0 / 3.0 - growth * 0.25)))
        k += 2.0 * b / a * k * k * k / (3.0 * middle_k)
        missing = more - k * (a + k * (b + k * (c + k * (d + k * (e + k * f)))))
        return middle_c + k + missing * math.exp(intercept + slope_k / (middle_k + k))


def climb_of(law: RateLaw, low_c: float, high_c: float) -> Climb:
    """The table of a law that reaches from one temperature to another, kept with the law."""
    covered = math.floor(low_c / BLOCK_K), math.ceil(high_c / BLOCK_K)
    found: Climb | None = law.climbs.get(covered)
    if found is None:
        found = law.climbs[covered] = Climb(law, low_c, high_c)
    return found


def _added(cells: Iterable[_Cut], *, up: bool) -> Iterator[tuple[_Cell, float, float]]:
    """Each cell with its farther end and ρ there, from 10 °C on."""
    gained = 0.0
    for begin_c, end_c, line in cells:
        half_k = 0.5 * (end_c - begin_c)
        middle_c = begin_c + half_k
        a, b, c, d, e, f = series = _series(*line, middle_c + ZERO_C_IN_K)
        before = half_k * (a - half_k * (b - half_k * (c - half_k * (d - half_k * (e - half_k * f)))))
        after = half_k * (a + half_k * (b + half_k * (c + half_k * (d + half_k * (e + half_k * f)))))
        in_middle = gained + before if up else gained - after
        gained = in_middle + after if up else in_middle - before
        yield (middle_c, in_middle, *series, *line), end_c if up else begin_c, gained


def _series(intercept: float, slope_k: float, middle_k: float) -> tuple[float, float, float, float, float, float]:
    """∫ r dT about a temperature, r = exp(−a − b/T), as a power series: T²·r' = b·r gives a term from two before.

    >>> [round(term, 12) for term in _series(-1.0, 0.0, 293.15)[:2]]
    [2.718281828459, 0.0]
    """
    square = middle_k * middle_k
    rate = math.exp(-intercept - slope_k / middle_k)
    first = slope_k * rate / square
    second = (slope_k - 2.0 * middle_k) * first / (2.0 * square)
    third = ((slope_k - 4.0 * middle_k) * second - first) / (3.0 * square)
    fourth = ((slope_k - 6.0 * middle_k) * third - 2.0 * second) / (4.0 * square)
    fifth = ((slope_k - 8.0 * middle_k) * fourth - 3.0 * third) / (5.0 * square)
    return rate, first / 2.0, second / 3.0, third / 4.0, fourth / 5.0, fifth / 6.0


def _cells(law: RateLaw, block: int) -> list[_Cut]:
    """The cells of a block: in each a law has one slope, and its rate changes little."""
    low_c, high_c = block * BLOCK_K, (block + 1) * BLOCK_K
    first = bisect_right(law.starts_c, low_c)
    knots_c = [low_c, *law.starts_c[first : bisect_left(law.starts_c, high_c)], high_c]
    found: list[_Cut] = []
    for place, (begin_c, end_c) in enumerate(pairwise(knots_c)):
        line, span_k = law.lines[first + place], end_c - begin_c
        steepest = abs(line[1]) / (begin_c + ZERO_C_IN_K) ** 2
        count = math.ceil(span_k * max(1.0 / CELL_K, steepest / CELL_CHANGE) - 1e-9) or 1
        parts_c = [begin_c + span_k * part / count for part in range(count)]
        found += [(*ends_c, line) for ends_c in pairwise([*parts_c, end_c])]
    return found
