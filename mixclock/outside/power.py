"""Tells whether this machine runs on its battery, as far as the system says."""

from __future__ import annotations

import contextlib
import sys
from pathlib import Path

from mixclock.values import dataclass

_SUPPLIES = Path("/sys/class/power_supply")


@dataclass(frozen=True)
class Power:
    """On battery or not, and how full it is."""

    on_battery: bool
    charge_pct: int | None


def read_power(supplies: Path = _SUPPLIES) -> Power | None:
    """What the system says; None where it says nothing, as on a machine without a battery."""
    if sys.platform != "linux":
        return _by_library()
    batteries = [each for each in _supplies(supplies) if _word(each, "type") == "Battery" and _is_for_system(each)]
    if not batteries:
        return None
    mains = [each for each in _supplies(supplies) if _word(each, "type") in ("Mains", "USB")]
    discharging = any(_word(each, "status") == "Discharging" for each in batteries)
    plugged = any(_word(each, "online") == "1" for each in mains)
    return Power(on_battery=discharging and not plugged, charge_pct=_charge(batteries))


def _by_library() -> Power | None:
    """Read it through psutil on Windows and macOS. On Linux psutil confuses several batteries, and a mouse's."""
    import psutil

    battery = psutil.sensors_battery()
    if battery is None:
        return None
    return Power(on_battery=battery.power_plugged is False, charge_pct=round(battery.percent))


def _supplies(folder: Path) -> list[Path]:
    return sorted(folder.iterdir()) if folder.is_dir() else []


def _is_for_system(supply: Path) -> bool:
    """Whether a battery drives the machine: a wireless mouse lists its own, with the scope of a device."""
    return _word(supply, "scope") != "Device"


def _charge(batteries: list[Path]) -> int | None:
    told = [int(word) for each in batteries if (word := _word(each, "capacity")).isdigit()]
    return round(sum(told) / len(told)) if told else None


def _word(supply: Path, name: str) -> str:
    with contextlib.suppress(OSError):
        return (supply / name).read_text(encoding="ascii", errors="replace").strip()
    return ""
