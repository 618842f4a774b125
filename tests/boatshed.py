"""The boat shed of the tests: two products (invented figures), bays and crews. One shed, told as it is asked for.

`shed_base(...)` and `shed_top(...)` give the text of a profile, `shed_job(...)` that of a job file,
`one_coat(...)` that of the smallest, `areas_of(...)` the same with areas of its own.
"""

from __future__ import annotations

from collections.abc import Sequence

DAYS = ("2026-04-13", "2026-04-14", "2026-04-15")

_BASE = """
name = "Shed base"
family = "epoxy"
source = "invented"
[mix]
ratio_by_volume = [2, 1]
density = ["1.13 kg/L", "0.98 kg/L"]
time = "3 min"
[pot-life]
mass = "1.0 kg"
end = "gel"
at = { "10 °C" = "70 min", "20 °C" = "40 min", "30 °C" = "20 min" }
[film]
volume_solids = "100 %"
wet = ["200 um", "400 um"]
"""
_LIMITS = """[limits]
slab = ["10 °C", "30 °C"]
humidity_max = "85 %"
dew_margin_min = "3 °C"
"""
_WET = """[windows.back-roll]
after = "poured"
closes = { "20 °C" = "22 min", "30 °C" = "13 min" }
[windows.wet-edge]
after = "poured"
closes = { "20 °C" = "28 min", "30 °C" = "16 min" }
[windows.broadcast]
after = "poured"
closes = { "20 °C" = "40 min", "30 °C" = "22 min" }
"""
_SCRAPE = """[windows.scrape]
after = "poured"
opens = { "20 °C" = "11 h", "30 °C" = "7 h" }
"""
_TACK_FREE = """[windows.tack-free]
after = "poured"
opens = { "20 °C" = "6 h", "30 °C" = "4 h" }
"""
_DRY = """[windows.recoat]
after = "poured"
opens = { "10 °C" = "24 h", "20 °C" = "12 h", "30 °C" = "8 h" }
closes = { "10 °C" = "72 h", "20 °C" = "48 h", "30 °C" = "24 h" }
[windows.foot-traffic]
after = "poured"
opens = { "20 °C" = "24 h" }
"""

_TOP = """
name = "Shed top"
family = "polyaspartic"
source = "invented"
[mix]
ratio_by_volume = [1, 1]
density = ["1.06 kg/L", "1.11 kg/L"]
time = "1 min"
[pot-life]
mass = "1.0 kg"
end = "workable"
at = {{ "20 °C" = "30 min", "30 °C" = "18 min" }}
[windows.back-roll]
after = "poured"
closes = {back_roll}
[windows.foot-traffic]
after = "poured"
opens = {{ "20 °C" = "6 h" }}
"""

ALONE = '[[crew]]\nname = "applicator"\n'
PAIR = (
    '[[crew]]\nname = "mixer"\ndoes = ["mix", "pour", "squeegee"]\n'
    '[[crew]]\nname = "roller"\ndoes = ["roll", "broadcast"]\n'
)
PAIR_WITH_RATES = (
    '[[crew]]\nname = "mixer"\ndoes = ["mix", "pour", "squeegee"]\nsqueegee = "110 m2/h"\n'
    '[[crew]]\nname = "roller"\ndoes = ["cut in", "roll", "broadcast"]\nroll = "75 m2/h"\nbroadcast = "60 m2/h"\n'
)
PAIL = '[[vessels]]\nname = "pail"\nvolume = "20 L"\nacross = "28 cm"\n'

_COATS = """[[coats]]
name = "base"
product = "Shed base"
wet_film = "300 um"
flake = "0.4 kg/m2"
[[coats]]
name = "top"
product = "Shed top"
wet_film = "125 um"
after = "base"
"""


def shed_base(*, limits: bool = False, scrape: bool = False, tack_free: bool = False) -> str:
    """A slow epoxy for flake, with as much of its sheet as is asked for."""
    parts = (_BASE, _LIMITS * limits, _WET, _SCRAPE * scrape, _TACK_FREE * tack_free, _DRY)
    return "".join(parts)


def shed_top(*, damp: bool = False) -> str:
    """A polyaspartic; where it is `damp` its sheet tells the back-roll by humidity."""
    by_humidity = '{ "20 °C, 50 %" = "20 min", "20 °C, 80 %" = "14 min" }'
    by_warmth = '{ "20 °C" = "20 min", "30 °C" = "12 min" }'
    return _TOP.format(back_roll=by_humidity if damp else by_warmth)


def one_coat(
    area: str = "bay 1", size: str = "5 m2", *, name: str = "Boat shed", zone: str = "UTC", vessel: str = ""
) -> str:
    """The smallest job that a crew could start: one area and one coat of the base that is shipped."""
    return areas_of(f'name = "{area}"\nsize = "{size}"', name=name, zone=zone, vessel=vessel)


def areas_of(
    *areas: str,
    name: str = "Boat shed",
    zone: str = "UTC",
    head: str = "",
    vessel: str = "",
    product: str = "Slow epoxy base",
    of_coat: str = "",
) -> str:
    """The same with these areas, each as its lines stand in a job file.

    `head` holds further lines of the job, `of_coat` those of the coat.
    """
    every = "".join(f"[[areas]]\n{lines}\n" for lines in areas)
    coat = f'[[coats]]\nname = "base"\nproduct = "{product}"\nwet_film = "300 um"\n{of_coat}'
    return f'\nname = "{name}"\nzone = "{zone}"\n{head}{every}{vessel}{coat}'


def shed_job(
    *,
    bays: int = 5,
    size: str = "11.5 m2",
    joined: bool = False,
    crew: str = PAIR,
    vessel: str = "",
    name: str = "Boat shed",
    days: Sequence[str] = DAYS,
) -> str:
    """Bays in a row, a base with flake and a top on it, the crew and the working hours of three April days."""
    areas = "".join(_area(number, size, joined and number < bays) for number in range(1, bays + 1))
    listed = ", ".join(f'"{day}"' for day in days)
    hours = f'[hours]\ndays = [{listed}]\nstart = "07:30"\nend = "17:30"\n'
    return f'name = "{name}"\nzone = "Europe/Lisbon"\n{areas}{crew}{vessel}{_COATS}{hours}'


def _area(number: int, size: str, joined: bool) -> str:
    next_to = f'next_to = ["bay {number + 1}"]\n' if joined else ""
    return f'[[areas]]\nname = "bay {number}"\nsize = "{size}"\norder = {number}\n{next_to}'
