"""What the laptop's power supply says."""

from __future__ import annotations

from pathlib import Path

import pytest

from mixclock.outside.power import Power, read_power


def _supply(folder: Path, name: str, **told: str) -> None:
    (folder / name).mkdir(parents=True)
    for each, words in told.items():
        (folder / name / each).write_text(words + "\n", encoding="ascii")


@pytest.mark.parametrize(
    ("status", "online", "on_battery"),
    [("Discharging", "0", True), ("Charging", "1", False), ("Full", "1", False), ("Not charging", "1", False),
     ("Discharging", "1", False)],
)  # fmt: skip
def test_a_laptop_off_the_mains_runs_on_its_battery(tmp_path: Path, status: str, online: str, on_battery: bool) -> None:
    _supply(tmp_path, "BAT0", type="Battery", status=status, capacity="42")
    _supply(tmp_path, "AC", type="Mains", online=online)
    assert read_power(tmp_path) == Power(on_battery, 42)


def test_a_machine_without_a_battery_says_nothing(tmp_path: Path) -> None:
    _supply(tmp_path, "AC", type="Mains", online="1")
    assert read_power(tmp_path) is None
    assert read_power(tmp_path / "nowhere") is None


def test_the_battery_of_a_mouse_is_not_the_laptops(tmp_path: Path) -> None:
    _supply(tmp_path, "hidpp_battery_0", type="Battery", status="Discharging", capacity="7", scope="Device")
    assert read_power(tmp_path) is None
