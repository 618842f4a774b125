"""How long a window's clock takes at a temperature."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.formulas.rate_law import (
    GAS_R_J_MOL_K,
    constant_law,
    fitted_energy_j_mol,
    law_from_points,
    outside_sheet,
    tau_s,
)


@st.composite
def sheets(draw: st.DrawFn) -> list[tuple[float, float]]:
    """A sheet's table: warmer is never slower, 1 to 4 temperatures at least 3 K apart."""
    count = draw(st.integers(1, 4))
    temp_c, span_s, table = draw(st.floats(5.0, 15.0)), draw(st.floats(600.0, 90000.0)), []
    for _ in range(count):
        table.append((temp_c, span_s))
        temp_c += draw(st.floats(3.0, 10.0))
        span_s *= draw(st.floats(0.3, 0.95))
    return table


@given(table=sheets())
def test_at_the_sheet_s_own_temperatures_the_clock_says_what_the_sheet_says(table: list[tuple[float, float]]) -> None:
    law = law_from_points(list(reversed(table)), 47e3)
    assert [tau_s(law, temp_c) for temp_c, _ in table] == pytest.approx([span_s for _, span_s in table], rel=1e-12)


@given(table=sheets(), one=st.floats(-20.0, 60.0), other=st.floats(-20.0, 60.0))
def test_a_warmer_slab_is_never_slower(table: list[tuple[float, float]], one: float, other: float) -> None:
    cold_c, warm_c = sorted((one, other))
    law = law_from_points(table, 47e3)
    assert tau_s(law, warm_c) <= tau_s(law, cold_c) * (1.0 + 1e-12)


def test_outside_three_stated_temperatures_the_overall_slope_rules() -> None:
    table = [(10.0, 4200.0), (20.0, 2400.0), (30.0, 1200.0)]
    law, energy = law_from_points(table, 47e3), fitted_energy_j_mol(table)
    step = energy / GAS_R_J_MOL_K * (1.0 / 303.15 - 1.0 / 313.15)
    assert tau_s(law, 40.0) == pytest.approx(1200.0 * math.exp(-step), rel=1e-12)


def test_one_stated_temperature_leans_on_the_family_s_energy() -> None:
    law = law_from_points([(25.0, 1800.0)], 65e3)
    assert fitted_energy_j_mol([(t, tau_s(law, t)) for t in (5.0, 25.0, 35.0)]) == pytest.approx(65e3, rel=1e-9)


def test_a_span_that_stands_alone_is_the_same_at_any_temperature_to_the_last_digit() -> None:
    law = constant_law(1800.0)
    assert {tau_s(law, temp_c) for temp_c in (-10.0, 20.0, 40.0)} == {1800.0}
    assert not outside_sheet(law, -10.0)


@pytest.mark.parametrize(
    ("table", "temp_c", "outside"),
    [
        ([(10.0, 2.0), (30.0, 1.0)], 20.0, False),
        ([(10.0, 2.0), (30.0, 1.0)], 10.0, False),
        ([(10.0, 2.0), (30.0, 1.0)], 9.9, True),
        ([(10.0, 2.0), (30.0, 1.0)], 30.1, True),
        ([(5.0, 2.0), (30.0, 1.0)], 8.0, False),
        ([(23.0, 2.0)], 27.0, False),
        ([(23.0, 2.0)], 29.0, True),
        ([(12.0, 2.0)], 9.0, True),
    ],
)
def test_it_says_when_a_deadline_lies_outside_the_data_sheet(
    table: list[tuple[float, float]], temp_c: float, outside: bool
) -> None:
    assert outside_sheet(law_from_points(table, 47e3), temp_c) is outside


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([], "at least one point"),
        ([(20.0, 60.0), (20.0, 70.0)], "stated twice"),
        ([(20.0, 0.0)], "above 0 s"),
        ([(400.0, 60.0)], "between -60 and 250 °C"),
    ],
)
def test_a_table_that_cannot_be_a_law_is_refused(points: list[tuple[float, float]], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        law_from_points(points, 47e3)


def test_a_slope_needs_two_points() -> None:
    with pytest.raises(ValueError, match="two points"):
        fitted_energy_j_mol([(20.0, 60.0)])
