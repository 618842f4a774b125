"""The words on the board's lines: how far a batch has come, amounts, areas."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mixclock.units import METRIC_CREW, CrewUnits

STAGES: Mapping[str, str] = MappingProxyType(
    {
        "mixed": "in the bucket",
        "standing": "standing",
        "poured": "on the floor",
        "rolled": "rolled",
        "flaked": "flaked",
        "done": "done",
    }
)


def amount_words(volume_l: float | None, mass_kg: float | None, units: CrewUnits = METRIC_CREW) -> str:
    """An amount as this crew says it.

    >>> amount_words(9.0, None), amount_words(None, 4.25), amount_words(None, None)
    ('9 L', '4.2 kg', '')
    """
    if volume_l is not None:
        return units.write_volume(volume_l)
    return units.write_mass(mass_kg) if mass_kg is not None else ""


def areas_words(areas: tuple[str, ...] | list[str]) -> str:
    """Areas in a row.

    >>> areas_words(["bay 1", "bay 2", "hall"])
    'bay 1, bay 2 and hall'
    """
    if len(areas) <= 1:
        return areas[0] if areas else ""
    return ", ".join(areas[:-1]) + " and " + areas[-1]
