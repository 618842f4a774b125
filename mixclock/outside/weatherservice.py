"""Fetches a forecast from a public weather service, only when a person asks. Keeps it until it lapses, and names it.

A trade may use both services. MET Norway's is under CC BY 4.0: the program names itself, gives a place in four decimals
at most, and asks nothing before the last answer lapsed. The US service's data are in the public domain.
"""

from __future__ import annotations

import json
import urllib.error
import urllib.request
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from pathlib import Path
from typing import Any, NamedTuple

from mixclock import __version__
from mixclock.job.forecastreading import ExpectedWeather, read_forecast_json
from mixclock.job.mistakes import Mistakes, first_line
from mixclock.job.saying import CannotTellError
from mixclock.outside.atomicfile import write_atomically

MET_NORWAY = "https://api.met.no/weatherapi/locationforecast/2.0/compact"
US_SERVICE = "https://api.weather.gov"
CACHE_NAME = "weather-cache.json"
TIMEOUT_S = 15.0
LARGEST_BYTES = 8 * 2**20
KEPT_WITHOUT_A_WORD = timedelta(minutes=30)
"""How long an answer is kept whose service does not say."""


class WeatherError(CannotTellError):
    """No forecast could be had. The message is one line: why, and what to do instead."""


class Spot(NamedTuple):
    """A place on the map, in degrees."""

    lat: float
    lon: float

    @property
    def rounded(self) -> str:
        """The place in four decimals at most, as the services ask. Finer tells more of a person alone."""
        return f"{round(self.lat, 4):g},{round(self.lon, 4):g}"


class ServiceAnswer(NamedTuple):
    """What a service answered: its text, when it lapses, when it was last modified."""

    text: str
    lapses: datetime
    modified: str | None


class WeatherService:
    """Asks one service for one place. `us` is the US service, which covers the United States alone."""

    def __init__(self, folder: Path, now: Callable[[], datetime], *, us: bool = False, base: str | None = None) -> None:
        """`base` is another address of the same format, for tests."""
        self._cache_file = folder / CACHE_NAME
        self._now, self._us = now, us
        self._base = base or (US_SERVICE if us else MET_NORWAY)

    def at(self, spot: Spot) -> tuple[ExpectedWeather, datetime]:
        """The forecast for a place and when it was fetched. Raises `WeatherError`."""
        try:
            if not self._us:
                text, fetched = self._get(f"{self._base}?lat={round(spot.lat, 4):g}&lon={round(spot.lon, 4):g}")
            else:
                place, _ = self._get(f"{self._base}/points/{spot.rounded}")
                text, fetched = self._get(str(json.loads(place)["properties"]["forecastHourly"]))
            return read_forecast_json(text, self._base), fetched
        except (Mistakes, KeyError, TypeError, ValueError) as error:
            raise WeatherError(
                f"{self._base}: answered what is no forecast ({first_line(error)}); try `mixclock forecast FILE`"
            ) from error

    def _get(self, url: str) -> tuple[str, datetime]:
        """The text at an address: the kept one until it lapses; then it asks the service whether the text changed."""
        cache = self._cache()
        kept = cache.get(url)
        now = self._now()
        if kept is not None and datetime.fromisoformat(kept["lapses"]) > now:
            return kept["text"], datetime.fromisoformat(kept["fetched"])
        answer = _fetch(url, kept["modified"] if kept else None, now)
        text = kept["text"] if answer.text == "" and kept is not None else answer.text
        cache[url] = {
            "text": text, "lapses": answer.lapses.isoformat(), "modified": answer.modified, "fetched": now.isoformat(),
        }  # fmt: skip
        fresh = {address: each for address, each in cache.items() if _is_recent(each, now)}
        write_atomically(self._cache_file, json.dumps(fresh))
        return text, now

    def _cache(self) -> dict[str, Any]:
        try:
            kept = json.loads(self._cache_file.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}  # an unreadable cache: ask anew
        return kept if isinstance(kept, dict) else {}


def _is_recent(each: Mapping[str, Any], now: datetime) -> bool:
    return now - datetime.fromisoformat(each["fetched"]) < timedelta(days=3)


def _fetch(url: str, modified: str | None, now: datetime) -> ServiceAnswer:
    headers = {
        "User-Agent": f"mixclock/{__version__} (timing of floor coatings)",
        "Accept": "application/geo+json, application/json",
    }
    if modified:
        headers["If-Modified-Since"] = modified
    if not url.startswith(("https://", "http://127.0.0.1:", "http://localhost:")):
        raise WeatherError(f"{url}: only https addresses are asked; try `mixclock forecast FILE`")
    try:
        with urllib.request.urlopen(urllib.request.Request(url, headers=headers), timeout=TIMEOUT_S) as response:
            text = response.read(LARGEST_BYTES).decode("utf-8")
            return ServiceAnswer(text, _lapses(response.headers, now), response.headers.get("Last-Modified"))
    except urllib.error.HTTPError as error:
        if error.code == 304:
            return ServiceAnswer("", _lapses(error.headers, now), modified)
        raise WeatherError(f"{url}: answered {error.code} {error.reason}; {_mend(error.code)}") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "reason", error)
        raise WeatherError(f"{url}: no answer ({reason}); go on without, or try `mixclock forecast FILE`") from error


def _mend(code: int) -> str:
    if code == 404:
        return "no forecast for that place; the US service covers the United States alone"
    if code in (403, 429):
        return "it was asked too often, or by a program that it does not know; try again in an hour"
    return "try again later, or `mixclock forecast FILE`"


def _lapses(headers: Any, now: datetime) -> datetime:
    """When the answer may be asked for again: at the service's own time, at least a minute from now."""
    told = headers.get("Expires")
    try:
        lapses = parsedate_to_datetime(told).astimezone(UTC) if told else now + KEPT_WITHOUT_A_WORD
    except (TypeError, ValueError):
        lapses = now + KEPT_WITHOUT_A_WORD
    return max(lapses, now + timedelta(minutes=1))
