"""A boat shed with five bays, its products (invented figures) and its crews."""

BASE = """
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
[windows.back-roll]
after = "poured"
closes = { "20 °C" = "22 min", "30 °C" = "13 min" }
[windows.wet-edge]
after = "poured"
closes = { "20 °C" = "28 min", "30 °C" = "16 min" }
[windows.broadcast]
after = "poured"
closes = { "20 °C" = "40 min", "30 °C" = "22 min" }
[windows.scrape]
after = "poured"
opens = { "20 °C" = "11 h", "30 °C" = "7 h" }
[windows.recoat]
after = "poured"
opens = { "10 °C" = "24 h", "20 °C" = "12 h", "30 °C" = "8 h" }
closes = { "10 °C" = "72 h", "20 °C" = "48 h", "30 °C" = "24 h" }
[windows.foot-traffic]
after = "poured"
opens = { "20 °C" = "24 h" }
"""

TOP = """
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
at = { "20 °C" = "30 min", "30 °C" = "18 min" }
[windows.back-roll]
after = "poured"
closes = { "20 °C" = "20 min", "30 °C" = "12 min" }
[windows.foot-traffic]
after = "poured"
opens = { "20 °C" = "6 h" }
"""


def site(crew: int = 2, bays: int = 5, size: str = "11.5 m2", name: str = "Boat shed") -> str:
    """The job file: so many bays in a row, a crew of one or two."""
    areas = "".join(f'[[areas]]\nname = "bay {n}"\nsize = "{size}"\norder = {n}\n' for n in range(1, bays + 1))
    people = {
        1: '[[crew]]\nname = "applicator"\n',
        2: '[[crew]]\nname = "mixer"\ndoes = ["mix", "pour", "squeegee"]\n'
        '[[crew]]\nname = "roller"\ndoes = ["roll", "broadcast"]\n',
    }[crew]
    return (
        f'name = "{name}"\nzone = "Europe/Lisbon"\n{areas}{people}'
        '[[coats]]\nname = "base"\nproduct = "Shed base"\nwet_film = "300 um"\nflake = "0.4 kg/m2"\n'
        '[[coats]]\nname = "top"\nproduct = "Shed top"\nwet_film = "125 um"\nafter = "base"\n'
        '[hours]\ndays = ["2026-04-13", "2026-04-14", "2026-04-15"]\nstart = "07:30"\nend = "17:30"\n'
    )
