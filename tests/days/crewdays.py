"""Seeded normal days of a crew: steps take as long as they take (log-normal, 20 %), statements come when they come.

A normal day is one that goes by its plan: the next batch is begun when the roller is free for it, not when an alert
says so. Step times are those of common practice (110 m² an hour by squeegee, 75 by roller, 60 of flake).
"""

from __future__ import annotations

import heapq
import random
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from tests.days.clockwork import Day

SPREAD = 0.20
"""Standard deviation of the logarithm of a step's time."""
MOST_LATE = timedelta(minutes=3)
SETUP_MIN, POUR_MIN, LAG_MIN = 3.0, 1.0, 5.0
SQUEEGEE_M2_MIN, ROLL_M2_MIN, FLAKE_M2_MIN = 110.0 / 60.0, 75.0 / 60.0, 1.0


@dataclass(frozen=True)
class Recipe:
    """A job that is done by the plan: which coat on which day, by how many, how warm."""

    seed: int
    crew: int
    air_c: float
    rh_pct: float
    bays: int = 5
    size_m2: float = 11.5


@dataclass(order=True)
class _Statement:
    when: datetime
    order: int
    verb: str = field(compare=False)
    what: dict[str, Any] = field(compare=False)
    happened: datetime | None = field(compare=False, default=None)
    by: str | None = field(compare=False, default=None)


@dataclass
class CrewDay:
    """Makes the statements of a crew for one coat, and states them into a day."""

    recipe: Recipe
    chance: random.Random
    statements: list[_Statement] = field(default_factory=list)
    batches: int = 0
    stated: datetime = datetime(1970, 1, 1, tzinfo=UTC)

    def took(self, nominal_min: float) -> timedelta:
        return timedelta(minutes=nominal_min * self.chance.lognormvariate(0.0, SPREAD))

    def state(self, happened: datetime, verb: str, by: str | None, **what: Any) -> None:
        """A statement up to 3 min after the fact; every second one names the time of the fact."""
        when = happened + MOST_LATE * self.chance.random()
        if verb != "mixing" and "batch" in what:
            when = max(when, self.stated + timedelta(seconds=2))  # nobody says poured before mixing
        else:
            self.stated = when
        known = happened if verb == "mixing" or self.chance.random() < 0.5 else None
        heapq.heappush(self.statements, _Statement(when, len(self.statements), verb, what, known, by))

    def coat(self, starts: datetime, product: str, coat: str, litres: float, flake: bool, mix_min: float) -> datetime:
        """Lay one coat bay by bay; gives when the last step is done."""
        alone = self.recipe.crew == 1
        mixer = "applicator" if alone else "mixer"
        roller = "applicator" if alone else "roller"
        size = self.recipe.size_m2
        mixer_free = roller_free = starts
        for bay in (f"bay {number}" for number in range(1, self.recipe.bays + 1)):
            self.batches += 1
            combined = mixer_free + self.took(SETUP_MIN)
            self.state(
                combined, "mixing", mixer, product=product, coat=coat, areas=[bay], volume_l=litres,
                vessel=None, mixing_s=mix_min * 60.0,
            )  # fmt: skip
            ended = combined + self.took(mix_min)
            poured = ended + self.took(POUR_MIN)
            self.state(poured, "poured", mixer, batch=self.batches)
            spread = poured + self.took(size / SQUEEGEE_M2_MIN)
            begins = max(spread if alone else poured + (spread - poured) / 3, roller_free)
            rolled = max(begins + self.took(size / ROLL_M2_MIN), spread)
            self.state(rolled, "rolled", roller, batch=self.batches)
            roller_free = rolled
            if flake:
                flaked = max(rolled, begins + timedelta(minutes=LAG_MIN)) + self.took(size / FLAKE_M2_MIN)
                self.state(flaked, "flaked", roller, batch=self.batches)
                roller_free = flaked
            ready = roller_free - timedelta(minutes=SETUP_MIN + mix_min + POUR_MIN + size / SQUEEGEE_M2_MIN / 3)
            mixer_free = roller_free if alone else max(spread, ready)
        return max(roller_free, mixer_free)

    def reading(self, at: datetime, warmer_c: float) -> None:
        """Air, humidity and slab, as a thermometer on the wall shows them."""
        air = round(self.recipe.air_c + warmer_c, 1)
        heapq.heappush(
            self.statements,
            _Statement(at, len(self.statements), "reading",
                       {"air_c": air, "rh_pct": self.recipe.rh_pct, "slab_c": round(air - 1.0, 1)}),
        )  # fmt: skip

    def play(self, day: Day, ends: datetime) -> None:
        """State everything when its time comes, and let the daemon look in between."""
        while self.statements:
            statement = heapq.heappop(self.statements)
            if statement.when > day.clock.now():
                day.until(statement.when)
            day.say(statement.verb, at=statement.happened, by=statement.by, **statement.what)
            day.look()
        day.until(ends)


def first_alerts(day: Day, crew: Iterable[str]) -> dict[str, list[datetime]]:
    """When each person was called for the first time by an alert; one message is one call, repeats are none."""
    called: dict[str, list[datetime]] = {person: [] for person in crew}
    for at, bulletin in day.bulletins:
        first = [one for one in bulletin.raises if one.repeat == 0]
        everybody = any(one.alert.who is None for one in first)
        for person in called:
            if (everybody and first) or any(one.alert.who == person for one in first):
                called[person].append(at)
    return called


def most_in_ten_minutes(calls: list[datetime]) -> int:
    """The most calls in any ten minutes."""
    span = timedelta(minutes=10)
    return max((sum(first <= at < first + span for at in calls) for first in calls), default=0)


def utc(day: int, hour: int, minute: int = 0) -> datetime:
    """An instant of the job's April days."""
    return datetime(2026, 4, day, hour, minute, tzinfo=UTC)
