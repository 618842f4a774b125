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
    assert areas_said([]) == ""


def test_whole_bays_between_shares_of_others_are_a_range() -> None:
    names = ["bay 9 (part 2 of 2)", *(f"bay {number}" for number in range(10, 14)), "bay 14 (part 1 of 2)"]
    assert areas_said(names) == "the last half of bay 9, bays 10 to 13 and the first half of bay 14"
    assert areas_said(["bay 1", "bay 3", "bay 4"]) == "bay 1, bay 3 and bay 4"
    assert areas_said(["bay 3", "bay 2", "bay 1"]) == "bay 3, bay 2 and bay 1"
    assert areas_said(["12", "13", "14"]) == "12, 13 and 14", "a number alone is a name"
