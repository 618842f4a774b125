"""Seeded days that go by a plan which stops in the middle of a floor: how many critical calls asked for nothing?

Run `python -m tests.days.plannedstops 200`. A day lays some bays, stops where its plan says (at a bare edge, or at a
declared saw cut), and goes on the next day. Some buckets are dumped as told, some taps are mistakes and taken back.
The judge knows what the crew did and when it was said, and nothing of how calls are made: a critical call is for
nothing where its step was said to be done, its batch was thrown away or taken back, or where it asks to join an edge
that this crew never meant to join that day.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.buckets import BucketModel
from mixclock.decide.plan.days.planjson import plan_text
from mixclock.decide.plan.floor.plans import FloorPiece, Plan, PlannedBatch
from mixclock.job.entry import Planned
from mixclock.outside.profilefiles import find
from mixclock.watch.bulletins import Bulletin
from tests.days.clockwork import Day
from tests.days.crewdays import utc
from tests.days.shed import site

PRODUCT = "Slow epoxy base"
BAYS = 6
SIZE_M2, LITRES = 11.5, 3.45
MIX, POUR, SPREAD, ROLL, FLAKE, SET_UP = (timedelta(minutes=each) for each in (3, 1, 6.3, 9.2, 11.5, 3))
MINUTE = timedelta(minutes=1)
DONE_BY = {"pour-out": "poured", "broadcast": "flaked"}


@dataclass
class LaidBay:
    """What truly became of one bucket: by its number, its bay, and when each thing was said."""

    number: int
    bay: int
    on_day: int
    said: dict[str, datetime] = field(default_factory=dict)

    @property
    def over(self) -> datetime | None:
        """When it was said that the bucket is gone or was never there."""
        return self.said.get("dumped") or self.said.get("withdrawn")


@dataclass
class PlannedDays:
    """The two days of one floor."""

    seed: int
    laid: list[LaidBay] = field(default_factory=list)
    calls: list[tuple[datetime, str, int | None, str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.chance = random.Random(self.seed)
        self.stop = self.chance.choice([2, 3, 4])
        self.at_cut = self.chance.random() < 0.4
        self.alone = self.chance.random() < 0.4
        self.air_c = round(self.chance.uniform(15, 22), 1)

    def took(self, usual: timedelta) -> timedelta:
        return usual * self.chance.lognormvariate(0.0, 0.15)

    def play(self, model: BucketModel) -> None:
        """Lay the floor, with the daemon looking on."""
        job = site(1 if self.alone else 2, bays=BAYS).replace("Shed base", PRODUCT).replace("Shed top", PRODUCT)
        if self.at_cut:
            job = f'saw_cuts = [["bay {self.stop}", "bay {self.stop + 1}"]]\n' + job
        day = Day(job, [find(PRODUCT).text], begins=utc(13, 6, 30), model=model)
        day.book.append(day.job, Planned(plan_text(self.plan())))
        for on_day, bays in ((13, range(1, self.stop + 1)), (14, range(self.stop + 1, BAYS + 1))):
            day.until(utc(on_day, 6, 35))
            day.say("reading", air_c=self.air_c, rh_pct=55.0, slab_c=self.air_c - 1.0)
            self.lay(day, on_day, bays)
        day.until(utc(14, 16))
        assert not day.faults, day.faults
        self.calls = list(_critical(day.bulletins))

    def lay(self, day: Day, on_day: int, bays: Sequence[int]) -> None:
        for bay in bays:
            if self.chance.random() < 0.05:
                self.mistake(day, on_day, bay)
            batch = self.bucket(day, on_day, bay)
            if self.chance.random() < 0.04:
                day.until(day.clock.now() + timedelta(minutes=32))
                self.say(day, batch, "dumped")
                batch = self.bucket(day, on_day, bay)
            for verb, usual in (("poured", MIX + POUR), ("rolled", SPREAD + ROLL), ("flaked", FLAKE)):
                day.until(day.clock.now() + self.took(usual))
                self.say(day, batch, verb)
            day.until(day.clock.now() + self.took(SET_UP))

    def bucket(self, day: Day, on_day: int, bay: int) -> LaidBay:
        what = {"product": PRODUCT, "coat": "base", "areas": [f"bay {bay}"], "volume_l": LITRES}
        day.say("mixing", mixing_s=MIX.total_seconds(), **what)
        day.look()
        self.laid.append(LaidBay(day.ticker.watched[day.job].seen().batches[-1].id, bay, on_day))
        return self.laid[-1]

    def mistake(self, day: Day, on_day: int, bay: int) -> None:
        """A knuckle on "B's in": taken back after a minute. Numbers are counted in the job, so it keeps its own."""
        (entry, *_) = [each for each in day.say("mixing", product=PRODUCT, coat="base", areas=[f"bay {bay}"],
                       volume_l=LITRES) if each.facts.kind == "combined"]  # fmt: skip
        day.until(day.clock.now() + MINUTE)
        day.say("withdraw", entry=entry.number)
        day.look()

    def say(self, day: Day, batch: LaidBay, verb: str) -> None:
        day.say(verb, batch=batch.number)
        batch.said[verb] = day.clock.now()
        day.look()

    def plan(self) -> Plan:
        """What this crew means to do: so many bays today, the rest tomorrow."""
        pace = MIX + POUR + SPREAD + ROLL + FLAKE + SET_UP
        batches = []
        for bay in range(1, BAYS + 1):
            first = bay <= self.stop
            starts = utc(13 if first else 14, 6, 35) + pace * (bay - 1 if first else bay - self.stop - 1)
            batches.append(_planned(bay, starts))
        return Plan("Boat shed", utc(13, 6, 30), tuple(batches), ())

    def for_nothing(self) -> list[tuple[datetime, str, int | None, str]]:
        """The critical calls that asked for nothing."""
        return [call for call in self.calls if self.is_for_nothing(call)]

    def is_for_nothing(self, call: tuple[datetime, str, int | None, str]) -> bool:
        at, step, number, _ = call
        laid = next((each for each in self.laid if each.number == number), None)
        if laid is None:
            return number is not None
        if laid.over is not None and laid.over < at:
            return True
        done = laid.said.get(DONE_BY.get(step, ""))
        if done is not None and done < at:
            return True
        return step == "wet-edge" and not self.joins(laid, at)

    def joins(self, laid: LaidBay, at: datetime) -> bool:
        """Whether this crew still pours onto that edge on that day."""
        beside = [each for each in self.laid if abs(each.bay - laid.bay) == 1 and each.on_day == laid.on_day]
        return any(each.said.get("poured", at) >= at for each in beside if each.over is None)


def _planned(bay: int, starts: datetime) -> PlannedBatch:
    poured = starts + MIX + POUR
    return PlannedBatch(
        number=bay, coat="base", product=PRODUCT, pieces=(FloorPiece(f"bay {bay}", SIZE_M2, 0.0),), volume_l=LITRES,
        mass_kg=3.7, needed_l=LITRES, kits=None, a_l=2.3, b_l=1.15, a_kg=None, b_kg=None, mixed_at=starts,
        poured_at=poured, pour_by=poured, vessel="pail", set_by="area",
    )  # fmt: skip


def _critical(bulletins: Sequence[tuple[datetime, Bulletin]]) -> Iterator[tuple[datetime, str, int | None, str]]:
    for at, bulletin in bulletins:
        for one in bulletin.raises:
            if one.alert.rank == "critical":
                yield at, one.alert.step, one.alert.batch, one.alert.area or ""


def played(seeds: Sequence[int]) -> list[PlannedDays]:
    """So many floors."""
    model, found = bucket_model(), []
    for seed in seeds:
        found.append(PlannedDays(seed))
        found[-1].play(model)
    return found


def main(days: int) -> None:
    """Print the count over so many days; a floor has two."""
    floors = played(range(days // 2))
    calls = Counter(step for floor in floors for _, step, _, _ in floor.calls)
    idle = Counter(step for floor in floors for _, step, _, _ in floor.for_nothing())
    print(f"{days} days by a plan that stops inside the floor: {sum(calls.values())} critical calls {dict(calls)}")
    print(f"critical calls that asked for nothing: {sum(idle.values())} {dict(idle)}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
