"""A small pottery studio for the tests of the commands; its products are those that come with mixclock."""

from __future__ import annotations

STUDIO = """
name = "Pottery studio floor"
zone = "Europe/Lisbon"
[[areas]]
name = "bay 1"
size = "11.5 m2"
order = 1
next_to = ["bay 2"]
[[areas]]
name = "bay 2"
size = "12 m2"
order = 2
[[crew]]
name = "mixer"
does = ["mix", "pour", "squeegee"]
[[crew]]
name = "roller"
does = ["roll", "broadcast"]
[[vessels]]
name = "pail"
volume = "20 L"
across = "28 cm"
[[coats]]
name = "primer"
product = "Waterborne epoxy primer"
wet_film = "150 um"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "300 um"
flake = "0.4 kg/m2"
after = "primer"
[[coats]]
name = "grout"
product = "Slow epoxy base"
wet_film = "200 um"
after = "base"
[[coats]]
name = "top"
product = "Polyaspartic top coat"
wet_film = "125 um"
after = "grout"
"""

CORNER = """
name = "Pottery corner"
zone = "Europe/Lisbon"
currency = "EUR"
[[areas]]
name = "bay 1"
size = "4 m2"
edge = "4 m"
order = 1
next_to = ["bay 2"]
[[areas]]
name = "bay 2"
size = "5 m2"
edge = "4 m"
order = 2
[[crew]]
name = "mixer"
[[crew]]
name = "roller"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "300 um"
flake = "0.4 kg/m2"
kit = "9 L"
price = "95"
split = true
"""
"""Two bays and one coat: planned in a moment."""
