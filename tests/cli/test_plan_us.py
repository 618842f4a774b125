"""A crew that writes its job file in feet, mils and gallons reads its plan in them, wherever it looks."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.running import Ran

Run = Callable[..., Ran]

pytestmark = pytest.mark.usefixtures("planned_once")

METRIC = re.compile(r"(?<![\w.])\d[\d.,]* ?(?:m²|m2|m|cm|mm|µm|um|L|mL|kg|g|°C|kg/L|m²/L|m²/h|m/h)(?![\w/²])")
"""A number with a metric unit behind it; minutes are 'min', hours 'h'."""

SHED = """
name = "Boat shed"
zone = "America/Chicago"
currency = "USD"
mixing_at = "slip 1"
[[areas]]
name = "slip 1"
size = "60 ft2"
edge = "12 ft"
order = 1
next_to = ["slip 2"]
texture = "ground"
cove = "6 ft"
[[areas]]
name = "slip 2"
size = "50 ft2"
edge = "10 ft"
order = 2
stairs = "6 ft"
[[crew]]
name = "mixer"
does = ["mix", "pour", "squeegee"]
[[crew]]
name = "roller"
does = ["roll", "broadcast", "cut-in"]
[[vessels]]
name = "small pail"
volume = "1 gal"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "12 mil"
flake = "0.08 lb/ft2"
kit = "3 gal"
split = true
price = "160"
[[coats]]
name = "top"
product = "Polyaspartic top coat"
wet_film = "5 mil"
after = "base"
price = "120"
[hours]
days = ["2026-10-12", "2026-10-13", "2026-10-14"]
start = "7:00"
end = "17:00"
"""
MONDAY = ("--begin", "2026-10-12 7:00")
COLD = """
[[forecast]]
at = "2026-10-12 07:00"
air = "41 F"
humidity = "60 %"
slab = "39 F"
"""


@pytest.fixture
def shed(home: Path) -> str:
    path = home / "shed.toml"
    path.write_text(SHED)
    return str(path)


def test_every_figure_in_the_terminal_is_in_the_crew_s_own_units(run: Run, shed: str) -> None:
    ran = run("plan", shed, *MONDAY)
    assert ran.code == 0, ran.err
    assert METRIC.findall(ran.out) == []
    said = " ".join(ran.out.split())
    for wanted in (
        "for 60 ft² at 12 mil. Size set by small pail of 1 gal, filled to four fifths",
        "a person squeegees 1200 ft² an hour",
        "a person scrapes and sweeps 480 ft² an hour",
        "a person cuts in 110 ft an hour",
        "a ground slab takes 1.2 mil before any film stands on it",
        "leave 16 in unflaked at the joint to slip 2",
        "a stair has 18 in of tread and riser",
        "0.1 lb/ft² of flake sticks at full cover",
        "a price without a kit is taken to be that of a gallon",
        "USD a square foot",
    ):
        assert wanted in said, wanted


@pytest.mark.parametrize("name", ["plan.html", "plan.svg"])
def test_the_page_and_the_picture_too(run: Run, shed: str, home: Path, name: str) -> None:
    assert run("plan", shed, *MONDAY, "--out", str(home / name)).code == 0
    told = re.sub(r"<style.*?</style>", "", (home / name).read_text(), flags=re.S)
    text = re.sub(r"<[^>]*>", " ", told)
    assert METRIC.findall(text) == []
    assert "slip 1" in text or "base" in text


def test_a_whole_plan_counts_in_gallons_from_the_shopping_list_to_the_smallest_bucket(
    run: Run, shed: str, home: Path
) -> None:
    """Kits are bought by the gallon; a bucket of 62 fl oz on the same page would have to be worked out on the floor."""
    told = run("plan", shed, *MONDAY).out
    assert run("plan", shed, *MONDAY, "--out", str(home / "plan.html")).code == 0
    page = re.sub(r"<[^>]*>", " ", (home / "plan.html").read_text())
    for text in (told, page):
        assert set(re.findall(r"\d (gal|qt|fl oz)\b", text)) == {"gal"}


def test_a_patch_of_less_than_a_quart_is_told_in_fluid_ounces(run: Run, home: Path) -> None:
    """3 ft² at 12 mil are 0.022 gal of film: nobody measures hundredths of a gallon."""
    patch = re.sub(r'size = "[^"]*"', 'size = "1.5 ft2"', SHED).replace('kit = "3 gal"\n', "")
    patch = re.sub(r"(cove|stairs) = .*\n", "", patch)
    (home / "patch.toml").write_text(patch)
    told = run("plan", str(home / "patch.toml"), *MONDAY).out
    bucket = told[told.index("MIX SHEETS") :]
    assert set(re.findall(r"\d (gal|qt|fl oz)\b", bucket)) == {"fl oz"}, told


def test_a_slab_too_cold_is_told_in_fahrenheit(run: Run, home: Path) -> None:
    (home / "cold.toml").write_text(SHED + COLD)
    ran = run("plan", str(home / "cold.toml"), *MONDAY)
    assert ran.code == 1
    assert "In the way: base: slab at 39 °F, the sheet allows 50 °F to 86 °F" in " ".join(ran.out.split()), ran.out
    assert METRIC.findall(ran.out) == []


def test_mistakes_are_told_in_gallons(run: Run, home: Path) -> None:
    (home / "wrong.toml").write_text(SHED.replace('kit = "3 gal"', 'kit = "4 fl oz"'))
    # 60 ft² at 12 mil and 1.2 for the ground slab: 60 · 13.2 / 1604 = 0.49 gal, /0.95 = 2.1 quarts
    ran = run("plan", str(home / "wrong.toml"), *MONDAY)
    assert ran.code == 2
    assert "a kit of 4 fl oz is smaller than a batch: slip 1 alone takes 2.1 qt" in ran.err, ran.err


def test_the_json_stays_in_si_for_programs(run: Run, shed: str) -> None:
    answer = run("plan", shed, *MONDAY, "--json").json
    (base, _top) = answer["take_off"]["coats"]
    # 110 ft² are 10.22 m², at 12 mil (304.8 µm) 3.11 L; the rest is texture, coves, stairs and waste
    assert 3.11 < base["needed_l"] < 3.9
    assert base["kits"]["size_l"] == pytest.approx(11.356, abs=0.001)


POTS = {
    "the sheet's own mass": 'mass = "3 gal"\nend = "40 °C"',
    "no mass on the sheet": 'end = "gel"',
}
KIT = """
name = "Slow epoxy base"
family = "epoxy"
source = "invented"
[mix]
ratio_by_volume = [2, 1]
density = ["1.13 kg/L", "0.98 kg/L"]
[pot-life]
at = {{ "70 °F" = "40 min" }}
{pot}
[windows.recoat]
after = "poured"
opens = {{ "70 °F" = "12 h" }}
closes = {{ "70 °F" = "48 h" }}
"""


@pytest.mark.parametrize("pot", POTS)
def test_the_reasons_beside_a_running_batch_too(run: Run, shed: str, home: Path, pot: str) -> None:
    (home / "profiles").mkdir()
    (home / "profiles" / "kit.toml").write_text(KIT.format(pot=POTS[pot]))
    assert run("job", "start", shed).code == 0
    assert run("reading", "--slab", "61 F", "--air", "66 F", "--rh", "50", "--ago", "5 h").code == 0
    for ago in ("40 min", "5 min"):
        mixed = run("mixing", "Slow epoxy base", "1 gal", "--coat", "base", "--on", "slip 1", "--ago", ago)
        assert mixed.code == 0, mixed.err
        assert METRIC.findall(mixed.out) == []
        run("poured", "--ago", "30 min")
    told = run("now", "--json").json
    windows = [window for part in (*told["batches"], *told["areas"]) for window in part["windows"]]
    reasons = [said for window in windows for said in (*window["because"], *window["assumed"])]
    assert len(reasons) > 10
    assert [said for said in reasons if METRIC.search(said)] == []
    assert METRIC.findall(run("now").out) == []
