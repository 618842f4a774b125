"""How places on the floor are said in a plan."""

from __future__ import annotations

from mixclock.decide.plan.floor.placenames import areas_said


def test_parts_of_an_area_are_said_as_the_share_of_it_that_they_are() -> None:
    assert areas_said(["bay 2 (part 3 of 3)", "bay 3 (part 1 of 3)"]) == (
        "the last third of bay 2 and the first third of bay 3"
    )
    assert areas_said([f"hall (part {part} of 4)" for part in (1, 2, 3)]) == "the first three quarters of hall"
    assert areas_said([f"hall (part {part} of 6)" for part in (3, 4)]) == "the middle third of hall"
    assert areas_said([f"hall (part {part} of 9)" for part in (2, 3, 4)]) == "hall (parts 2 to 4 of 9)"
    assert areas_said(["hall (part 2 of 9)"]) == "hall (part 2 of 9)"
    assert areas_said([f"hall (part {part} of 9)" for part in (2, 3)]) == "hall (parts 2 and 3 of 9)"
    assert areas_said(["way to wash (part 2 of 9)", "way to wash (part 3 of 9)"]) == "way to wash (parts 2 and 3 of 9)"
    assert areas_said([]) == ""


def test_what_is_cut_finer_than_a_person_counts_is_said_in_hundredths_of_the_area() -> None:
    """Two thirds are 667 thousandths; 24 of 57 parts are 42.1 hundredths."""
    assert areas_said(["hall (parts 1 to 667 of 1000)"]) == "the first 67 % of hall"
    assert areas_said(["hall (parts 668 to 1000 of 1000)", "bay 1"]) == "the last 33 % of hall and bay 1"
    assert areas_said(["hall (parts 129 to 257 of 1000)"]) == "hall from 13 to 26 %"
    assert areas_said([f"hall (part {part} of 57)" for part in range(1, 25)]) == "the first 42 % of hall"
    assert areas_said(["hall (parts 1 to 400 of 1000)", "hall (parts 401 to 1000 of 1000)"]) == "hall"


def test_whole_bays_between_shares_of_others_are_a_range() -> None:
    names = ["bay 9 (part 2 of 2)", *(f"bay {number}" for number in range(10, 14)), "bay 14 (part 1 of 2)"]
    assert areas_said(names) == "the last half of bay 9, bays 10 to 13 and the first half of bay 14"
    assert areas_said(["bay 1", "bay 3", "bay 4"]) == "bay 1, bay 3 and bay 4"
    assert areas_said(["bay 3", "bay 2", "bay 1"]) == "bay 3, bay 2 and bay 1"
    assert areas_said(["12", "13", "14"]) == "12, 13 and 14", "a number alone is a name"
