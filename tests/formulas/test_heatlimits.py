"""Fixed points of theory."""

from __future__ import annotations

import pytest

from tests.formulas import limits


def test_a_part_with_more_reactive_sites_gels_sooner() -> None:
    assert limits.gel_conversion(2.0, 6.0) < limits.gel_conversion(2.0, 4.0) < limits.gel_conversion(2.0, 3.0)


def test_a_round_pail_sheds_its_heat_better_than_a_wall_of_resin() -> None:
    slab, cylinder, sphere = (limits.critical_delta(shape) for shape in (0, 1, 2))
    assert slab < cylinder < sphere


def test_a_pail_of_fast_resin_runs_away_and_a_film_of_it_does_not() -> None:
    pail = limits.semenov_number(47e3, 170.0, 2e-4, 4e-5, 25.0)
    film = limits.semenov_number(47e3, 170.0, 2e-4, 2e-2, 25.0)
    assert film < limits.semenov_critical() < pail


def test_a_shape_that_theory_does_not_know_is_refused() -> None:
    with pytest.raises(ValueError, match="slab"):
        limits.critical_delta(3)


def test_a_bucket_without_heat_loss_is_refused() -> None:
    with pytest.raises(ValueError, match="loss is 0 1/s"):
        limits.semenov_number(47e3, 170.0, 2e-4, 0.0, 25.0)
