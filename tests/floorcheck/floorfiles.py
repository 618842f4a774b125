"""Random floors as the files that a crew would write: one job file and its sheets, by a seed. Figures are invented."""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import date, timedelta

FIRST_DAY = date(2024, 4, 15)
DAYS = [FIRST_DAY + timedelta(days=each) for each in range(4)]

SHEET = """
name = "{name}"
family = "epoxy"
source = "invented for a test"
[mix]
ratio_by_volume = [2, 1]
density = ["1.12 kg/L", "0.98 kg/L"]
time = "3 min"
[pot-life]
mass = "{mass} kg"
end = "gel"
at = {{ "10 °C" = "{p1} min", "20 °C" = "{p2} min", "30 °C" = "{p3} min" }}
[limits]
slab = ["8 °C", "32 °C"]
humidity_max = "85 %"
dew_margin_min = "3 °C"
[windows.back-roll]
after = "poured"
closes = {{ "10 °C" = "{r1} min", "20 °C" = "{r2} min", "30 °C" = "{r3} min" }}
[windows.wet-edge]
after = "poured"
closes = {{ "10 °C" = "{w1} min", "20 °C" = "{w2} min", "30 °C" = "{w3} min" }}
[windows.broadcast]
after = "poured"
closes = {{ "10 °C" = "{b1} min", "20 °C" = "{b2} min", "30 °C" = "{b3} min" }}
[windows.recoat]
after = "poured"
opens = {{ "10 °C" = "{o1} h", "20 °C" = "{o2} h", "30 °C" = "{o3} h" }}
closes = {{ "10 °C" = "{c1} h", "20 °C" = "{c2} h", "30 °C" = "{c3} h" }}
"""


@dataclass(frozen=True)
class FloorFiles:
    """What stands on disk before anybody plans."""

    job: str
    sheets: tuple[str, ...]
    begin: str


def _sheet(name: str, dice: random.Random, people: int) -> str:
    slow = {1: 1.7, 2: 1.15}.get(people, 1.0)
    roll = dice.uniform(38, 60) * slow
    wet, thrown = roll * dice.uniform(1.15, 1.35), roll * dice.uniform(1.5, 1.8)
    figures: dict[str, float] = {"mass": dice.choice((0.15, 0.5, 1.0))}
    rows = {"p": dice.uniform(38, 60), "r": roll, "w": wet, "b": thrown, "o": dice.uniform(9, 13)}
    rows["c"] = rows["o"] * dice.uniform(2.6, 4.5)
    factors = {"p": (1.9, 1.0, 0.55), "o": (1.9, 1.0, 0.6), "c": (1.7, 1.0, 0.55)}
    for key, middle in rows.items():
        for place, factor in enumerate(factors.get(key, (1.6, 1.0, 0.62)), start=1):
            figures[f"{key}{place}"] = round(middle * factor)
    figures["mass"] = float(figures["mass"])
    return SHEET.format(name=name, **figures)


def _areas(dice: random.Random) -> list[str]:
    kind = dice.choice(("even", "uneven", "uneven", "one large", "no neighbours"))
    count = 1 if kind == "one large" else dice.randint(2, 8)
    sizes = [dice.uniform(9, 12)] * count if kind == "even" else [dice.uniform(4, 16) for _ in range(count)]
    if kind == "one large":
        sizes = [dice.uniform(25, 70)]
    lines = []
    for number, size in enumerate(sizes, start=1):
        lines += [
            "[[areas]]",
            f'name = "bay {number}"',
            f'size = "{size:.1f} m2"',
            f'edge = "{dice.uniform(2, 7):.1f} m"',
        ]
        lines.append(f"order = {number}")
        if kind != "no neighbours" and number < count:
            lines.append(f'next_to = ["bay {number + 1}"]')
    return lines


def _crew(dice: random.Random, people: int, lends: bool) -> list[str]:
    tasks = {1: [()], 2: [(), ()], 3: [(), (), ()]}[people]
    if people > 1 and dice.random() < 0.4:
        tasks = [("mix", "pour", "squeegee", "clean"), *[("cut-in", "roll", "broadcast", "scrape")] * (people - 1)]
    lines = []
    for number, does in enumerate(tasks, start=1):
        rates = {"squeegee": (90, 140), "roll": (60, 95), "broadcast": (50, 75), "cut_in": (30, 45)}
        lines += ["[[crew]]", f'name = "hand {number}"']
        if does:
            lines.append(f"does = [{', '.join(repr(each).replace(chr(39), chr(34)) for each in does)}]")
            lines += ['helps = ["roll"]'] if lends and number == 1 else []
        lines += [
            f'{key} = "{dice.randint(*span)} {"m/h" if key == "cut_in" else "m2/h"}"' for key, span in rates.items()
        ]
    return lines


def _coat(dice: random.Random, name: str, product: str, film_um: int, kit_l: float, flake: bool) -> list[str]:
    lines = ["[[coats]]", f'name = "{name}"', f'product = "{product}"', f'wet_film = "{film_um} um"']
    lines += [f'waste = "{dice.choice((3, 5, 8))} %"', f'kit = "{kit_l:g} L"']
    lines.append(f"split = {'true' if dice.random() < 0.6 else 'false'}")
    return [*lines, 'flake = "0.4 kg/m2"'] if flake else lines


def _forecast(dice: random.Random) -> list[str]:
    lines = []
    cold, damp = dice.uniform(11, 18), dice.uniform(50, 68)
    for day in DAYS:
        for hour, share in ((0, 0.1), (6, 0.0), (9, 0.4), (13, 0.9), (16, 1.0), (20, 0.5)):
            air, slab = cold + 8 * share, cold + 1 + 4 * share
            lines += ["[[forecast]]", f'at = "{day} {hour:02d}:00"', f'air = "{air:.1f} °C"']
            lines += [f'humidity = "{damp - 12 * share:.0f} %"', f'slab = "{slab:.1f} °C"']
    return lines


def random_floor(seed: int) -> FloorFiles:
    """A floor of one to eight bays for one to three people; one coat or two, kits whole or split, with saw cuts."""
    dice = random.Random(f"floor {seed}")
    people = 1 + seed % 3
    areas = _areas(dice)
    bays = sum(line == "[[areas]]" for line in areas)
    cuts = [(n, n + 1) for n in range(1, bays) if dice.random() < 0.25]
    head = ['name = "Boat shed"', 'zone = "Europe/Lisbon"', f"saw_cuts = {[[f'bay {a}', f'bay {b}'] for a, b in cuts]}"]
    head = [line.replace("'", '"') for line in head]
    pails = dice.randint(1, 3)
    vessels = [line for n in range(pails) for line in ("[[vessels]]", f'name = "pail {n + 1}"', 'volume = "14 L"')]
    coats = _coat(
        dice, "base", "Test base", dice.choice((250, 300, 350)), dice.choice((4.5, 6.0, 9.0)), dice.random() < 0.6
    )
    if dice.random() < 0.5:
        coats += _coat(dice, "top", "Test top", dice.choice((120, 150)), dice.choice((3.0, 4.5)), False)
    days = ", ".join(f'"{day}"' for day in DAYS)
    hours = [
        "[hours]",
        f"days = [{days}]",
        f'start = "{dice.choice(("06:30", "07:30"))}"',
        f'end = "{dice.choice(("17:30", "18:30"))}"',
    ]
    lends = random.Random(f"who helps on floor {seed}").random() < 0.5
    text = "\n".join([*head, *areas, *_crew(dice, people, lends), *vessels, *coats, *hours, *_forecast(dice)])
    return FloorFiles(text, (_sheet("Test base", dice, people), _sheet("Test top", dice, people)), f"{FIRST_DAY} 06:30")


def random_strip_floor(seed: int) -> FloorFiles:
    """A floor with a thin coat that lives long in the pail and shortly on the floor, as waterborne coats and
    polyaspartics do."""
    dice = random.Random(f"strips {seed}")
    people, bays = 1 + seed % 2, dice.randint(1, 3)
    sizes = [dice.uniform(7, 13) for _ in range(bays)]
    areas = [
        f'[[areas]]\nname = "bay {n}"\nsize = "{size:.1f} m2"\nedge = "{dice.uniform(2, 6):.1f} m"\norder = {n}'
        + (f'\nnext_to = ["bay {n + 1}"]' if n < bays else "")
        for n, size in enumerate(sizes, start=1)
    ]
    coat = _coat(dice, "base", "Test base", dice.choice((120, 150)), 4.5, False)
    minutes = {"p": dice.uniform(70, 110), "r": dice.uniform(13, 18), "o": 10.0, "c": 40.0}
    minutes |= {"w": minutes["r"] * 1.15, "b": minutes["r"] * 1.3}
    rows = {f"{key}{place}": round(span * factor) for key, span in minutes.items()
            for place, factor in enumerate((1.5, 1.0, 0.6), start=1)}  # fmt: skip
    head = ['name = "Boat shed"', 'zone = "Europe/Lisbon"']
    hours = ["[hours]", f'days = ["{FIRST_DAY}"]', 'start = "07:00"', 'end = "18:00"']
    text = "\n".join([*head, *areas, *_crew(dice, people, lends=False), *coat, *hours, *_forecast(dice)])
    sheet = SHEET.format(name="Test base", mass=1.0, **rows)
    return FloorFiles(text, (sheet,), f"{FIRST_DAY} 06:30")
