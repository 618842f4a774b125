"""The made-up job that is rehearsed where no other is named: the floor of a pottery studio."""

LATE_BAY = "bay 3"
"""The bay whose bucket stands too long while somebody is called to the door, and is poured all the same."""

DUMPED_BAY = "bay 2"
"""The bay whose bucket stands too long and is dumped, as the calls say."""

JOB = """
name = "Pottery studio floor"
zone = "Europe/Lisbon"
[[areas]]
name = "bay 1"
size = "16 m2"
edge = "11 m"
order = 1
next_to = ["bay 2"]
[[areas]]
name = "bay 2"
size = "16 m2"
edge = "6 m"
order = 2
next_to = ["bay 3"]
[[areas]]
name = "bay 3"
size = "16 m2"
edge = "11 m"
order = 3
[[crew]]
name = "mixer"
does = ["mix", "pour", "squeegee"]
squeegee = "150 m2/h"
[[crew]]
name = "roller"
does = ["cut in", "roll", "broadcast"]
cut_in = "45 m/h"
roll = "130 m2/h"
broadcast = "120 m2/h"
[[vessels]]
name = "pail"
volume = "12 L"
across = "25 cm"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "400 um"
flake = "0.4 kg/m2"
kit = "7 L"
[[coats]]
name = "grout coat"
product = "Slow epoxy base"
wet_film = "200 um"
kit = "3.5 L"
after = "base"
wet_edge = false
[hours]
days = ["2026-04-13", "2026-04-14"]
start = "07:30"
end = "17:30"
[[forecast]]
at = "2026-04-13 07:00"
air = "18 °C"
humidity = "58 %"
slab = "17 °C"
[[forecast]]
at = "2026-04-13 12:00"
air = "20 °C"
humidity = "54 %"
slab = "18 °C"
[[forecast]]
at = "2026-04-13 22:00"
air = "17 °C"
humidity = "60 %"
slab = "17 °C"
[[forecast]]
at = "2026-04-14 07:00"
air = "17 °C"
humidity = "60 %"
slab = "16.5 °C"
[[forecast]]
at = "2026-04-14 12:00"
air = "19 °C"
humidity = "55 %"
slab = "17.5 °C"
"""
