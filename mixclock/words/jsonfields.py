"""The fields of a value as JSON under their own names: times in UTC, numbers without their noise, tuples as lists."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from mixclock.job.instants import json_text


def fields_json(value: Any, *leave: str, places: int = 3) -> dict[str, Any]:
    """All fields of a value class but some.

    >>> from mixclock.decide.plan.floor.plans import Obstacle
    >>> fields_json(Obstacle("recoat", "too early"), "coat", "area")
    {'constraint': 'recoat', 'said': 'too early'}
    """
    return {name: plain_json(getattr(value, name), places) for name in _names(value) if name not in leave}


def plain_json(value: Any, places: int = 3) -> Any:
    """One value, and whatever it holds.

    >>> plain_json((1 / 3, "bay 1", None))
    [0.333, 'bay 1', None]
    """
    if isinstance(value, datetime):
        return json_text(value)
    if isinstance(value, float):
        return round(value, places)
    if isinstance(value, tuple):
        return [plain_json(each, places) for each in value]
    return fields_json(value, places=places) if _names(value) else value


def _names(value: Any) -> tuple[str, ...]:
    """The fields of a value class; those of a record stand under a name of their own."""
    names: tuple[str, ...] = getattr(value, "__match_args__", ()) or getattr(type(value), "fields", ())
    return names
