"""Reads a weather forecast in the forms of others: public weather services, a table, a plain list in JSON.

MET Norway's Locationforecast 2.0 is GeoJSON with °C and % in its own list of units (docs.api.met.no, "Data model",
read 2026). The US weather service's hourly forecast mixes °F for the air with °C for the dew point, the unit beside
each (weather.gov, "Services web API", read 2026).
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from mixclock.job.instants import utc_from
from mixclock.job.loggertable import LoggerWish, logger_table
from mixclock.job.mistakes import Mistake, Mistakes, quoted
from mixclock.job.site import Forecast
from mixclock.units import degrees_scale

AIR_C = (-60.0, 60.0)
MOST_POINTS = 2000
LICENCE_MET_NORWAY = "MET Norway, CC BY 4.0"
SOURCE_US = "US National Weather Service"


class ExpectedWeather(NamedTuple):
    """A forecast: its points in the order of time, where it comes from and when it was issued."""

    points: tuple[Forecast, ...]
    source: str
    issued: datetime | None


def read_forecast(text: str, source: str, wish: LoggerWish) -> ExpectedWeather:
    """A forecast from the text of a file, whichever of the known kinds it is. Raises `Mistakes`, all at once.

    >>> told = read_forecast('[{"at": "2026-04-13T08:00:00Z", "air_c": 16, "rh_pct": 62}]', "own", LoggerWish())
    >>> told.points[0].air_c, told.points[0].rh_pct, told.source
    (16.0, 62.0, 'own')
    """
    if text.lstrip("\ufeff \r\n\t").startswith(("{", "[")):
        return read_forecast_json(text, source)
    table = logger_table(text, wish)
    points = [Forecast(row.at, row.temp_c, row.rh_pct, None) for row in table.rows]
    return _checked([*points], source, None)


def read_forecast_json(text: str, source: str) -> ExpectedWeather:
    """A forecast in JSON: a service's answer, or a plain list with `at`, `air_c`, `rh_pct`, `slab_c`."""
    try:
        told = json.loads(text.lstrip("\ufeff"))
    except ValueError as error:
        raise Mistakes(
            [Mistake("", f"is no JSON ({error})", "give a service's answer, a list, or a CSV table")]
        ) from None
    try:
        properties = told.get("properties", {}) if isinstance(told, dict) else {}
        if "timeseries" in properties:
            return _met_norway(properties)
        if "periods" in properties:
            return _us_hourly(properties)
        rows = told.get("forecast") if isinstance(told, dict) else told
        if isinstance(rows, list):
            return _checked([_plain_point(row) for row in rows], source, None)
    except Mistakes:
        raise
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise Mistakes([Mistake("", f"is no forecast that is known here ({type(error).__name__}: {error})",
                                "take the service's answer as it is")]) from None  # fmt: skip
    raise Mistakes([Mistake("", "holds no forecast", 'give a list of {"at", "air_c", "rh_pct"}')])


def _met_norway(properties: Mapping[str, Any]) -> ExpectedWeather:
    meta: Mapping[str, Any] = properties.get("meta", {})
    units: Mapping[str, Any] = meta.get("units", {})
    temp_unit, damp_unit = units.get("air_temperature", "celsius"), units.get("relative_humidity", "%")
    if (temp_unit, damp_unit) != ("celsius", "%"):
        raise ValueError(f"units {temp_unit} and {damp_unit} are unknown here")
    points = []
    for step in properties["timeseries"]:
        details = step["data"]["instant"]["details"]
        points.append(Forecast(utc_from(step["time"]), _number(details.get("air_temperature")),
                               _number(details.get("relative_humidity")), None))  # fmt: skip
    issued = meta.get("updated_at")
    return _checked(points, LICENCE_MET_NORWAY, utc_from(issued) if issued else None)


def _us_hourly(properties: Mapping[str, Any]) -> ExpectedWeather:
    points = [
        Forecast(utc_from(period["startTime"]), _us_temp_c(period), _us_humidity(period), None)
        for period in properties["periods"]
    ]
    issued = properties.get("updateTime") or properties.get("updated")
    return _checked(points, SOURCE_US, utc_from(issued) if issued else None)


def _us_temp_c(period: Mapping[str, Any]) -> float | None:
    """Its temperature, plain with its letter beside it or with a unit of the WMO."""
    told: Any = period.get("temperature")
    letter = str(period.get("temperatureUnit", ""))
    if isinstance(told, Mapping):
        letter = str(told.get("unitCode", "")).removeprefix("wmoUnit:deg")
        told = told.get("value")
    value = _number(told)
    if value is None:
        return None
    if letter not in ("C", "F"):
        raise ValueError(f"a temperature in '{letter}'")
    return round(degrees_scale(letter).back(value), 2)


def _us_humidity(period: Mapping[str, Any]) -> float | None:
    told = period.get("relativeHumidity")
    if not isinstance(told, Mapping):
        return _number(told)
    if told.get("unitCode") not in ("wmoUnit:percent", "unit:percent"):
        raise ValueError(f"a humidity in {quoted(told.get('unitCode'))}")
    return _number(told.get("value"))


def _plain_point(row: Mapping[str, Any]) -> Forecast:
    unknown = row.keys() - {"at", "air_c", "rh_pct", "slab_c"}
    if unknown:
        raise ValueError(f"'{sorted(unknown)[0]}' is unknown; known are at, air_c, rh_pct, slab_c")
    return Forecast(utc_from(row["at"]), *(_number(row.get(key)) for key in ("air_c", "rh_pct", "slab_c")))


def _number(value: Any) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError(f"{quoted(value)} is no number")
    return float(value)


def _checked(points: Sequence[Forecast], source: str, issued: datetime | None) -> ExpectedWeather:
    """The points in the order of time, one for each instant. It refuses an empty forecast and impossible values."""
    mistakes = []
    for point in points:
        if point.air_c is not None and not AIR_C[0] <= point.air_c <= AIR_C[1]:
            mistakes.append(Mistake(point.at.isoformat(), f"air of {point.air_c:g} °C", "mend it, or its unit"))
        if point.rh_pct is not None and not 0.0 <= point.rh_pct <= 100.0:
            mistakes.append(Mistake(point.at.isoformat(), f"humidity of {point.rh_pct:g} %", "mend it"))
    if not points:
        mistakes.append(Mistake("", "holds no hour of weather", "give at least one"))
    if len(points) > MOST_POINTS:
        mistakes.append(Mistake("", f"holds {len(points)} hours", f"at most {MOST_POINTS} are taken"))
    if mistakes:
        raise Mistakes(mistakes[:20])
    once = {point.at: point for point in points}
    return ExpectedWeather(tuple(once[at] for at in sorted(once)), source, issued)
