"""Round buckets, worked by hand: what a person weighs out is never less than the floor takes, and hardly more."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from mixclock.decide.plan.floor.handybuckets import MOST_OVER, handy, room_to_round_l
from mixclock.decide.plan.floor.quantities import Amounts
from mixclock.job.profile import Family, MixRule, Profile
from mixclock.job.site import Coat
from mixclock.units import METRIC_CREW, US_CREW
from tests.decide.plan.floors import PRODUCT, profile

COAT = Coat("base", PRODUCT, 300.0, kit_l=9.0, split=True)
SHEET = replace(profile(PRODUCT, ()), mix=MixRule(ratio_by_volume=(2.0, 1.0), density_kg_l=(1.2, 0.9)))
"""A litre is 2/3 L of A at 1.2 kg/L = 0.8 kg, and 1/3 L of B at 0.9 kg/L = 0.3 kg: 1.1 kg."""


def rounded(litres: float, coat: Coat = COAT, sheet: Profile = SHEET, most_l: float = 16.0, us: bool = False) -> float:
    """What is weighed out first for so many litres."""
    exact = Amounts(litres, litres, litres * 1.1, litres / 9.0)
    return next(iter(handy(exact, coat, sheet, US_CREW if us else METRIC_CREW, most_l))).mixed_l


@pytest.mark.parametrize(
    ("litres", "goes_in", "why"),
    [
        (8.8, 9.0, "a whole kit"),
        (4.4, 4.5, "half a kit"),
        (2.9, 3.0, "a third of one"),
        (6.6, 6.75, "three quarters of one"),
        (4.9, 5.0, "A 3.92 kg: 4 kg"),
        (3.6, 3.75, "A 2.88 kg: 3 kg, by 0.5 kg"),
        (1.35, 1.375, "A 1.08 kg: 1.1 kg, by 0.1 kg"),
    ],
)
def test_a_bucket_is_rounded_up_to_what_a_person_would_weigh(litres: float, goes_in: float, why: str) -> None:
    assert rounded(litres) == pytest.approx(goes_in), why


def test_a_crew_in_pounds_weighs_part_a_in_round_pounds() -> None:
    # 4.9 L: A 3.92 kg = 8.64 lb, and 9 lb is 4 % more
    assert rounded(4.9, us=True) * 0.8 == pytest.approx(9.0 * 0.45359237)  # the pound, exact by definition


def test_where_nothing_can_be_weighed_part_a_is_measured_in_round_litres() -> None:
    by_volume = replace(SHEET, mix=MixRule(ratio_by_volume=(1.0, 1.0)))
    # A 2.45 L: 2.5 L
    assert rounded(4.9, Coat("top", PRODUCT, 300.0), by_volume) == pytest.approx(5.0)


def test_nothing_is_rounded_that_is_whole_small_of_one_part_or_rinsed_off() -> None:
    for coat, sheet, litres in (
        (replace(COAT, split=False), SHEET, 9.0),
        (COAT, SHEET, 0.47),
        (COAT, replace(SHEET, mix=MixRule()), 4.9),
        (COAT, replace(SHEET, family=Family.ACID_ETCH), 4.9),
    ):
        assert rounded(litres, coat, sheet) == litres


@pytest.mark.parametrize("litres", [1.01, 1.7, 2.23, 3.14, 5.05, 7.77, 11.3])
@pytest.mark.parametrize("us", [False, True])
def test_never_less_than_the_floor_takes_nor_more_than_the_pail_holds(litres: float, us: bool) -> None:
    exact = Amounts(litres, litres, litres * 1.1, litres / 9.0)
    found = [each.mixed_l for each in handy(exact, COAT, SHEET, US_CREW if us else METRIC_CREW, litres * 1.02)]
    assert found[-1] == litres
    assert all(litres <= each <= litres * min(1.02, 1.0 + MOST_OVER) + 1e-9 for each in found)


def test_no_kit_more_is_bought_only_to_round_the_buckets_up() -> None:
    """12 buckets of 1.475 L are 17.7 L, and two kits make 18: each may be 25 mL more, too little for round weights."""
    exact = Amounts(1.475, 1.475, 1.475 * 1.1, 1.475 / 9.0)
    room_l = room_to_round_l([exact] * 12, COAT, SHEET)
    assert room_l == pytest.approx(0.025)
    assert rounded(1.475, most_l=1.475 + room_l) * 12 <= 18.0 + 1e-9
    assert rounded(1.475) * 12 > 18.0, "rounded without a thought for the kits it would take a third"
    assert room_to_round_l([exact], replace(COAT, kit_l=None), SHEET) == math.inf
