"""Many days side by side: a column holds a figure of each. numpy's arrays where it is installed, else plain lists.

Both throw the same dice, Python's Mersenne Twister, so that a plan has the same chance with numpy and without. Normal
numbers come by twos, by Box and Muller's transformation.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from operator import add, and_, gt, lt, mul, sub
from typing import Any, Protocol

from mixclock.formulas.arrays import numpy_at_hand

Column = Any
"""A column of either kind. Sums, differences, products, comparisons, `&` and `~` work day by day, and with a number
too."""

LEAST_WHOLE = 1e-9


class Columns(Protocol):
    """What makes and changes columns of so many days."""

    days: int

    def filled(self, value: float) -> Column:
        """The same figure on each day."""

    def normals(self) -> Column:
        """Standard normal numbers, thrown anew."""

    def exp(self, column: Column) -> Column:
        """e to the power of it."""

    def larger(self, one: Column, other: Column) -> Column:
        """The larger of two."""

    def smaller(self, one: Column, other: Column) -> Column:
        """The smaller of two."""

    def chosen(self, condition: Column, then: Column, otherwise: Column) -> Column:
        """One where the condition holds, the other elsewhere."""

    def share(self, condition: Column) -> float:
        """On what share of the days it holds."""

    def shares(self, parts: Column, wholes: Column) -> Column:
        """Which share of the whole each day's part is."""


def columns(days: int, seed: int) -> Columns:
    """Columns of so many days, their dice seeded."""
    np = numpy_at_hand(worth_loading=True)
    return PlainColumns(days, seed) if np is None else ArrayColumns(np, days, seed)


class ArrayColumns:
    """Columns as arrays of numpy's."""

    def __init__(self, np: Any, days: int, seed: int) -> None:
        self._np, self.days = np, days
        _, state, _ = random.Random(seed).getstate()
        self._dice = np.random.RandomState(0)
        self._dice.set_state(("MT19937", state[:-1], state[-1]))

    def filled(self, value: float) -> Column:
        return self._np.full(self.days, value)

    def normals(self) -> Column:
        np = self._np
        thrown = self._dice.random_sample(2 * ((self.days + 1) // 2))
        far, turn = np.sqrt(-2.0 * np.log(1.0 - thrown[0::2])), math.tau * thrown[1::2]
        found = np.empty(len(thrown))
        found[0::2], found[1::2] = far * np.cos(turn), far * np.sin(turn)
        return found[: self.days]

    def exp(self, column: Column) -> Column:
        return self._np.exp(column)

    def larger(self, one: Column, other: Column) -> Column:
        return self._np.maximum(one, other)

    def smaller(self, one: Column, other: Column) -> Column:
        return self._np.minimum(one, other)

    def chosen(self, condition: Column, then: Column, otherwise: Column) -> Column:
        return self._np.where(condition, then, otherwise)

    def share(self, condition: Column) -> float:
        return float(self._np.mean(condition))

    def shares(self, parts: Column, wholes: Column) -> Column:
        return parts / self._np.maximum(wholes, LEAST_WHOLE)


class PlainColumns:
    """Columns as plain lists, reckoned day by day."""

    def __init__(self, days: int, seed: int) -> None:
        self.days = days
        self._dice = random.Random(seed)

    def filled(self, value: float) -> Column:
        return PlainColumn([value] * self.days)

    def normals(self) -> Column:
        throw, log, sqrt, cos, sin = self._dice.random, math.log, math.sqrt, math.cos, math.sin
        found: list[float] = []
        for _ in range((self.days + 1) // 2):
            far, turn = sqrt(-2.0 * log(1.0 - throw())), math.tau * throw()
            found += (far * cos(turn), far * sin(turn))
        return PlainColumn(found[: self.days])

    def exp(self, column: Column) -> Column:
        return PlainColumn(list(map(math.exp, column.values)))

    def larger(self, one: Column, other: Column) -> Column:
        return _each(max, one, other)

    def smaller(self, one: Column, other: Column) -> Column:
        return _each(min, one, other)

    def chosen(self, condition: Column, then: Column, otherwise: Column) -> Column:
        rows = zip(condition.values, *(_values(each, self.days) for each in (then, otherwise)), strict=True)
        return PlainColumn([yes if held else no for held, yes, no in rows])

    def share(self, condition: Column) -> float:
        return float(sum(condition.values) / self.days)

    def shares(self, parts: Column, wholes: Column) -> Column:
        return _each(lambda part, whole: part / max(whole, LEAST_WHOLE), parts, wholes)


def _values(each: Column, days: int) -> list[Any]:
    return each.values if isinstance(each, PlainColumn) else [each] * days


def _each(work: Callable[[Any, Any], Any], one: Column, other: Column) -> Column:
    """The result for each day of its two figures. Either figure may be the same on all days."""
    if not isinstance(one, PlainColumn) and not isinstance(other, PlainColumn):
        return work(one, other)
    days = len(one.values if isinstance(one, PlainColumn) else other.values)
    return PlainColumn(list(map(work, _values(one, days), _values(other, days))))


class PlainColumn:
    """A figure of each day, in a list."""

    __slots__ = ("values",)

    def __init__(self, values: list[Any]) -> None:
        self.values = values

    def __add__(self, other: Column) -> Column:
        return _each(add, self, other)

    def __sub__(self, other: Column) -> Column:
        return _each(sub, self, other)

    def __mul__(self, other: Column) -> Column:
        return _each(mul, self, other)

    def __radd__(self, other: float) -> Column:
        return _each(add, other, self)

    def __rsub__(self, other: float) -> Column:
        return _each(sub, other, self)

    def __rmul__(self, other: float) -> Column:
        return _each(mul, other, self)

    def __lt__(self, other: Column) -> Column:
        return _each(lt, self, other)

    def __gt__(self, other: Column) -> Column:
        return _each(gt, self, other)

    def __and__(self, other: Column) -> Column:
        return _each(and_, self, other)

    def __invert__(self) -> Column:
        return PlainColumn([not each for each in self.values])

    def __eq__(self, other: object) -> Any:
        return _each(lambda one, two: one == two, self, other)

    __hash__ = None  # type: ignore[assignment]
