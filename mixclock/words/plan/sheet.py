"""What a plan is told from, and how its times and quantities are said."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from functools import cached_property
from types import MappingProxyType
from zoneinfo import ZoneInfo

from mixclock.decide.plan.floor.flake import flake_of
from mixclock.decide.plan.floor.placenames import area_of, areas_said
from mixclock.decide.plan.floor.plans import Plan, PlannedBatch, PlannedStep
from mixclock.decide.plan.floor.systems import Comparison
from mixclock.decide.plan.floor.takeoff import TakeOff
from mixclock.job.profile import Profile
from mixclock.job.site import Coat, Site
from mixclock.job.steps import BACK_ROLL, NEUTRALISE, RINSE
from mixclock.units import CrewUnits, write_clock, write_day
from mixclock.values import dataclass

SAID: Mapping[str, str] = MappingProxyType(
    {
        "ready": "have the neutraliser ready",
        "measure": "measure out, stir A",
        "mix": "mix",
        "pour": "pour",
        "cut-in": "cut in",
        "squeegee": "squeegee",
        "roll": BACK_ROLL,
        "broadcast": "flake",
        "scrape": "scrape and sweep",
        "clean": "clean the tools",
        "set-up": "set up: tools, sheeting, pails",
        NEUTRALISE: NEUTRALISE,
        RINSE: RINSE,
    }
)
"""The steps as a crew says them."""

WHOLE = 0.99
"""From this share on an area is done whole, but for rounding."""

THROW_SAND = "throw the sand"


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
        return self.site.wall

    @property
    def units(self) -> CrewUnits:
        """The units that the job file was written in."""
        return self.site.units

    def bucket_units(self, batch: PlannedBatch) -> CrewUnits:
        """The units of a coat's mix sheets, one for each kind: where each of its buckets holds under a litre they go
        onto scales, in grams and millilitres."""
        largest_l = max(each.volume_l for each in self.plan.batches if each.coat == batch.coat)
        return self.units if self.units.is_us else self.units.on_one_page(largest_l)

    def clock(self, at: datetime, *, up: bool = False) -> str:
        """A time of day."""
        return write_clock(at, self.zone, up=up)

    def day(self, at: datetime) -> str:
        """A day, as in 'Mon 13 Apr'."""
        there = at.astimezone(self.zone)
        return write_day(there)

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

    def places(self, names: Iterable[str], batch: PlannedBatch | None) -> str:
        """Where a batch of this plan goes, or a step of it; of an area that is laid in part already, the rest of it."""
        rests = self._rests.get(batch.coat, frozenset()) if batch is not None else frozenset()
        return areas_said(f"the rest of {name}" if area_of(name) in rests else name for name in names)

    @cached_property
    def _rests(self) -> Mapping[str, frozenset[str]]:
        """By coat the areas of which this plan does only a part: the other lies there already."""
        found: dict[str, dict[str, float]] = {}
        for batch in self.plan.batches:
            of_coat = found.setdefault(batch.coat, {})
            for piece in batch.pieces:
                of_coat[piece.area] = of_coat.get(piece.area, 0.0) + piece.size_m2
        return {
            coat: frozenset(
                name
                for name, size_m2 in areas.items()
                if (area := self.site.area(name)) is not None and size_m2 < WHOLE * area.size_m2
            )
            for coat, areas in found.items()
        }

    def mixer(self, batch: PlannedBatch) -> str:
        """Who mixes a batch."""
        return next((s.who for s in self.plan.steps if s.batch == batch.number and s.kind == "mix"), "")

    def step_said(self, step: PlannedStep) -> str:
        """What a step is called; sand is no flake."""
        coat = self.coat(step.coat)
        if step.kind == "broadcast" and coat is not None:
            return THROW_SAND if flake_of(coat, 1.0).material == "sand" else "flake"
        if step.kind == "measure" and coat is not None and not self.profile(coat.product).two_part:
            return "measure out"
        return SAID.get(step.kind, step.kind)
