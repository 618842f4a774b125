"""Areas by sides, circles and corners, against examples that others worked by hand."""

from __future__ import annotations

import pytest

from mixclock.formulas.outline import crosses_itself, polygon_edge_m, polygon_m2, sector_edge_m, sector_m2


def test_the_shoelace_agrees_with_the_worked_pentagon() -> None:
    # Rosetta Code, task "Shoelace formula for polygonal area": 30
    assert polygon_m2([(3, 4), (5, 11), (12, 8), (9, 5), (5, 6)]) == 30.0


def test_the_direction_round_the_floor_plays_no_part() -> None:
    # artofproblemsolving.com, "Shoestring": a quadrilateral of 2.5
    corners = [(2.0, 1.0), (2.0, 3.0), (1.0, 2.0), (0.0, 0.0)]
    assert polygon_m2(corners) == polygon_m2(corners[::-1]) == 2.5


def test_a_share_of_a_circle_has_its_arc_and_its_two_sides() -> None:
    assert sector_m2(4.0, 0.25) == pytest.approx(12.57, abs=0.005)  # mathix.co, composite area 21266F: 4 pi ft²
    assert sector_edge_m(4.0, 0.25) == pytest.approx(2 * 3.14159265 + 8.0)
    assert polygon_edge_m([(0, 0), (3, 0), (3, 4)]) == 12.0


def test_a_bow_tie_and_a_side_that_runs_back_are_no_floor() -> None:
    assert crosses_itself([(0, 0), (4, 3), (4, 0), (0, 3)])
    assert crosses_itself([(0, 0), (6, 0), (6, 4), (3, 4), (3, 0), (0, 4)])
    assert not crosses_itself([(0, 0), (6, 0), (6, 4), (3, 4), (3, 2), (0, 2)])
