"""Scraping and sweeping what was flaked, before the next coat goes on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.floor.crew import Crew, times_of
from mixclock.decide.plan.floor.films import Ground, LaidFilm, scrape_opens
from mixclock.decide.plan.floor.plans import FloorPiece
from mixclock.decide.plan.floor.setting import OpenStep

MOST_SCRAPES = 12
"""The scraping of a coat is cut into this many parts at most."""


def scraping(bench: Bench, crew: Crew, below: Ground) -> list[tuple[OpenStep, datetime | None, datetime | None]]:
    """Scraping and sweeping a flaked coat before the next goes on, bucket by bucket as each opens. One person does
    each; if there are fewer buckets than people, all who scrape share it."""
    flaked = [film for film in below.films if "broadcast" in film.ended and "scrape" not in film.ended]
    able = [index for index, may in enumerate(crew.able("scrape")) if may]
    groups = _in_groups(flaked)
    found: list[tuple[OpenStep, datetime | None, datetime | None]] = []
    for films in groups:
        names = tuple(dict.fromkeys(area for film in films for area in film.areas))
        opens = max(scrape_opens(film, bench.profiles[film.product.casefold()], bench.timing) for film in films)
        hands = [able] if len(groups) >= len(able) else [[who] for who in able]
        share = (FloorPiece("", sum(film.size_m2 for film in films) / len(hands), 0.0),)
        times = times_of(crew, "scrape", share, {})
        for mine in hands:
            row = tuple(time if who in mine else None for who, time in enumerate(times))
            found.append((OpenStep("scrape", None, names, row, first=True, window="scrape"), opens, None))
    return found


def _in_groups(films: Sequence[LaidFilm]) -> list[list[LaidFilm]]:
    """Films by their buckets, in the order of the pours. If there are many, neighbours are put together."""
    buckets: dict[int, list[LaidFilm]] = {}
    for film in sorted(films, key=lambda film: (film.ended["pour"], film.number)):
        buckets.setdefault(film.number, []).append(film)
    each = -(-len(buckets) // MOST_SCRAPES)
    rows = list(buckets.values())
    return [[film for row in rows[first : first + each] for film in row] for first in range(0, len(rows), each or 1)]
