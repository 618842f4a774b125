"""What a plan is told from, and how its times and quantities are said."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from itertools import groupby
from types import MappingProxyType
from zoneinfo import ZoneInfo

from mixclock.decide.plan.comparing import Comparison
from mixclock.decide.plan.flake import flake_of
from mixclock.decide.plan.shapes import Plan, PlannedBatch, PlannedStep
from mixclock.decide.plan.takeoff import TakeOff
from mixclock.job.profile import Profile
from mixclock.job.site import Coat, Site
from mixclock.units import CrewUnits, write_clock

SAID: Mapping[str, str] = MappingProxyType(
    {
        "measure": "measure out, stir A",
        "mix": "mix",
        "pour": "pour",
        "cut-in": "cut in",
        "squeegee": "squeegee",
        "roll": "back-roll",
        "broadcast": "flake",
        "scrape": "scrape and sweep",
        "clean": "clean the tools",
        "neutralise": "neutralise",
        "rinse": "rinse",
    }
)
"""The steps as a crew says them."""


@dataclass(frozen=True)
class PlanSheet:
    """A plan with the job that it is for, what it takes, and another system beside it where one was asked for."""

    plan: Plan
    site: Site
    profiles: Mapping[str, Profile]
    take: TakeOff
    compared: Comparison | None = None

    @cached_property
    def zone(self) -> ZoneInfo:
        """The zone of the crew's clocks."""
        return ZoneInfo(self.site.zone)

    @property
    def units(self) -> CrewUnits:
        """The units that the job file was written in."""
        return self.site.units

    def clock(self, at: datetime, *, up: bool = False) -> str:
        """A time of day."""
        return write_clock(at, self.zone, up=up)

    def day(self, at: datetime) -> str:
        """A day, as in 'Mon 13 Apr'."""
        there = at.astimezone(self.zone)
        return f"{there:%a} {there.day} {there:%b}"

    def day_and_clock(self, at: datetime, *, up: bool = False) -> str:
        """A day with its time."""
        return f"{self.day(at)} {self.clock(at, up=up)}"

    def profile(self, product: str) -> Profile:
        """The sheet of a product."""
        return self.profiles[product.casefold()]

    def coat(self, name: str) -> Coat | None:
        """A coat of the job."""
        return self.site.coat(name)

    def money(self, cost: float) -> str:
        """A sum in the job's currency."""
        return f"{cost:.2f} {self.site.currency}" if self.site.currency else f"{cost:.2f}"

    def people(self) -> list[str]:
        """Everybody who has something to do, in the order of the job file."""
        busy = {step.who for step in self.plan.steps}
        named = [person.name for person in self.site.crew if person.name in busy]
        return [*named, *sorted(busy - set(named))]

    def batch(self, number: int | None) -> PlannedBatch | None:
        """A planned batch by its number."""
        return self._batches.get(number) if number is not None else None

    @cached_property
    def _batches(self) -> Mapping[int, PlannedBatch]:
        return {batch.number: batch for batch in self.plan.batches}

    def mixer(self, batch: PlannedBatch) -> str:
        """Who mixes a batch."""
        return next((s.who for s in self.plan.steps if s.batch == batch.number and s.kind == "mix"), "")

    def step_said(self, step: PlannedStep) -> str:
        """What a step is called; sand is no flake."""
        coat = self.coat(step.coat)
        if step.kind == "broadcast" and coat is not None:
            return "throw the sand" if flake_of(coat, 1.0).material == "sand" else "flake"
        return SAID.get(step.kind, step.kind)


def areas_said(names: Iterable[str]) -> str:
    """Areas in a row, short: parts of one area together, numbers that follow each other as a range.

    >>> areas_said(["bay 1", "bay 2", "bay 3"]), areas_said(["bay 1", "bay 2"]), areas_said(["kiln", "bay 1"])
    ('bays 1 to 3', 'bay 1 and bay 2', 'kiln and bay 1')
    >>> areas_said(["bay 1 (part 1 of 4)", "bay 1 (part 2 of 4)"])
    'bay 1 (parts 1 and 2 of 4)'
    """
    found = [_parts_said(list(group)) for _, group in groupby(names, key=lambda name: name.partition(" (part ")[0])]
    runs = [(stem, [number for _, number in group]) for stem, group in groupby(map(_numbered, found), lambda n: n[0])]
    if len(runs) == 1 and runs[0][0]:
        stem, numbers = runs[0]
        if len(numbers) > 2 and numbers == list(range(numbers[0], numbers[0] + len(numbers))):
            return f"{stem.rstrip()}s {numbers[0]} to {numbers[-1]}"
    return _listed(found)


def _parts_said(names: list[str]) -> str:
    """The parts of one area."""
    if len(names) == 1:
        return names[0]
    area, _, rest = names[0].partition(" (part ")
    if not rest:
        return area
    parts = [name.partition(" (part ")[2].partition(" of ")[0] for name in names]
    of = rest.partition(" of ")[2]
    return f"{area} (parts {_listed(parts) if len(parts) == 2 else f'{parts[0]} to {parts[-1]}'} of {of}"


def _listed(found: list[str]) -> str:
    return f"{', '.join(found[:-1])} and {found[-1]}" if len(found) > 1 else "".join(found)


def _numbered(name: str) -> tuple[str, int]:
    stem = name.rstrip("0123456789")
    digits = name[len(stem) :]
    return (stem, int(digits)) if digits and stem.endswith(" ") else ("", 0)
