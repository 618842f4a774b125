"""What the laptop's power supply says."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

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


@pytest.mark.parametrize("platform", ["win32", "darwin"])
@pytest.mark.parametrize(
    ("told", "wanted"),
    [
        ((41.6, False), Power(True, 42)),
        ((80.0, True), Power(False, 80)),
        ((55.0, None), Power(False, 55)),
        (None, None),
    ],
)
def test_elsewhere_a_library_is_asked_about_the_battery(
    monkeypatch: pytest.MonkeyPatch, platform: str, told: tuple[float, bool | None] | None, wanted: Power | None
) -> None:
    import psutil

    battery = told and SimpleNamespace(percent=told[0], power_plugged=told[1])
    monkeypatch.setattr("sys.platform", platform)
    monkeypatch.setattr(psutil, "sensors_battery", lambda: battery, raising=False)
    assert read_power() == wanted
