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


@given(area_m2=AREA_M2, wet_um=FILM_UM)
def test_what_lies_on_an_area_is_the_film_that_was_wanted(area_m2: float, wet_um: float) -> None:
    """A litre on a square metre is a millimetre."""
    assert 1000.0 * coverage.volume_for_area_l(area_m2, wet_um) / area_m2 == pytest.approx(wet_um, rel=1e-9)


@given(net_l=st.floats(0.1, 100.0), waste=WASTE)
def test_waste_comes_off_again_as_it_was_put_on(net_l: float, waste: float) -> None:
    mixed_l = coverage.with_waste_l(net_l, waste)
    assert mixed_l >= net_l
    assert coverage.net_of_waste_l(mixed_l, waste) == pytest.approx(net_l, rel=1e-12)


@given(dry_um=FILM_UM, solids_pct=st.floats(1.0, 100.0))
def test_the_wet_film_for_a_dry_film_dries_to_it(dry_um: float, solids_pct: float) -> None:
    assert coverage.dry_um(coverage.wet_um_for_dry(dry_um, solids_pct), solids_pct) == pytest.approx(dry_um, rel=1e-12)
