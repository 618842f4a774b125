"""A value as a person reads it, by the name that it has inside: the unit at the end of the name becomes the crew's."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, time
from functools import cache
from types import MappingProxyType

from mixclock.units import CrewUnits, write_time_of_day

_LABELS: Mapping[str, str] = MappingProxyType({"rh_pct": "humidity", "flake_price_kg": "price of flake"})

_WRITERS: Mapping[str, Callable[[CrewUnits, float], str]] = MappingProxyType(
    {
        "_c": CrewUnits.write_temp,
        "_pct": lambda _, value: f"{value:.0f} %",
        "_l": lambda units, value: units.write_volume(value, measured=True),
        "_kg": lambda units, value: units.write_mass(value, measured=True),
        "_m": CrewUnits.write_length,
        "_m2": CrewUnits.write_area,
        "_um": CrewUnits.write_film,
        "_s": CrewUnits.write_span,
        "_m2_h": CrewUnits.write_rate,
        "_m_h": CrewUnits.write_edge_rate,
        "_m2_l": CrewUnits.write_spread,
        "_kg_m2": CrewUnits.write_mass_per_area,
    }
)


@cache
def field_label(name: str) -> str:
    """What a field is called.

    >>> field_label("covered_m2"), field_label("roll_m2_h"), field_label("rh_pct"), field_label("next_to")
    ('covered', 'roll', 'humidity', 'next to')
    """
    ending = _ending(name) or ""
    return _LABELS.get(name) or name.removesuffix(ending).replace("_", " ")


def field_value(name: str, value: object, units: CrewUnits) -> str:
    """What a field holds.

    >>> from mixclock.units import US_CREW
    >>> [field_value(name, value, US_CREW) for name, value in (("size_m2", 5.574), ("order", 3), ("sealed", None))]
    ['60 ft²', '3', 'not stated']
    """
    ending = _ending(name)
    if isinstance(value, float):
        return _WRITERS[ending](units, value) if ending and name not in _LABELS_OF_PRICES else f"{value:g}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(field_value(name, part, units) for part in value) or "none"
    if isinstance(value, time):
        return write_time_of_day(value)
    return f"{value.day} {value:%b}" if isinstance(value, date) else "not stated" if value is None else str(value)


_LABELS_OF_PRICES = ("flake_price_kg",)


@cache
def _ending(name: str) -> str | None:
    """The unit at the end of a name.

    >>> _ending("squeegee_m2_h"), _ending("covered_m2"), _ending("step")
    ('_m2_h', '_m2', None)
    """
    return max((ending for ending in _WRITERS if name.endswith(ending)), key=len, default=None)
