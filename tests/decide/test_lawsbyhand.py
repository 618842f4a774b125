"""Every edge on a floor of one temperature, beside the rules of a window's clock reckoned a second time by hand.

The second reckoning is written from the rules' text and shares nothing with the clocks: Arrhenius through a sheet's
points, the least-squares slope beyond three, and for a maker's limit what is credited and what is doubted away from the
sheet. A clock of a maker's limit runs straight from degree to degree, where the rule bends: it may lie a little beside
it, and hardly on the side where a crew would lose by it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import pytest
import scipy

from tests.decide.test_edgefigures import GAS, span_h

KJ = {"recoat": (35.0, 47.0, 60.0), "back-roll": (35.0, 47.0, 60.0), "full-cure": (45.0, 65.0, 90.0)}
"""The least, the likely and the most plausible energy where a sheet gives one point."""
PER_K, AT_MOST = {"recoat": 0.02, "full-cure": 0.04}, {"recoat": 0.20, "full-cure": 0.60}
"""How far a limit is doubted, for each kelvin from the nearest stated temperature, and at most."""
SLABS_C = (-3.0, 4.0, 8.0, 10.0, 12.5, 15.0, 19.0, 20.0, 22.0, 26.5, 30.0, 31.0, 33.0, 38.0, 40.0)
MORE_SLABS_C = (-9.5, 0.5, 3.0, 5.5, 13.5, 16.0, 23.5, 26.0, 31.5, 45.5, 49.0, 52.0, 54.5, 60.0)
"""Where the clocks lay furthest from the rule while their points of support were further apart, and hotter slabs."""
BESIDE, BESIDE_UNSAFE = 0.02, 0.006
"""A fiftieth, and two minutes of six hours on the side where a crew would lose by it."""

Table = tuple[tuple[float, float], ...]
"""Degrees and hours."""


@dataclass(frozen=True)
class ByHand:
    """One window's sheet."""

    window: str
    table: Table

    @property
    def one(self) -> bool:
        return len(self.table) == 1

    @cached_property
    def slope(self) -> float:
        """Over all points by least squares; of one point the likely energy."""
        if self.one:
            return KJ[self.window][1] * 1e3
        inverse = [1.0 / (temp_c + 273.15) for temp_c, _ in self.table]
        return max(
            0.0, GAS * float(scipy.stats.linregress(inverse, [math.log(hours) for _, hours in self.table]).slope)
        )

    def hours(self, temp_c: float, cold_slope: float, hot_slope: float) -> float:
        """By the straight lines of ln hours over 1/T between points, by a slope outside them."""
        inverse, (first, last) = 1.0 / (temp_c + 273.15), (self.table[0], self.table[-1])
        if temp_c <= first[0]:
            return first[1] * math.exp(cold_slope / GAS * (inverse - 1.0 / (first[0] + 273.15)))
        if temp_c >= last[0]:
            return last[1] * math.exp(hot_slope / GAS * (inverse - 1.0 / (last[0] + 273.15)))
        below = max(point for point in self.table if point[0] <= temp_c)
        above = min(point for point in self.table if point[0] > temp_c)
        low, high = 1.0 / (below[0] + 273.15), 1.0 / (above[0] + 273.15)
        share = (inverse - low) / (high - low)
        return math.exp(math.log(below[1]) * (1.0 - share) + math.log(above[1]) * share)

    def raced(self, temp_c: float) -> tuple[float, float, float]:
        """What a crew races: a fifth sooner and a quarter later, little credit for cold, full blame for heat."""
        least, most = (
            (KJ[self.window][0] * 1e3, KJ[self.window][2] * 1e3) if self.one else (0.5 * self.slope, 1.5 * self.slope)
        )
        return (
            0.8 * self.hours(temp_c, least, most),
            self.hours(temp_c, self.slope, self.slope),
            1.25 * self.hours(temp_c, most, least),
        )

    def limit(self, temp_c: float, closing: bool) -> tuple[float, float, float]:
        """A maker's limit: the sheet's figure where it states one, no credit beyond it on the unsafe side, and on a
        warmer floor never later."""
        likely = self.likely(temp_c, closing)
        steps = [0.5 * step for step in range(120)]
        soon = max(self.soon(temp_c + step, closing) for step in steps)
        late = min(self.late(temp_c - step, closing) for step in steps)
        return min(soon, likely), likely, max(late, likely)

    def likely(self, temp_c: float, closing: bool) -> float:
        """A closing earns nothing by cold, an opening at most 20 kJ/mol by heat."""
        cold, hot = (0.0, self.slope) if closing else (self.slope, min(self.slope, 20e3))
        return self.hours(temp_c, cold, hot)

    def soon(self, temp_c: float, closing: bool) -> float:
        """Never before the sheet's figure at the next warmer point."""
        law = self.likely(temp_c, True) if closing else self.hours(temp_c, self.slope, self.slope)
        steepest = self.hours(temp_c, *self._energies) if self.one else law
        warmer = [hours for at_c, hours in self.table if at_c >= temp_c]
        return max([min(law * (1.0 - self._away(temp_c)), steepest), *warmer])

    def late(self, temp_c: float, closing: bool) -> float:
        """Never after the sheet's figure at the next colder point."""
        law = self.hours(temp_c, self.slope, self.slope) if closing else self.likely(temp_c, False)
        steepest = self.hours(temp_c, *reversed(self._energies)) if self.one else law
        colder = [hours for at_c, hours in self.table if at_c <= temp_c]
        return min([max(law * (1.0 + self._away(temp_c)), steepest), *colder])

    def _away(self, temp_c: float) -> float:
        return min(AT_MOST[self.window], PER_K[self.window] * min(abs(temp_c - at_c) for at_c, _ in self.table))

    @property
    def _energies(self) -> tuple[float, float]:
        return KJ[self.window][0] * 1e3, KJ[self.window][2] * 1e3


TABLES: dict[str, Table] = {
    "one point": ((20.0, 12.0),),
    "two points": ((20.0, 12.0), (30.0, 7.0)),
    "two points that lie close": ((20.0, 12.0), (22.0, 10.5)),
    "three points off a line": ((10.0, 30.0), (20.0, 12.0), (30.0, 7.0)),
    "four points": ((5.0, 44.0), (15.0, 19.0), (25.0, 9.0), (35.0, 5.5)),
    "hardly shorter in the heat": ((10.0, 24.0), (30.0, 20.0)),
}


def written(table: Table) -> str:
    rows = ", ".join(f'"{temp_c:g} °C" = "{round(hours * 60)} min"' for temp_c, hours in table)
    return f"{{ {rows} }}"


@pytest.mark.parametrize("name", TABLES)
def test_what_a_crew_races_falls_where_the_rules_put_it_at_any_temperature(name: str) -> None:
    by_hand = ByHand("back-roll", TABLES[name])
    for slab_c in SLABS_C:
        found = span_h("back-roll", f"closes = {written(by_hand.table)}", slab_c, True)
        assert found == pytest.approx(by_hand.raced(slab_c), rel=1e-4), slab_c


EDGES = (("recoat", True), ("recoat", False), ("full-cure", False))


@pytest.mark.parametrize(("window", "closing"), EDGES)
@pytest.mark.parametrize("name", TABLES)
def test_a_makers_limit_falls_where_the_rules_put_it_at_any_temperature(name: str, window: str, closing: bool) -> None:
    by_hand = ByHand(window, TABLES[name])
    for slab_c in (*SLABS_C, *MORE_SLABS_C):
        found = span_h(window, f"{'closes' if closing else 'opens'} = {written(by_hand.table)}", slab_c, closing)
        early, likely, late = by_hand.limit(slab_c, closing)
        assert found[1] == pytest.approx(likely, rel=1e-4), slab_c
        assert found[0] == pytest.approx(early, rel=BESIDE), slab_c
        assert found[2] == pytest.approx(late, rel=BESIDE), slab_c
        if closing:
            assert found[0] <= (1.0 + BESIDE_UNSAFE) * early, slab_c
        else:
            assert found[2] >= (1.0 - BESIDE_UNSAFE) * late, slab_c


def test_at_freezing_and_at_forty_degrees_a_clock_does_not_lie_beside_the_rule_at_all() -> None:
    by_hand = ByHand("full-cure", TABLES["one point"])
    for slab_c in (0.0, 40.0):
        found = span_h("full-cure", f"opens = {written(by_hand.table)}", slab_c, False)
        assert found == pytest.approx(by_hand.limit(slab_c, False), rel=1e-3), slab_c


@pytest.mark.parametrize(
    ("table", "slabs_c"),
    [
        (((20.5, 12.0),), (5.5, 35.5)),  # fifteen kelvin off, from where on the doubt grows no more
        (((20.0, 12.0), (25.0, 9.5)), (22.5,)),  # half way between two points, where it is widest
    ],
)
def test_where_the_doubt_bends_between_two_degrees_a_clock_does_not_lie_beside_the_rule_either(
    table: Table, slabs_c: tuple[float, ...]
) -> None:
    by_hand = ByHand("full-cure", table)
    assert slabs_c
    for slab_c in slabs_c:
        found = span_h("full-cure", f"opens = {written(table)}", slab_c, False)
        assert found == pytest.approx(by_hand.limit(slab_c, False), rel=1e-3), slab_c


@pytest.mark.parametrize(
    ("window", "rows_f"),
    [("recoat", (52, 88)), ("recoat", (33, 69)), ("full-cure", (53, 107)), ("full-cure", (38, 92))],
)
def test_rows_in_fahrenheit_may_lie_as_far_apart_as_the_doubt_reaches_from_both(
    window: str, rows_f: tuple[int, int]
) -> None:
    """20 K or 30 K apart: the doubt of both is full at the middle, which is no whole number of degrees."""
    cold_c, hot_c = ((row_f - 32) / 1.8 for row_f in rows_f)
    by_hand = ByHand(window, ((cold_c, 24.0), (hot_c, 9.0)))
    rows = f'opens = {{ "{rows_f[0]} °F" = "24 h", "{rows_f[1]} °F" = "9 h" }}'
    assert span_h(window, rows, cold_c, False) == pytest.approx((24.0,) * 3, rel=1e-6)
    assert span_h(window, rows, hot_c, False) == pytest.approx((9.0,) * 3, rel=1e-6)
    for slab_c in (0.5 * (cold_c + hot_c), cold_c + 4.0, hot_c - 3.5):
        assert span_h(window, rows, slab_c, False) == pytest.approx(by_hand.limit(slab_c, False), rel=BESIDE)


def test_two_rows_that_lie_too_close_to_be_true_slow_the_cold_by_300_kj_and_no_more() -> None:
    """From 6 h at 21 °C to 12 h at 20 °C it would be 500 kJ/mol, and at 15 °C 400 h: by 300 it takes a hundred."""
    table = 'opens = { "20 °C" = "12 h", "21 °C" = "6 h" }'
    by_hand = 12.0 * math.exp(300e3 / GAS * (1.0 / 288.15 - 1.0 / 293.15))
    assert by_hand == pytest.approx(101.5, abs=0.5)
    assert span_h("recoat", table, 15.0, False)[1] == pytest.approx(by_hand, rel=1e-4)
