"""Job files and product sheets as the judge reads them: TOML, plain metric units, and laws of its own.

Nothing of mixclock is imported. Sources: Arrhenius' law between the points of a sheet (ASTM C1074 uses the same for
concrete); dew point by the Magnus formula with the constants of WMO-No. 8 (2018), annex 4.B.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}
STEP = timedelta(minutes=1)
FAR = timedelta(days=12)


def figure(text: Any) -> float:
    """The number at the head of "11.5 m2"."""
    found = re.match(r"\s*(-?\d+(?:\.\d+)?)", str(text))
    assert found, text
    return float(found.group(1))


def span_s(text: str) -> float:
    """ "1 h 30 min" in seconds."""
    return sum(float(number) * SECONDS[unit] for number, unit in re.findall(r"(\d+(?:\.\d+)?)\s*([a-z]+)", text))


@dataclass(frozen=True)
class Tau:
    """A span by temperature: ln tau is linear in 1/T between the points, along the outer points beyond them."""

    points: tuple[tuple[float, float], ...]

    def at(self, temp_c: float) -> float:
        """The span in seconds."""
        if len(self.points) == 1:
            return self.points[0][1]
        pairs = list(pairwise(self.points))
        inside = next((pair for pair in pairs if pair[0][0] <= temp_c <= pair[1][0]), None)
        (one_c, one_s), (two_c, two_s) = inside or (self.points[0], self.points[-1])
        x, x1, x2 = (1.0 / (value + 273.15) for value in (temp_c, one_c, two_c))
        slope = (math.log(two_s) - math.log(one_s)) / (x2 - x1)
        nearest = (one_c, one_s) if inside or temp_c < one_c else (two_c, two_s)
        return math.exp(math.log(nearest[1]) + slope * (x - 1.0 / (nearest[0] + 273.15)))


def tau_of(table: Any) -> Tau:
    """A sheet's own table of temperatures."""
    if isinstance(table, str):
        return Tau(((20.0, span_s(table)),))
    return Tau(tuple(sorted((figure(temp), span_s(span)) for temp, span in table.items())))


@dataclass(frozen=True)
class Weather:
    """What the job file expects: straight lines between its rows, the first and the last hold beyond."""

    rows: tuple[tuple[datetime, float, float, float], ...]

    def at(self, instant: datetime) -> tuple[float, float, float]:
        """Air, humidity and slab."""
        before = [row for row in self.rows if row[0] <= instant]
        after = [row for row in self.rows if row[0] > instant]
        if not before or not after:
            return (after[0] if not before else before[-1])[1:]
        one, two = before[-1], after[0]
        share = (instant - one[0]) / (two[0] - one[0])
        air, humidity, slab = (a + (b - a) * share for a, b in zip(one[1:], two[1:], strict=True))
        return air, humidity, slab


def dew_point_c(air_c: float, humidity_pct: float) -> float:
    """Magnus over water, WMO-No. 8: e = 6.112 exp(17.62 t / (243.12 + t)) hPa.

    >>> round(dew_point_c(20.0, 50.0), 1)
    9.3
    """
    gamma = math.log(humidity_pct / 100.0) + 17.62 * air_c / (243.12 + air_c)
    return 243.12 * gamma / (17.62 - gamma)


@dataclass(frozen=True)
class Sheet:
    """One product."""

    values: Mapping[str, Any]

    def window(self, name: str, side: str) -> Tau | None:
        """How long until a window opens or closes, by slab temperature."""
        table = self.values.get("windows", {}).get(name, {}).get(side)
        return None if table is None else tau_of(table)

    def limit(self, key: str, place: int | None = None) -> float | None:
        """A figure among the limits."""
        found = self.values.get("limits", {}).get(key)
        return None if found is None else figure(found if place is None else found[place])

    @property
    def density(self) -> float:
        """Of the mix, kg/L."""
        a, b = self.values["mix"]["ratio_by_volume"]
        of_a, of_b = (figure(each) for each in self.values["mix"]["density"])
        return (a * of_a + b * of_b) / (a + b)

    def likely(self, name: str, side: str, since: datetime, weather: Weather) -> datetime | None:
        """When a window's edge comes by the sheet's own figures: minute by minute along the slab's temperature."""
        tau = self.window(name, side)
        if tau is None:
            return None
        ripe, at = 0.0, since
        while ripe < 1.0 and at < since + FAR:
            step = STEP if ripe > 0.9 or tau.at(20.0) < 4 * 3600 else 5 * STEP
            ripe += step.total_seconds() / tau.at(weather.at(at + step / 2)[2])
            at += step
        return at

    def bucket_by(self, mixed: datetime, weather: Weather) -> datetime:
        """No bucket of the stated mass or more outlives the sheet's pot life at the colder of air and slab."""
        air, _, slab = weather.at(mixed)
        return mixed + timedelta(seconds=tau_of(self.values["pot-life"]["at"]).at(min(air, slab)))


@dataclass(frozen=True)
class JobFile:
    """A job file with its sheets."""

    values: Mapping[str, Any]
    sheets: Mapping[str, Sheet]

    @classmethod
    def read(cls, text: str, sheets: Sequence[str]) -> JobFile:
        """From the texts of the files."""
        read = [tomllib.loads(each) for each in sheets]
        return cls(tomllib.loads(text), {each["name"]: Sheet(each) for each in read})

    @property
    def zone(self) -> ZoneInfo:
        """The clock on the wall."""
        return ZoneInfo(self.values["zone"])

    @property
    def weather(self) -> Weather:
        """The forecast."""
        rows = self.values["forecast"]
        told = ((row["at"], figure(row["air"]), figure(row["humidity"]), figure(row["slab"])) for row in rows)
        return Weather(tuple((datetime.fromisoformat(at).replace(tzinfo=self.zone), *rest) for at, *rest in told))  # type: ignore[arg-type]

    def coat(self, name: str) -> Mapping[str, Any]:
        """A coat's table."""
        found: Mapping[str, Any] = next(coat for coat in self.values["coats"] if coat["name"] == name)
        return found

    def area(self, name: str) -> Mapping[str, Any]:
        """An area's table."""
        found: Mapping[str, Any] = next(area for area in self.values["areas"] if area["name"] == name)
        return found

    def below(self, name: str) -> str | None:
        """The coat that another lies on: `after`, else the one before it in the file."""
        coats = [coat["name"] for coat in self.values["coats"]]
        before = coats.index(name) - 1
        return self.coat(name).get("after") or (coats[before] if before >= 0 else None)

    def touch(self, one: str, other: str) -> bool:
        """Whether two areas share an edge that no saw cut runs along."""
        beside = other in self.area(one).get("next_to", ()) or one in self.area(other).get("next_to", ())
        return beside and not any({one, other} == set(cut) for cut in self.values.get("saw_cuts", ()))
