"""The pottery studio that many tests start: two bays, one person, one coat with flake."""

from __future__ import annotations

from datetime import UTC, datetime

START = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
JOB = """
name = "Pottery studio floor"
zone = "Europe/Lisbon"
[[areas]]
name = "bay 1"
size = "11.5 m2"
[[areas]]
name = "bay 2"
size = "40 m2"
[[crew]]
name = "mixer"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "300 um"
kit = "9 L"
flake = "0.4 kg/m2"
"""
