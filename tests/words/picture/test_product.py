"""The picture of a product, read as the file that it is and looked at in a browser."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.clocks import LearnedFactor
from mixclock.outside.profilefiles import find
from mixclock.units import METRIC_CREW, US_CREW, CrewUnits
from mixclock.words.picture import MassCurve, mass_curves, product_picture
from tests.running import Ran

SVG = "{http://www.w3.org/2000/svg}"
SHIPPED = (
    *("Slow epoxy base", "Fast epoxy base", "Waterborne epoxy primer", "Polyaspartic top coat"),
    *("Aliphatic polyurethane top coat", "Acrylic sealer", "Etching solution", "Neutraliser"),
)


@cache
def masses(name: str, units: CrewUnits = METRIC_CREW) -> tuple[MassCurve, ...]:
    return tuple(mass_curves(find(name).profile, bucket_model(), units=units))


@cache
def drawn(name: str, units: CrewUnits = METRIC_CREW) -> ET.Element:
    profile = find(name).profile
    text = product_picture(profile, units, masses(name, units))
    return ET.fromstring(text)


def words(picture: ET.Element) -> list[str]:
    return [each.text or "" for each in picture.iter(f"{SVG}text")]


@pytest.mark.parametrize("name", SHIPPED)
def test_every_product_that_comes_along_can_be_drawn_and_told(name: str) -> None:
    picture = drawn(name)
    title, told = picture.find(f"{SVG}title"), picture.find(f"{SVG}desc")
    assert picture.get("role") == "img"
    assert title is not None
    assert told is not None
    assert name in (title.text or "")
    assert "early" in (told.text or "")
    assert {title.get("id"), told.get("id")} == set((picture.get("aria-labelledby") or "").split())


def test_each_window_has_its_panel_with_the_points_that_the_sheet_states() -> None:
    picture = drawn("Slow epoxy base")
    heads = [each.text for each in picture.iter(f"{SVG}text") if each.get("class") == "head"]
    assert heads[:2] == ["pour-out closes", "back-roll closes"]
    assert "recoat opens and closes" in heads
    marks = [each for each in picture.iter(f"{SVG}polygon") if each.get("class") == "mark"]
    stated = 11 * 3  # edges with a temperature, three points each
    assert len(marks) == stated + 1 + 1  # the legend's, and the sheet's own mass at 20 °C


def test_a_window_that_opens_at_once_has_nothing_to_draw() -> None:
    assert not [said for said in words(drawn("Slow epoxy base")) if said.startswith("induction")]


def test_closing_and_opening_edges_differ_without_any_colour() -> None:
    picture = drawn("Slow epoxy base")
    style = picture.find(f"{SVG}style")
    assert style is not None
    text = style.text or ""
    assert re.search(r"\.closing\{fill:url\(#hatch\)", text)
    assert re.search(r"\.opening\{fill:url\(#dots\)", text)
    assert re.search(r"\.likely-opening\{[^}]*stroke-dasharray", text)
    channels = [(code[:2], code[2:4], code[4:]) for code in re.findall(r"#([0-9a-f]{6})", text)]
    spread = [max(int(part, 16) for part in each) - min(int(part, 16) for part in each) for each in channels]
    assert max(spread) < 24  # greys and inks only


def test_a_crew_that_thinks_in_fahrenheit_and_pounds_reads_them() -> None:
    said = words(drawn("Slow epoxy base", units=US_CREW))
    assert {"60 °F", "80 °F", "5 lb"} <= set(said)
    assert not [each for each in said if "°C" in each or " kg" in each]


def test_nothing_is_drawn_outside_its_frame() -> None:
    for name in SHIPPED:
        picture = drawn(name)
        width, height = (float(picture.get(side) or 0) for side in ("width", "height"))
        lines = [line.get("points") or "" for line in picture.iter(f"{SVG}polyline")]
        pairs = [pair.split(",") for line in lines for pair in line.split()]
        assert len(pairs) > 10, name
        assert [pair for pair in pairs if not 0 <= float(pair[0]) <= width or not 0 <= float(pair[1]) <= height] == []


def test_pot_life_is_never_longer_for_a_bigger_bucket_and_practice_caps_a_full_kit() -> None:
    curves = masses("Slow epoxy base")
    assert len(curves) > 1
    for curve in curves:
        early = [row[1] for row in curve.at]
        likely = [row[2] for row in curve.at]
        assert early == sorted(early, reverse=True)
        assert likely == sorted(likely, reverse=True)
        full_kit = [early_s for mass_kg, early_s, _, _ in curve.at if mass_kg >= 9.0]
        assert full_kit
        assert max(full_kit) <= 600.0 + 1e-6


def test_the_model_meets_the_sheet_at_the_sheets_own_mass() -> None:
    at_20 = next(curve for curve in masses("Slow epoxy base") if curve.temp_c == 20.0)
    below = max((row for row in at_20.at if row[0] <= 1.0), key=lambda row: row[0])
    above = min((row for row in at_20.at if row[0] >= 1.0), key=lambda row: row[0])
    assert above[2] <= 2400.0 <= below[2]


def test_a_bucket_colder_than_the_sheet_claims_no_late_time() -> None:
    profile = find("Slow epoxy base").profile
    text = find("Slow epoxy base").text.replace('"10 °C" = "70 min", ', "")
    from mixclock.job.profilereading import read_profile

    warm = read_profile(text)
    curves = mass_curves(warm, bucket_model())
    assert {row[3] for row in curves[0].at} == {None}
    picture = ET.fromstring(product_picture(warm, METRIC_CREW, curves))
    assert "colder than the sheet: no late time" in words(picture)
    assert profile.pot_life is not None


def test_what_was_learned_stands_beside_the_sheets_own_line() -> None:
    profile = find("Slow epoxy base").profile
    learned = {"tack-free": LearnedFactor(1.24, 0.12, 6)}
    picture = ET.fromstring(product_picture(profile, METRIC_CREW, learned=learned))
    assert "tack-free opens, learned ×1.24" in words(picture)
    assert "by the sheet alone" in words(picture)
    assert len([line for line in picture.iter(f"{SVG}polyline") if line.get("class") == "sheet"]) == 2


def test_the_command_draws_into_the_file_that_was_named(run: Callable[..., Ran], tmp_path: Path) -> None:
    file = tmp_path / "base.svg"
    ran = run("profile", "show", "Slow epoxy base", "--picture", str(file), "--json")
    assert ran.code == 0
    assert ran.json["name"] == "Slow epoxy base"
    assert ET.parse(file).getroot().tag == f"{SVG}svg"


@pytest.mark.parametrize("name", ["base.png", "base.pdf", "base"])
def test_another_ending_is_refused_in_one_line(run: Callable[..., Ran], tmp_path: Path, name: str) -> None:
    ran = run("profile", "show", "Slow epoxy base", "--picture", str(tmp_path / name))
    assert (ran.code, ran.err.count("\n"), ran.out) == (2, 1, "")
    assert "name the file base.svg" in ran.err
    assert not (tmp_path / name).exists()


def test_a_folder_that_cannot_be_written_to_is_said_in_one_line(run: Callable[..., Ran], tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    ran = run("profile", "show", "Slow epoxy base", "--picture", str(tmp_path / "file" / "base.svg"))
    assert (ran.code, ran.err.count("\n")) == (2, 1)


def test_no_words_overlap_or_leave_the_paper_in_a_real_browser(paper: Any) -> None:
    boxes = """[...document.querySelectorAll('svg text')].map(each => {
        const box = each.getBoundingClientRect();
        return [each.textContent, box.left, box.top, box.right, box.bottom]; })"""
    page = paper(820, 1400)
    for name in SHIPPED:
        text = product_picture(find(name).profile, METRIC_CREW, masses(name), {"tack-free": LearnedFactor(1.2, 0.1, 3)})
        page.set_content(f"<body style='margin:0'>{text}")
        placed = page.evaluate(boxes)
        assert [each for each in placed if each[3] > 800.5 or each[1] < 0.0] == []
        touching = [
            (one[0], other[0])
            for index, one in enumerate(placed)
            for other in placed[index + 1 :]
            if one[1] < other[3] - 1 and other[1] < one[3] - 1 and one[2] < other[4] - 3 and other[2] < one[4] - 3
        ]
        assert touching == [], name
