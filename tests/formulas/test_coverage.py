"""How far a volume goes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.formulas import coverage

FILM_UM = st.floats(10.0, 5000.0)
AREA_M2 = st.floats(0.1, 5000.0)
WASTE = st.floats(0.0, 0.5)


@given(wet_um=FILM_UM)
def test_a_spread_rate_and_its_wet_film_are_two_names_for_one_thing(wet_um: float) -> None:
    assert 1000.0 / coverage.spread_m2_l(wet_um) == pytest.approx(wet_um, rel=1e-12)


@given(area_m2=AREA_M2, wet_um=FILM_UM, texture_um=st.floats(0.0, 500.0))
def test_what_is_mixed_for_an_area_leaves_the_film_that_was_wanted(
    area_m2: float, wet_um: float, texture_um: float
) -> None:
    """A litre on a square metre is a millimetre; the texture takes its own depth first."""
    volume_l = coverage.volume_for_area_l(area_m2, wet_um, texture_um=texture_um)
    assert 1000.0 * volume_l / area_m2 - texture_um == pytest.approx(wet_um, rel=1e-9)


@given(net_l=st.floats(0.1, 100.0), waste=WASTE)
def test_waste_comes_off_again_by_the_rule_it_was_put_on(net_l: float, waste: float) -> None:
    for rule in ("of what is mixed", "on top"):
        mixed_l = coverage.with_waste_l(net_l, waste, rule)
        assert mixed_l >= net_l
        assert coverage.net_of_waste_l(mixed_l, waste, rule) == pytest.approx(net_l, rel=1e-12)


def test_the_two_waste_rules_differ_by_four_percent_at_a_fifth() -> None:
    of_mixed = coverage.with_waste_l(10.0, 0.2)
    on_top = coverage.with_waste_l(10.0, 0.2, "on top")
    assert of_mixed / on_top == pytest.approx(12.5 / 12.0, rel=1e-12)


def test_a_waste_rule_that_nobody_knows_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="'of what is mixed' or 'on top'"):
        coverage.with_waste_l(10.0, 0.2, "a bit")  # type: ignore[arg-type]


@given(dry_um=FILM_UM, solids_pct=st.floats(1.0, 100.0))
def test_the_wet_film_for_a_dry_film_dries_to_it(dry_um: float, solids_pct: float) -> None:
    assert coverage.dry_um(coverage.wet_um_for_dry(dry_um, solids_pct), solids_pct) == pytest.approx(dry_um, rel=1e-12)
