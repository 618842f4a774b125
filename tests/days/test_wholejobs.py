"""Two jobs from delivery to call-back, led by the commands and the board alone, interruptions included."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from mixclock.words.rounds import NOT_RECORDED
from tests.days.ledcrew import LedCrew
from tests.frozen import Machine, machine_at
from tests.running import Ran

Run = Callable[..., Ran]
MONDAY = datetime(2026, 4, 13, 5, 30, tzinfo=UTC)

GARAGE = """
name = "Three-car garage"
zone = "America/Chicago"
units = "US"
door = "right bay"
check_in = "15 min"
[[areas]]
name = "left bay"
size = "220 ft2"
next_to = ["middle bay"]
[[areas]]
name = "middle bay"
size = "220 ft2"
next_to = ["right bay"]
[[areas]]
name = "right bay"
size = "220 ft2"
[[crew]]
name = "applicator"
[[vessels]]
name = "pail"
volume = "5 gal"
across = "11 in"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "12 mil"
flake = "8 lb/100 ft2"
[[coats]]
name = "top"
product = "Slow epoxy top"
wet_film = "8 mil"
after = "base"
[hours]
start = "07:00"
end = "19:00"
"""

KITCHEN_HEAD = """
name = "Canteen kitchen"
zone = "Europe/Lisbon"
units = "metric"
door = "wash-up"
[[areas]]
name = "cooking line"
size = "40 m2"
cove = "18 m"
order = 1
next_to = ["wash-up"]
[[areas]]
name = "wash-up"
size = "40 m2"
cove = "16 m"
order = 2
[[crew]]
name = "mixer"
does = ["mix", "pour", "squeegee"]
squeegee = "110 m2/h"
[[crew]]
name = "roller"
does = ["cut in", "roll", "broadcast"]
roll = "110 m2/h"
broadcast = "110 m2/h"
cut_in = "40 m/h"
[[vessels]]
name = "pail"
volume = "30 L"
across = "32 cm"
[hours]
start = "07:00"
end = "18:00"
"""

SYSTEM = (
    ("primer", 150, None, None),
    ("body", 300, None, None),
    ("broadcast", 300, "2 kg/m2", None),
    ("grout coat", 300, None, None),
    ("second broadcast", 300, "2 kg/m2", None),
    ("top", 150, None, "60 g/L"),
)
"""Primer, body, broadcast to refusal, grout coat, second broadcast, top with grit: film in µm, sand, grit."""

RESIN = """
name = "{name}"
family = "epoxy"
source = "invented for this test"
[mix]
ratio_by_volume = [2, 1]
density = ["1.13 kg/L", "0.98 kg/L"]
time = "3 min"
[pot-life]
mass = "10 kg"
end = "gel"
at = {{ "10 °C" = "90 min", "20 °C" = "60 min", "30 °C" = "30 min" }}
[limits]
slab = ["10 °C", "30 °C"]
material = ["15 °C", "27 °C"]
moisture_max = "75 %"
vapour_max = "3 lb"
[windows.back-roll]
after = "poured"
closes = {{ "20 °C" = "75 min", "30 °C" = "40 min" }}
[windows.wet-edge]
after = "poured"
closes = {{ "20 °C" = "80 min", "30 °C" = "45 min" }}
[windows.broadcast]
after = "poured"
closes = {{ "20 °C" = "100 min", "30 °C" = "60 min" }}
[windows.tack-free]
after = "poured"
opens = {{ "20 °C" = "8 h", "30 °C" = "5 h" }}
[windows.recoat]
after = "poured"
opens = {{ "10 °C" = "20 h", "20 °C" = "11 h", "30 °C" = "7 h" }}
closes = {{ "10 °C" = "72 h", "20 °C" = "72 h", "30 °C" = "48 h" }}
[windows.foot-traffic]
after = "poured"
opens = {{ "10 °C" = "36 h", "20 °C" = "18 h", "30 °C" = "12 h" }}
[windows.scrape]
after = "poured"
opens = {{ "20 °C" = "9 h", "30 °C" = "6 h" }}
"""


def kitchen(coats: int) -> str:
    rows = []
    for place, (name, film, sand, grit) in enumerate(SYSTEM[-coats:] if coats < 6 else SYSTEM):
        rows.append(f'[[coats]]\nname = "{name}"\nproduct = "Kitchen resin"\nwet_film = "{film} um"\n')
        rows.append(f'flake = "{sand}"\n' if sand else "")
        rows.append(f'grit = "{grit}"\n' if grit else "")
        rows.append(f'after = "{(SYSTEM[-coats:] if coats < 6 else SYSTEM)[place - 1][0]}"\n' if place else "")
    return KITCHEN_HEAD + "".join(rows)


@pytest.fixture
def machine() -> Iterator[Machine]:
    """A laptop on a Monday morning before work."""
    with machine_at(MONDAY) as held:
        yield held


def begun(home: Path, run: Run, file: str, *resins: str) -> None:
    (home / "profiles").mkdir()
    for number, name in enumerate(resins):
        (home / "profiles" / f"resin{number}.toml").write_text(RESIN.format(name=name), encoding="utf-8")
    (home / "job.toml").write_text(file, encoding="utf-8")
    ran = run("job", "start", str(home / "job.toml"))
    assert ran.code == 0, ran.err


def row_of(page: str, first: str) -> list[str]:
    """The rows of a page's tables whose first cell says this, as plain words."""
    rows = re.findall(r"<tr.*?</tr>", page, re.DOTALL)
    plain = [" | ".join(re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row, re.DOTALL)) for row in rows]
    return [row for row in plain if row.startswith(f"{first} |")]


def handed_over_and_called_back(crew: LedCrew, home: Path, area: str, product: str) -> tuple[str, str]:
    """The hand-over, weeks later a fault, the call-back with its repair; gives the record and the owner's sheet."""
    crew.tell("job", "finish")
    crew.machine.wait(timedelta(days=20))
    crew.tell("found", area, "peeling", "--shape", "cut-in")
    owner_open = home / "open.html"
    crew.tell("record", "--owner", "--to", str(owner_open))
    assert "is open" in owner_open.read_text(encoding="utf-8")
    assert "to match on" in crew.tell("visit", "edge has lifted").out
    crew.tell("reading", *crew.reading)
    crew.tell("spot", product, "300 mL", "--for", "repair", "--on", area, "--lot-a", "A-base", "--lot-b", "B-base")
    crew.machine.wait(timedelta(minutes=4))
    crew.tell("poured")
    crew.tell("fixed", area, "edge cut back, primed, coated with the kept lot")
    crew.tell("job", "finish")
    crew.tell("record", "--to", str(home / "record.html"))
    crew.tell("record", "--owner", "--to", str(home / "owner.html"))
    return tuple((home / name).read_text(encoding="utf-8") for name in ("record.html", "owner.html"))  # type: ignore[return-value]


def test_one_person_does_a_three_car_garage_in_us_units_from_delivery_to_call_back(
    home: Path, run: Run, machine: Machine
) -> None:
    machine.pass_until(MONDAY.replace(hour=12))  # 7:00 in Chicago
    begun(home, run, GARAGE, "Slow epoxy base", "Slow epoxy top")
    crew = LedCrew(
        run, machine, "America/Chicago", ("--air", "68 °F", "--rh", "50 %", "--slab", "66 °F"), (110.0, 75.0, 60.0),
        {"left bay": 20.4, "middle bay": 20.4, "right bay": 20.4}, frozenset({"base"}),
        litres_per_m2={"base": 0.32, "top": 0.215},
    )  # fmt: skip
    crew.tell("ready", "delivery", "whole")
    assert "over the limit" in crew.tell("ready", "moisture", "3.5 lb").out
    crew.tell("reading", *crew.reading)
    told = crew.next()
    assert (told["answer"], told["why"]) == ("no", "conditions"), "the slab is too wet by the sheet's own figure"
    crew.machine.wait(timedelta(days=2))
    crew.tell("ready", "moisture", "2.5 lb")
    for item, answer in (
        ("cloth", "clean"),
        ("oil", "clean"),
        ("tools", "all here"),
        ("dump spot", "gravel by the gate"),
    ):
        crew.tap("ready", item=item, answer=answer)
    crew.tell("reading", *crew.reading)
    crew.lay_everything()
    record, owner = handed_over_and_called_back(crew, home, "left bay", "Slow epoxy base")
    assert ("yes", "fits") in crew.answers
    for words in (
        "3.5 lb",
        "2.5 lb",
        "Called away",
        "telephone",
        "not recorded",
        "Call-back begun",
        "Put right on left bay",
    ):
        assert words in record, words
    for words in ("was put right", "edge cut back"):
        assert words.casefold() in owner.casefold(), words
    assert "L of Slow epoxy" not in record.partition("Every statement")[2][:20_000], "no litre reaches this crew"


@pytest.mark.parametrize("coats", [2, pytest.param(6, marks=pytest.mark.long)])
def test_two_people_do_a_kitchen_with_coves_and_grit_coat_by_coat(
    home: Path, run: Run, machine: Machine, coats: int
) -> None:
    machine.pass_until(MONDAY.replace(hour=6))  # 7:00 in Lisbon
    begun(home, run, kitchen(coats), "Kitchen resin")
    names = [name for name, *_ in (SYSTEM[-coats:] if coats < 6 else SYSTEM)]
    crew = LedCrew(
        run, machine, "Europe/Lisbon", ("--air", "20 °C", "--rh", "50 %", "--slab", "20 °C"), (110.0, 110.0, 110.0),
        {"cooking line": 40.0, "wash-up": 40.0}, frozenset(name for name, _, sand, _ in SYSTEM if sand),
        litres_per_m2={name: film / 950.0 for name, film, *_ in SYSTEM},
    )  # fmt: skip
    crew.tell("ready", "moisture", "70 %")
    crew.tell("reading", *crew.reading)
    if coats == 6:
        plan = run("plan", "--json")
        assert plan.code == 0, plan.err or plan.out[:600]
        assert {batch["coat"] for batch in plan.json["batches"]} == set(names), "a system of six coats is planned"
    crew.tell("spot", "Kitchen resin", "2 L", "--for", "cove mortar", "--on", "cooking line")
    crew.machine.wait(timedelta(minutes=5))
    crew.tell("poured")
    crew.lay_everything()
    record, owner = handed_over_and_called_back(crew, home, "wash-up", "Kitchen resin")
    poured = {(batch["areas"][0]) for batch in run("now", "--json").json["batches"]}
    assert {"cooking line", "wash-up", "cove mortar, cooking line", "repair, wash-up"} <= poured
    for name in names:
        assert name in record, name
    assert "60 g/L" in record, "the dose stands beside its coat"
    assert "was put right" in owner
    (row,) = row_of(owner, "wash-up, repair")
    opens = re.search(r'datetime="([^"]+)"', row)
    assert opens is not None
    assert datetime.fromisoformat(opens[1]) > machine.now(), "nobody walks on a young repair by the old floor's date"
    assert "cove mortar" in owner, "what lies there is told, small mixes too"
    assert row_of(record, "evening")[-1].count(NOT_RECORDED), "the last evening, which nobody went through, is no blank"
    assert "18.0" in row_of(record, "cooking line")[0], "the length of the cove stands with its area"
