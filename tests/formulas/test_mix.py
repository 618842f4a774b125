"""What goes into the bucket."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.formulas import mix
from mixclock.formulas.bucket import usual_across_m
from mixclock.job.cups import refuse
from mixclock.job.profilereading import read_profile
from mixclock.job.saying import CannotTellError
from tests.boatshed import shed_base

AMOUNT = st.floats(0.01, 1000.0)
RATIO = st.floats(0.1, 20.0)
DENSITY = st.floats(0.7, 2.5)


@given(volume_l=AMOUNT, ratio=RATIO)
def test_the_parts_of_a_batch_add_up_to_the_batch_in_the_stated_ratio(volume_l: float, ratio: float) -> None:
    part_a, part_b = mix.parts_for_volume(volume_l, ratio)
    assert part_a + part_b == pytest.approx(volume_l, rel=1e-12)
    assert part_a / part_b == pytest.approx(ratio, rel=1e-9)


@given(ratio=RATIO, a=DENSITY, b=DENSITY)
def test_a_ratio_by_mass_turned_to_volume_and_back_is_the_same_ratio(ratio: float, a: float, b: float) -> None:
    assert mix.ratio_by_mass(mix.ratio_by_volume(ratio, a, b), a, b) == pytest.approx(ratio, rel=1e-12)


@given(ratio=RATIO, a=DENSITY, b=DENSITY)
def test_a_mixture_is_no_lighter_than_its_lighter_part_and_no_heavier_than_its_heavier(
    ratio: float, a: float, b: float
) -> None:
    mixed = mix.mixed_density_kg_l(ratio, a, b)
    assert min(a, b) - 1e-12 <= mixed <= max(a, b) + 1e-12


@given(volume_l=AMOUNT, ratio=RATIO, a=DENSITY, b=DENSITY)
def test_weighed_parts_weigh_what_the_batch_weighs(volume_l: float, ratio: float, a: float, b: float) -> None:
    measured = mix.parts(volume_l, ratio, a, b)
    weight_kg = volume_l * mix.mixed_density_kg_l(ratio, a, b)
    assert measured.a_kg + measured.b_kg == pytest.approx(weight_kg, rel=1e-9)
    assert measured.a_kg / measured.b_kg == pytest.approx(mix.ratio_by_mass(ratio, a, b), rel=1e-9)


def test_a_part_without_a_density_can_only_be_measured_by_volume() -> None:
    measured = mix.parts(9.0, 2.0)
    assert (measured.a_l, measured.b_l) == (6.0, 3.0)
    assert math.isnan(measured.a_kg)


def test_a_sheet_whose_two_ratios_contradict_its_densities_is_found_out_by_how_much() -> None:
    honest = mix.ratio_by_mass(2.0, 1.13, 0.98)
    assert mix.ratio_contradiction(2.0, honest, 1.13, 0.98) == pytest.approx(0.0, abs=1e-12)
    assert mix.ratio_contradiction(2.0, 2.0, 1.13, 0.98) == pytest.approx(0.98 / 1.13 - 1.0, rel=1e-12)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_an_amount_that_cannot_be_is_refused_with_its_unit(bad: float) -> None:
    with pytest.raises(ValueError, match="above 0 L"):
        mix.parts_for_volume(bad, 2.0)
    with pytest.raises(ValueError, match="above 0 kg/L"):
        mix.ratio_by_mass(2.0, bad, 1.0)
    for numbers in ((2.0, 2.0, 1.0, bad), (2.0, bad, 1.0, 1.0), (bad, 2.0, 1.0, 1.0)):
        with pytest.raises(ValueError, match="must be above 0"):
            mix.ratio_contradiction(*numbers)


@pytest.mark.parametrize("place", range(3))
def test_no_ratio_and_no_density_is_nothing(place: int) -> None:
    given_ = [2.0, 1.13, 0.98]
    given_[place] = 0.0
    for ask in (mix.ratio_by_mass, mix.ratio_by_volume, mix.mixed_density_kg_l):
        with pytest.raises(ValueError, match=("ratio", "density of A", "density of B")[place]):
            ask(*given_)


def test_a_resin_whose_sheet_states_no_density_weighs_eleven_tenths_of_water() -> None:
    """11 kg are 10 L then; as high as wide that is ∛(4 · 0.01 m³ / π) across."""
    assert usual_across_m(11.0) == pytest.approx(0.23351, abs=1e-5)


@pytest.mark.parametrize(("mass_kg", "is_taken"), [(0.099, False), (0.1, True), (0.2, True), (0.201, False)])
def test_a_test_cup_holds_one_to_two_tenths_of_a_kilogram(mass_kg: float, is_taken: bool) -> None:
    sheet = read_profile(shed_base())
    said = ""
    try:
        refuse(sheet, mass_kg)
    except CannotTellError as error:
        said = str(error)
    assert ("a test cup holds 100 to 200 g" in said) is not is_taken
