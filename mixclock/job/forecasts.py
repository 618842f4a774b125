"""The weather that a job expects: the forecast in its file, and those that somebody took in since."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from mixclock.job.entry import Entry, ForecastTaken
from mixclock.job.site import Forecast


def points_of(facts: ForecastTaken) -> tuple[Forecast, ...]:
    """The points of a forecast that was taken in.

    >>> points_of(ForecastTaken("own", at=("2026-04-13T08:00:00+00:00",), air_c=(16.0,)))[0].air_c
    16.0
    """

    def at(values: tuple[float | None, ...], place: int) -> float | None:
        return values[place] if place < len(values) else None

    return tuple(
        Forecast(
            datetime.fromisoformat(instant), at(facts.air_c, place), at(facts.rh_pct, place), at(facts.slab_c, place)
        )
        for place, instant in enumerate(facts.at)
    )


def expected(of_the_file: tuple[Forecast, ...], taken: Iterable[Entry]) -> tuple[Forecast, ...]:
    """What all forecasts together expect. Wherever a later forecast speaks, it replaces the earlier ones."""
    points = of_the_file
    for entry in taken:
        if isinstance(entry.facts, ForecastTaken) and (newer := points_of(entry.facts)):
            first, last = newer[0].at, newer[-1].at
            points = (*(each for each in points if not first <= each.at <= last), *newer)
    return tuple(sorted(points, key=lambda each: each.at))
