"""A floor by its sides, circles and corners, as a crew measures it."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from mixclock.job import practice
from mixclock.job.floorshape import read_corners, read_shape
from mixclock.job.mistakes import Mistakes
from mixclock.job.site import Site
from mixclock.job.sitereading import read_site
from mixclock.units import METRIC_CREW, US_CREW, UnitError
from mixclock.words.plan.floorshapes import measured_areas, shape_said, shape_svgs

FT2 = 0.09290304
JOB = """
name = "Boat shed"
zone = "Europe/Lisbon"
[[areas]]
name = "shed"
{area}
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "300 um"
"""


def job(area: str) -> Site:
    """A job with one area."""
    return read_site(JOB.format(area=area))


@pytest.mark.parametrize(
    ("said", "size", "source"),
    [
        ("12 m x 8 m - 3 m x 4 m", 84.0, "clearmathacademy.com, area and composite figures, worked example"),
        ("12 m x 4 m + 2 m x 6 m", 60.0, "OpenStax Prealgebra as told at allinonehomeschool.com, irregular figures"),
        ("8 m x 4 m + triangle 3 m x 3 m", 36.5, "the same, second example"),
        ("10 m x 6 m + triangle 10 m x 4 m", 80.0, "mathsolu.com, area of composite figures, example 1"),
        ("8 m x 5 m + half circle 8 m across", 65.1, "the same, example 2, printed to a tenth"),
        ("12 m x 12 m − circle 3 m radius", 115.7, "the same, example 3, printed to a tenth"),
        ("8 m x 13 m + half circle radius 4 m", 129.1, "qammunity.org 2978124, printed to a tenth"),
    ],
)
def test_sides_circles_and_triangles_add_up_as_others_worked_them_by_hand(said: str, size: float, source: str) -> None:
    assert read_shape(said).area_m2 == pytest.approx(size, abs=0.05), source


def test_a_garage_less_its_plinth_and_an_apron_in_feet_are_read() -> None:
    site = job('size = "20 ft × 22 ft − 3 ft × 4 ft"')
    assert site.areas[0].size_m2 / FT2 == pytest.approx(428.0)
    assert site.units is US_CREW
    apron = job('size = "10 ft x 12 ft + quarter circle 6 ft radius"').areas[0]
    assert apron.size_m2 / FT2 == pytest.approx(120.0 + 9.0 * 3.14159265)


@pytest.mark.parametrize(
    "said",
    [
        "4 m by 5 m, less a circle of 1 m radius",
        "4 m by 5 m plus a half circle of 2 m radius",
        "4 m by 5 m plus three quarters of a circle of 2 m radius, less a triangle 1 m by 2 m",
    ],
)
def test_a_shape_may_be_typed_in_the_words_in_which_a_plan_tells_it(said: str) -> None:
    assert shape_said(read_shape(said), METRIC_CREW) == said


def test_a_radius_may_stand_before_its_circle() -> None:
    """By hand: a quarter of pi times 4."""
    assert read_shape("2 m radius quarter circle").area_m2 == pytest.approx(3.14159265)
    assert read_shape("3 m x 4 m minus 2 m radius quarter circle").area_m2 == pytest.approx(12.0 - 3.14159265)


@pytest.mark.parametrize(
    ("said", "lies"),
    [
        ("4 m x 5 m - 6 m x 1 m", False),
        ("4 m x 5 m - 5 m x 1 m", True),
        ("2 m x 20 m - circle 3 m across", False),
        ("2 m x 20 m - half circle 2 m radius", True),
        ("2 m x 20 m - quarter circle 3 m radius", False),
        ("circle 4 m across - 3 m x 3 m", False),
        ("circle 4 m across - 2.8 m x 2.8 m", True),
    ],
)
def test_what_is_taken_off_lies_within_the_floor(said: str, lies: bool) -> None:
    """By hand: a pit is no longer and no wider than its floor; in a circle its diagonal counts (2.8 m: 3.96 of 4)."""
    if lies:
        assert read_shape(said).area_m2 > 0.0
    else:
        with pytest.raises(UnitError, match="longer than the floor"):
            read_shape(said)


def test_what_is_cut_in_follows_from_the_sides_and_says_so() -> None:
    area = job('size = "4 m x 5 m - 1 m x 1 m"').areas[0]
    edge = practice.edge_m(area)
    assert edge.value == 22.0
    assert "sides" in edge.words
    assert practice.edge_m(replace(area, edge_m=7.0)).value == 7.0


def test_corners_make_an_ell_and_its_edge() -> None:
    area = job('corners = ["0 m, 0 m", "6 m, 0 m", "6 m, 4 m", "3 m, 4 m", "3 m, 2 m", "0 m, 2 m"]').areas[0]
    assert area.size_m2 == 18.0
    assert practice.edge_m(area).value == 20.0


@pytest.mark.parametrize(
    ("said", "word"),
    [
        ('size = "3 m x 4 m - 20 ft x 22 ft"', "takes off"),
        ('size = "3 m x 4 m - circle 1 m"', "radius or a width"),
        ('size = "quarter circle 10 ft"', "'quarter circle 10 ft across' or 'quarter circle 10 ft radius'"),
        ('size = "3 m x 4 m - "', "x"),
        ('corners = ["0 m, 0 m", "4 m, 3 m", "4 m, 0 m", "0 m, 3 m"]', "cross"),
        ('corners = ["0 m, 0 m", "4 m, 0 m"]', "three"),
        ('corners = ["0 m, 0 m", "4 m, 0 m", "8 m, 0 m"]', "line"),
        ('corners = ["0 m, 0 m", "4 m", "4 m, 3 m"]', "no corner"),
        ('size = "30 m2"\ncorners = ["0 m, 0 m", "4 m, 0 m", "4 m, 3 m"]', "enclose"),
    ],
)
def test_a_shape_that_cannot_be_is_one_line_that_says_how_to_mend_it(said: str, word: str) -> None:
    with pytest.raises(Mistakes) as raised:
        job(said)
    assert len(raised.value.args[0] if raised.value.args else [raised.value]) >= 1
    assert word in str(raised.value)


def test_a_shape_is_drawn_with_its_sides_and_told_in_words() -> None:
    areas = [*job('size = "20 ft × 22 ft − 3 ft × 4 ft"').areas, *job('size = "12 m2"').areas]
    drawn = measured_areas(areas)
    assert [area.name for area in drawn] == ["shed"]
    (picture,) = shape_svgs(drawn, US_CREW)
    assert picture.count("<polygon") == 2
    assert "20 ft by 22 ft" in picture
    assert (
        shape_said(read_shape("4 m x 5 m - circle 1 m radius"), METRIC_CREW)
        == "4 m by 5 m, less a circle of 1 m radius"
    )


def test_each_area_is_a_picture_of_its_own_that_a_phone_shows_whole() -> None:
    """A quarter circle's words are wider than it is: they stand beneath, and a hole's beside it, on no line."""
    areas = [*job('size = "20 ft × 22 ft − 3 ft × 4 ft"').areas, *job('size = "quarter circle 9 ft radius"').areas]
    pictures = shape_svgs(measured_areas(areas), US_CREW)
    assert len(pictures) == 2
    assert len({re.findall(r'id="([^"]+)"', each)[0] for each in pictures}) == 2, "each has ids of its own"
    for each in pictures:
        (width,) = re.findall(r'viewBox="0 0 (\d+) ', each)
        assert int(width) <= 360
    at = {said: float(y) for y, said in re.findall(r'<text[^>]* y="([\d.]+)">([^<]+)</text>', pictures[1])}
    corners = [float(corner.split(",")[1]) for corner in re.findall(r'points="([^"]+)"', pictures[1])[0].split()]
    assert at["quarter circle of 9 ft radius"] > max(corners)


def test_corners_may_lie_on_the_other_side_of_where_they_are_measured_from() -> None:
    assert read_corners(["-2 m, 0 m", "2 m, 0 m", "2 m, 3 m", "-2 m, 3 m"]).area_m2 == 12.0
    with pytest.raises(UnitError):
        read_shape("x")


@pytest.mark.parametrize(
    ("said", "size_ft2", "by_hand"),
    [
        ("20'-6\" x 22'", 451.0, "20.5 ft by 22 ft, as drawings write feet and inches"),
        ("12’−6½” × 10’–3”", 12.5416667 * 10.25, "150.5 in by 123 in"),
        ("12ft-6in x 10 ft", 125.0, "12.5 ft by 10 ft"),
        ("20ft x 22ft-3ft x 4ft", 428.0, "440 - 12: no blank beside the sign"),
        ("20 ft x 22 ft -3 ft x 4 ft", 428.0, "the same, a blank on one side"),
        ("10 ft x 10 ft − ¼ circle of 4 ft radius", 100.0 - 4.0 * 3.14159265, "100 - pi 4²/4"),
        ("semicircle 4 ft radius", 8.0 * 3.14159265, "pi 4²/2"),
        ("quarter circle, radius 4 ft", 4.0 * 3.14159265, "pi 4²/4"),
    ],
)
def test_feet_inches_and_parts_of_circles_are_read_as_drawings_write_them(
    said: str, size_ft2: float, by_hand: str
) -> None:
    assert read_shape(said).area_m2 / FT2 == pytest.approx(size_ft2), by_hand


@pytest.mark.parametrize(
    ("said", "size_m2"),
    [
        ("4 m x 5 m - 3 m x 3 m - 3 m x 3 m", None),  # 3 and 3 are more than 4 across, and more than 5 along
        ("4 m x 6 m - 3 m x 3 m - 3 m x 3 m", 6.0),  # one behind the other: 6 along
        ("4 m x 5 m - 1 m x 5 m - 1 m x 5 m", 10.0),  # side by side
        ("4 m x 5 m - 3.5 m x 2 m - 2 m x 3.5 m", 6.0),  # 2 and 2, if one is turned: 4 across
    ],
)
def test_two_holes_that_have_no_room_beside_each_other_are_not_both_taken_off(said: str, size_m2: float | None) -> None:
    if size_m2 is None:
        with pytest.raises(UnitError, match="cannot lie apart"):
            read_shape(said)
    else:
        assert read_shape(said).area_m2 == pytest.approx(size_m2)


def test_the_corner_that_all_others_are_measured_from_needs_no_unit() -> None:
    assert read_corners(["0, 0", "6 m, 0", "6 m, 4 m", "0, 4 m"]).area_m2 == pytest.approx(24.0)
    with pytest.raises(UnitError, match="6 what"):
        read_corners(["0, 0", "6, 0", "6 m, 4 m"])


def test_a_floor_as_large_as_a_county_is_refused_in_plain_figures() -> None:
    with pytest.raises(Mistakes, match="is outside: at most 1000000 m²"):
        job('size = "2 km x 1 km"')
