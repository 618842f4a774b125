"""Reads one message of a sensor or a home hub, as JSON: numbers whose names hold their units.

It holds back and shows what cannot be true, by the same rules as for the rows of a logger's export.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from mixclock.job.loggertable import AIR_C, LoggerRow, believable
from mixclock.job.mistakes import Mistake, Mistakes, did_you_mean, quoted
from mixclock.units import degrees_scale
from mixclock.values import dataclass

TEMPERATURES = {"air_c": ("air", "C"), "air_f": ("air", "F"), "slab_c": ("slab", "C"), "slab_f": ("slab", "F")}
KEYS = ("sensor", *TEMPERATURES, "rh_pct", "area", "at")
EXAMPLE = '{"sensor": "shed", "air_c": 18.4, "rh_pct": 61}'


@dataclass(frozen=True)
class SensorReading:
    """What a sensor said; `at` is None if it means now."""

    sensor: str
    air_c: float | None = None
    slab_c: float | None = None
    rh_pct: float | None = None
    area: str | None = None
    at: datetime | None = None


def read_sensor(told: Mapping[str, Any]) -> SensorReading:
    """The reading in a JSON object. Raises `Mistakes` with everything that is wrong with it.

    >>> read_sensor({"sensor": "shed", "air_f": 68, "rh_pct": "55"})
    SensorReading(sensor='shed', air_c=20.0, slab_c=None, rh_pct=55.0, area=None, at=None)
    """
    mistakes = [Mistake(key, "is not known here", did_you_mean(key, KEYS)) for key in told if key not in KEYS]
    texts = {key: _text(told, key, mistakes) for key in ("sensor", "area", "at")}
    values = {key: _number(told.get(key), key, mistakes) for key in (*TEMPERATURES, "rh_pct")}
    degrees = {"air": _degrees(values, "air", mistakes), "slab": _degrees(values, "slab", mistakes)}
    if not texts["sensor"] and not any(mistake.where == "sensor" for mistake in mistakes):
        mistakes.append(Mistake("sensor", "is missing", f"name the sensor, as in {EXAMPLE}"))
    if not mistakes and all(value is None for value in values.values()):
        mistakes.append(Mistake("", "nothing was read", f"expected something like {EXAMPLE}"))
    at = _instant(texts["at"], mistakes)
    if mistakes:
        raise Mistakes(mistakes)
    return SensorReading(texts["sensor"] or "", degrees["air"], degrees["slab"], values["rh_pct"], texts["area"], at)


def doubt(reading: SensorReading, at: datetime, before: Sequence[tuple[datetime, SensorReading]]) -> str | None:
    """Why a reading contradicts what the same sensor said before; None if it is believable.

    `before` holds its readings of the last day, the oldest first.
    """
    if reading.rh_pct is not None and not 0.0 <= reading.rh_pct <= 100.0:
        return f"humidity of {reading.rh_pct:g} %"
    for name in ("air_c", "slab_c"):
        value = getattr(reading, name)
        if value is None:
            continue
        if not AIR_C[0] <= value <= AIR_C[1]:
            return f"{value:g} °C cannot be"
        rows = [LoggerRow(place, when, getattr(one, name), None) for place, (when, one) in enumerate(before)]
        _, held = believable([*rows, LoggerRow(len(rows), at, value, None)])
        why = next((each.why for each in held if each.line == len(rows)), None)
        if why is not None:
            return why
    return None


def _text(told: Mapping[str, Any], key: str, mistakes: list[Mistake]) -> str | None:
    value = told.get(key)
    if value is None or (isinstance(value, str) and value.strip()):
        return value.strip()[:200] if value else None
    mistakes.append(Mistake(key, f"{quoted(value)} is no text", f"expected something like {EXAMPLE}"))
    return None


def _number(value: Any, key: str, mistakes: list[Mistake]) -> float | None:
    """A number, also as text, which many hubs send. Their words for a dead sensor give None."""
    if value is None or (isinstance(value, str) and value.strip().casefold() in ("", "unknown", "unavailable", "none")):
        return None
    try:
        number = math.nan if isinstance(value, bool) else float(value)
    except (TypeError, ValueError, OverflowError):
        number = math.nan
    if math.isfinite(number):
        return number
    mistakes.append(Mistake(key, f"{quoted(value)} is no number", f"expected something like {EXAMPLE}"))
    return None


def _degrees(values: Mapping[str, float | None], what: str, mistakes: list[Mistake]) -> float | None:
    told = [key for key, (of, _) in TEMPERATURES.items() if of == what and values[key] is not None]
    if len(told) > 1:
        mistakes.append(Mistake(told[1], f"stands beside {told[0]}", "say the temperature once"))
    if not told:
        return None
    return round(degrees_scale(TEMPERATURES[told[0]][1]).back(values[told[0]] or 0.0), 3)


def _instant(said: str | None, mistakes: list[Mistake]) -> datetime | None:
    if said is None:
        return None
    try:
        at = datetime.fromisoformat(said)
    except ValueError:
        at = None
    if at is None or at.tzinfo is None:
        mend = "expected a time with its offset, such as 2026-04-13T08:00:00+01:00, or none for now"
        mistakes.append(Mistake("at", f"{quoted(said)} is no instant", mend))
        return None
    return at
