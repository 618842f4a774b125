"""A job file is read as it stands; what does not fit together is said, all of it at once."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.job.mistakes import Mistakes
from mixclock.job.site import Site
from mixclock.job.sitereading import known_keys, read_site
from mixclock.units import METRIC_CREW, US_CREW
from tests.boatshed import one_coat
from tests.examples import examples

STUDIO = """
name = "Pottery studio floor"
zone = "Europe/Lisbon"
currency = "EUR"
[[areas]]
name = "bay 1"
size = "11.5 m2"
edge = "9 m"                     # to cut in
order = 1
next_to = ["bay 2"]
[[crew]]
name = "mixer"
does = ["mix", "pour", "squeegee"]
squeegee = "110 m2/h"
roll = "75 m2/h"
broadcast = "60 m2/h"
cut_in = "35 m/h"
[[vessels]]
name = "pail"
volume = "20 L"
across = "28 cm"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "300 um"
flake = "0.4 kg/m2"
kit = "9 L"
price = "95"
split = true                     # measured part kits are allowed
[[coats]]
name = "top"
product = "Polyaspartic top coat"
wet_film = "125 um"
after = "base"
[hours]
days = ["2026-04-13", "2026-04-14", "2026-04-15"]
start = "07:30"
end = "17:30"
[[forecast]]
at = "2026-04-13 08:00"
air = "16 °C"
humidity = "62 %"
slab = "14 °C"
"""
"""The job file as the README shows it; its keys are a promise."""

SHED = """
name = "Boat shed"
zone = "Europe/Lisbon"
[[areas]]
name = "slip 1"
size = "12 m2"
next_to = ["slip 2"]
[[areas]]
name = "slip 2"
size = "12 m2"
[[areas]]
name = "slip 3"
size = "12 m2"
next_to = ["slip 4"]
[[areas]]
name = "slip 4"
size = "12 m2"
[[vessels]]
name = "pail"
volume = "20 L"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "300 um"
kit = "9 L"
[[coats]]
name = "top"
product = "Acrylic sealer"
spread = "8 m2/L"
after = "base"
"""


def mistakes_of(text: str) -> list[str]:
    with pytest.raises(Mistakes) as refused:
        read_site(text)
    return [str(mistake) for mistake in refused.value.found]


def test_the_example_of_the_job_file_is_complete() -> None:
    site = read_site(STUDIO)
    assert site.area("bay 1") is not None
    assert site.coats[0].kit_l == 9.0
    assert site.coats[0].price == 95.0
    assert site.crew[0].does == ("mix", "pour", "squeegee")
    assert site.units == METRIC_CREW


def test_a_neighbour_that_is_no_area_of_a_job_of_one_area_is_floor_outside_of_it() -> None:
    assert read_site(STUDIO).areas[0].next_to == ()


def test_only_name_zone_areas_and_coats_are_needed() -> None:
    site = read_site(SHED)
    assert site.crew == ()
    assert site.hours is None


def test_a_neighbour_named_on_one_side_is_known_on_both() -> None:
    slip = read_site(SHED).area("slip 2")
    assert slip is not None
    assert slip.next_to == ("slip 1",)


def test_a_file_in_feet_and_gallons_is_answered_in_feet_and_gallons() -> None:
    text = SHED.replace('"12 m2"', '"130 ft2"').replace('"300 um"', '"12 mil"').replace('"9 L"', '"2.4 gal"')
    assert read_site(text).units == US_CREW


@pytest.mark.parametrize("zone", ["Europe/Lisbonn", "Europe", "../../etc/passwd", "", "Mars/Base", "x" * 150])
def test_a_zone_that_is_none_is_refused_whatever_the_system_makes_of_its_name(zone: str) -> None:
    lines = mistakes_of(SHED.replace('"Europe/Lisbon"', f'"{zone}"'))
    assert lines[0].startswith("at 'zone': ")


@pytest.mark.parametrize(
    ("old", "new", "where", "says"),
    [
        ('name = "Boat shed"', "", "name", "is missing"),
        ('"12 m2"', '"0 m2"', "areas[slip 1].size", "is nothing"),
        ('size = "12 m2"\nnext_to = ["slip 2"]', "", "areas[slip 1].size", "is missing"),
        ('"slip 2"\nsize', '"Slip 1"\nsize', "areas[Slip 1].name", "stands twice"),
        ('["slip 2"]', '["slipp 2"]', "areas[slip 1].next_to", "did you mean 'slip 2'?"),
        ('["slip 2"]', '["slip 1"]', "areas[slip 1].next_to", "its own neighbour"),
        ('["slip 2"]', '["slip 2"]\norder = 0', "areas[slip 1].order", "whole number from 1"),
        ('["slip 2"]', '["slip 2"]\ntexture = "smoth"', "areas[slip 1].texture", "did you mean 'smooth'?"),
        ("[[vessels]]", '[[crew]]\nname = "a"\nroll = "0 m2/h"\n[[vessels]]', "crew[a].roll", "is nothing"),
        ("[[vessels]]", '[[crew]]\nname = "a"\nroll = "75 m/h"\n[[vessels]]', "crew[a].roll", "where a rate"),
        ("[[vessels]]", '[[crew]]\nname = "a"\ndoes = ["rol"]\n[[vessels]]', "crew[a].does", "did you mean 'roll'?"),
        ('"20 L"', '"0 L"', "vessels[pail].volume", "is zero"),
        ('"9 L"', '"25 L"', "coats[base].kit", "does not fit the largest pail"),
        ('"9 L"', '"0 L"', "coats[base].kit", "is nothing"),
        ('"9 L"', "9", "coats[base].kit", "without a unit"),
        ('"9 L"', '"9 L"\nprice = "cheap"', "coats[base].price", "no price"),
        ('"9 L"', '"9 L"\nareas = ["slip 9"]', "coats[base].areas", "no area of this job"),
        ('"9 L"', '"9 L"\nspread = "8 m2/L"', "coats[base].spread", "140 % off"),
        ('wet_film = "300 um"', "", "coats[base].wet_film", "and so is spread"),
        ('after = "base"', 'after = "bse"', "coats[top].after", "did you mean 'base'?"),
        ('"9 L"', '"9 L"\nafter = "top"', "coats[base].after", "lies over itself"),
        ("[[areas]]", 'door = "slip 9"\n[[areas]]', "door", "no area of this job"),
        ("[[areas]]", 'mixing_at = "Slip 2"\n[[areas]]', "mixing_at", "did you mean 'slip 2'?"),
        ("[[areas]]", 'currency = "euro"\n[[areas]]', "currency", "no code of a currency"),
        ("[[areas]]", 'saw_cuts = ["slip 1"]\n[[areas]]', "saw_cuts", "no list of pairs"),
        ("[[areas]]", 'saw_cuts = [["slip 1", "slip 8"]]\n[[areas]]', "saw_cuts", "no area of this job"),
        ("[[areas]]", 'saw_cuts = [["slip 1", "slip 1"]]\n[[areas]]', "saw_cuts", "cut from itself"),
        ("[[areas]]", 'sealed = "yes"\n[[areas]]', "sealed", "neither true nor false"),
        ("[[areas]]", "[[area]]", "area", "did you mean 'areas'?"),
    ],
)
def test_each_mistake_of_a_job_file_is_said_with_its_place_and_its_mend(
    old: str, new: str, where: str, says: str
) -> None:
    assert old in SHED
    lines = mistakes_of(SHED.replace(old, new, 1))
    assert any(line.startswith(f"at '{where}': ") and says in line for line in lines), lines


def test_two_areas_with_the_same_number_in_the_order_are_refused() -> None:
    text = re.sub(r'(size = "12 m2")', r"\1\norder = 2", SHED, count=2)
    (line,) = mistakes_of(text)
    assert "2 is the order of slip 1 too" in line


def test_a_wet_edge_over_a_floor_cut_in_two_is_refused_with_both_pieces() -> None:
    (line,) = mistakes_of(SHED.replace('kit = "9 L"', "wet_edge = true"))
    assert "cut in two: slip 1, slip 2 and slip 3, slip 4 touch nowhere" in line


def test_a_wet_edge_on_an_area_without_neighbours_is_refused() -> None:
    text = SHED.replace('next_to = ["slip 4"]', "").replace('kit = "9 L"', "wet_edge = true")
    lines = mistakes_of(text)
    assert [line.split("'")[1] for line in lines] == ["areas[slip 3].next_to", "areas[slip 4].next_to"]
    assert "asks for a wet edge" in lines[0]


def test_separate_rooms_are_fine_where_no_wet_edge_is_asked_for() -> None:
    assert len(read_site(SHED).areas) == 4


def test_a_saw_cut_is_named_by_the_areas_on_both_sides_and_a_batch_may_be_given_a_size() -> None:
    text = SHED.replace("[[areas]]", 'saw_cuts = [["slip 2", "slip 3"]]\n[[areas]]', 1)
    site = read_site(text.replace('"9 L"', '"9 L"\nbatch = "4.5 L"'))
    assert site.saw_cuts == (("slip 2", "slip 3"),)
    assert site.coats[0].batch_l == 4.5


def test_measured_part_kits_fit_any_vessel() -> None:
    assert read_site(SHED.replace('kit = "9 L"', 'kit = "25 L"\nsplit = true')).coats[0].split


def test_all_mistakes_of_a_job_come_at_once() -> None:
    text = SHED.replace("Lisbon", "Lisbonn").replace('"9 L"', '"25 L"').replace('"8 m2/L"', '"8 L"')
    text += '[hours]\nstart = "17:00"\nend = "8:00"\n[[forecast]]\nair = "16 °C"\n'
    places = {line.split("'")[1] for line in mistakes_of(text)}
    assert places == {"zone", "coats[base].kit", "coats[top].spread", "hours.end", "forecast[1].at"}


def test_every_key_of_the_example_is_known_to_the_reader() -> None:
    assert {"areas.next_to", "crew.cut_in", "vessels.across", "coats.flake", "forecast.slab"} <= known_keys()


JUNK = st.sampled_from(
    ['""', "nan", "-1", "[]", "{}", "[1, 2]", "true", '"bay 1"', '"9 L"', '"2026-04-13"', "2026-04-13", "07:30:00"]
) | st.text("abc 0123456789,./°%", max_size=10).map(lambda text: f'"{text}"')


@examples(300, deadline=None)
@given(st.dictionaries(st.sampled_from(sorted(known_keys())), JUNK, min_size=1, max_size=6), st.booleans())
def test_junk_in_a_job_file_is_refused_in_lines_and_never_with_a_traceback(junk: dict[str, str], alone: bool) -> None:
    tables: dict[str, list[str]] = {}
    for path, value in junk.items():
        table, _, key = path.rpartition(".")
        tables.setdefault(table, []).append(f"{key} = {value}")
    text = "\n".join(tables.pop("", [])) + ("" if alone else "\n" + SHED.partition("[[areas]]")[0])
    for table, lines in tables.items():
        text += f"\n[{table}]\n" if table == "hours" else f"\n[[{table}]]\n"
        text += "\n".join(lines)
    assert answer_of(text)


@examples(200, deadline=None)
@given(st.data())
def test_a_job_file_with_one_line_changed_is_still_answered_in_words(data: st.DataObject) -> None:
    lines = STUDIO.splitlines()
    at = data.draw(st.integers(0, len(lines) - 1))
    key = lines[at].partition("=")[0]
    lines[at] = data.draw(st.sampled_from([f"{key}= ", ""])) + data.draw(JUNK)
    assert answer_of("\n".join(lines))


def answer_of(text: str) -> Site | list[str]:
    """The site, or a line for each mistake; anything else that is raised ends the test."""
    try:
        return read_site(text)
    except Mistakes as refused:
        lines = refused.lines("job.toml")
        assert all(len(line.splitlines()) == 1 for line in lines)
        return lines


@pytest.mark.parametrize(("units", "bare"), [("metric", "°C"), ("US", "°F"), (None, None)])
def test_bare_degrees_are_what_the_job_file_names_and_nothing_otherwise(units: str | None, bare: str | None) -> None:
    named = f'units = "{units}"\n' if units else ""
    assert read_site(named + SHED_OF_UNITS).bare_degrees == bare
    if units:
        assert read_site(named + SHED_OF_UNITS).units.system == units


SHED_OF_UNITS = one_coat("slip", "40 m2", zone="Europe/Lisbon")


def test_a_coat_of_a_product_that_tells_its_own_spread_needs_neither_film_nor_spread() -> None:
    text = SHED.replace('wet_film = "300 um"', "", 1)
    with pytest.raises(Mistakes):
        read_site(text)
    coat = read_site(text, needs_film=lambda product: product != "Slow epoxy base").coats[0]
    assert (coat.wet_film_um, coat.spread_m2_l) == (None, None)
