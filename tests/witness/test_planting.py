"""What is planted is true, by the dose that was asked for, and nothing else on the floor is."""

from __future__ import annotations

import random

import pytest

from tests.witness.floors import past
from tests.witness.ills import ILLS, NOTHING, OUTSIDE, REPORTS, complaint, reports
from tests.witness.planting import WAYS, Case, dose, floor_for

DOSED = [ill.name for ill in ILLS.values() if ill.dosed and ill.name not in ("thirsty slab", "prep left behind")]
SPREAD = {"mild": (0.9, 1.9), "clear": (1.6, 2.6), "gross": (2.3, 4.2)}
"""Between what a dose may be measured back: half minutes, the day's own swing and the steps of the model come in."""


@pytest.mark.parametrize("cause", DOSED)
def test_a_planted_cause_is_truly_past_its_limit_by_its_dose(cause: str) -> None:
    for strength, (least, most) in SPREAD.items():
        floor = floor_for(Case(cause, strength), f"dose {cause} {strength}")
        by = past(floor, floor.bad)[cause]
        enough_room = cause not in ("no induction", "off ratio", "old batch")  # a stand can't be under nothing
        assert by > 0.9
        assert not enough_room or least <= by <= most, strength


@pytest.mark.parametrize("cause", [*WAYS, NOTHING, OUTSIDE])
def test_on_a_floor_nothing_but_what_was_planted_is_past_its_limit(cause: str) -> None:
    floor = floor_for(Case(cause, "clear" if cause in ILLS else ""), f"alone {cause}")
    assert floor.truth == frozenset() if cause in (NOTHING, OUTSIDE) else cause in floor.truth
    for area in floor.areas:
        beyond = {name for name, by in past(floor, area).items() if by > 0.0}
        assert beyond <= floor.truth


def test_sound_neighbours_stay_sound_where_one_area_is_spoilt() -> None:
    floor = floor_for(Case("late back-roll", "gross"), "neighbours of a late one")
    others = [area for area in floor.areas if area != floor.bad]
    assert all(past(floor, area)["late back-roll"] < -0.9 for area in others)


def test_mild_is_one_to_one_and_a_half_doubts_clear_two_gross_three() -> None:
    dice = random.Random(3)
    assert all(1.0 <= dose("mild", dice) <= 1.5 for _ in range(50))
    assert (dose("clear", dice), dose("gross", dice)) == (2.0, 3.0)


def test_the_same_seed_makes_the_same_floor() -> None:
    one, two = (floor_for(Case("lap joint", "mild"), "again") for _ in range(2))
    assert one.buckets == two.buckets
    assert one.sizes_m2 == two.sizes_m2


def test_every_cause_has_a_report_and_every_report_says_where_it_stands() -> None:
    assert {report.cause for report in reports()} == {*WAYS, ""}
    assert all(report.title and report.year and report.words for report in reports())
    assert REPORTS.read_text(encoding="utf-8").count("proof = ") == len(reports())


def test_a_complaint_is_in_the_words_of_a_report_of_its_cause() -> None:
    words = {word for report in reports() if report.cause == "lap joint" for word in report.words}
    assert {complaint("lap joint", random.Random(seed)) for seed in range(20)} == words
