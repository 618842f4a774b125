"""Where two areas meet nobody cuts in: by the sides that they share, worked by hand."""

from __future__ import annotations

import pytest

from mixclock.job import practice
from mixclock.job.sitereading import read_site
from tests.boatshed import areas_of


def edges(*areas: str) -> dict[str, float]:
    """What is cut in of each area, by the lines of the job file."""
    site = read_site(areas_of(*areas))
    return {area.name: practice.edge_m(area).value for area in site.areas}


def test_two_bays_of_a_garage_side_by_side_share_their_long_side() -> None:
    """12 ft by 22 ft each: 68 ft round, 22 of them along the other bay."""
    found = edges('name = "a"\nsize = "12 ft x 22 ft"\nnext_to = ["b"]', 'name = "b"\nsize = "12 ft x 22 ft"')
    assert [edge / 0.3048 for edge in found.values()] == pytest.approx([46.0, 46.0])


def test_plain_sizes_are_squares_that_share_the_shorter_side() -> None:
    """16 m² is 4 m by 4 m: 16 m round, 3 of them along a store of 9 m²; that one is 12 round and keeps 9."""
    found = edges('name = "hall"\nsize = "16 m2"\nnext_to = ["store"]', 'name = "store"\nsize = "9 m2"')
    assert list(found.values()) == pytest.approx([13.0, 9.0])


def test_some_wall_is_always_left_and_what_the_file_states_counts() -> None:
    """A hall of 4 m by 4 m with four neighbours as large keeps a quarter of its 16 m; a stated edge is not touched."""
    hall = 'name = "hall"\nsize = "16 m2"\nnext_to = ["n", "e", "s", "w"]'
    found = edges(
        hall, *(f'name = "{name}"\nsize = "16 m2"' for name in "nes"), 'name = "w"\nsize = "16 m2"\nedge = "2 m"'
    )
    assert found["hall"] == pytest.approx(4.0)
    assert found["w"] == 2.0
