"""The floor, the crew and the coats: what a job file says, with units settled.

Reading and checking the file's text is `mixclock.job.sitereading`. What the file leaves out is None here.
`mixclock.job.practice` fills it with common practice, and says so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from functools import cached_property
from itertools import pairwise
from zoneinfo import ZoneInfo

from mixclock.job.floorshape import FloorShape
from mixclock.units import METRIC_CREW, CrewUnits, wall_zone
from mixclock.values import dataclass, replace


@dataclass(frozen=True)
class Area:
    """A piece of floor that is done in one go."""

    name: str
    size_m2: float
    edge_m: float | None = None
    order: int | None = None
    next_to: tuple[str, ...] = ()
    texture: str | None = None
    cove_m: float | None = None
    stairs_m: float | None = None
    sun: bool | None = None
    """Whether sun falls on it or on the roof above it; None if nobody said."""
    heated: bool | None = None
    outside: bool | None = None
    """Whether it lies outside, or has its doors open through the night."""
    shape: FloorShape | None = None
    """How it was measured, if the file says more than a plain size."""
    shared_m: float = 0.0
    """How much of its outline lies along other areas, judged by their sizes (`sharedsides`)."""


@dataclass(frozen=True)
class Person:
    """One of the crew: what they do and how fast. An empty `does` means everything."""

    name: str
    does: tuple[str, ...] = ()
    squeegee_m2_h: float | None = None
    roll_m2_h: float | None = None
    broadcast_m2_h: float | None = None
    cut_in_m_h: float | None = None
    phone: str | None = None
    helps: tuple[str, ...] = ()
    """Tasks with which they help as the second of two, besides what they do themselves."""


@dataclass(frozen=True)
class Vessel:
    """A vessel to mix in; `across` is the inner diameter."""

    name: str
    volume_l: float
    across_m: float | None = None


@dataclass(frozen=True)
class Coat:
    """One layer of the system."""

    name: str
    product: str
    wet_film_um: float | None = None
    spread_m2_l: float | None = None
    after: str | None = None
    flake_kg_m2: float | None = None
    flake_size: str | None = None
    kit_l: float | None = None
    kit_kg: float | None = None
    price: float | None = None
    split: bool = False
    waste: float | None = None
    spare_kits: int = 0
    areas: tuple[str, ...] = ()
    wet_edge: bool | None = None
    flake_price_kg: float | None = None
    batch_l: float | None = None
    after_said: bool = True
    grit_g_l: float | None = None
    """Anti-slip grit in grams a litre; every bucket gets the same dose."""
    over_flake: bool = False
    """Whether it lies on flake. The coat below tells that."""

    def goes_on(self, area: str) -> bool:
        """Whether an area gets this coat: the areas that it names, or all of them."""
        return not self.areas or area in self.areas


def in_file_order(coats: Sequence[Coat]) -> tuple[Coat, ...]:
    """The coats. One that names no `after` goes on the last coat before it in the file that shares an area with it.

    >>> [coat.after for coat in in_file_order([Coat("base", "Base"), Coat("top", "Top")])]
    [None, 'base']
    """
    done: list[Coat] = []
    for place, coat in enumerate(coats):
        if coat.after is None:
            known = {each.name: each.after for each in (*done, *coats[place:])}
            under = next((other for other in reversed(done) if _may_lie_on(coat, other, known)), None)
            done.append(coat if under is None else replace(coat, after=under.name, after_said=False))
        else:
            done.append(coat)
    return tuple(done)


def lying_on_flake(coats: Sequence[Coat]) -> tuple[Coat, ...]:
    """The coats, each told whether the one below it was flaked.

    >>> coats = [Coat("base", "Base", flake_kg_m2=0.4), Coat("top", "Top", after="base")]
    >>> [coat.over_flake for coat in lying_on_flake(coats)]
    [False, True]
    """
    flaked = {coat.name for coat in coats if coat.flake_kg_m2}
    return tuple(replace(coat, over_flake=True) if coat.after in flaked else coat for coat in coats)


def _may_lie_on(coat: Coat, other: Coat, after: Mapping[str, str | None]) -> bool:
    """Whether this coat may lie on the other: they share an area, and the other does not lie on this one."""
    if coat.areas and other.areas and not set(coat.areas) & set(other.areas):
        return False
    seen: list[str] = [other.name]
    while (below := after.get(seen[-1])) is not None and below not in seen:
        seen.append(below)
    return coat.name not in seen


@dataclass(frozen=True)
class Hours:
    """When the crew is on the floor."""

    days: tuple[date, ...] = ()
    start: time = time(7, 30)
    end: time = time(17, 30)
    set_up_s: float | None = None
    """The time to lay out tools and sheeting before the first bucket of a coat; not planned unless the file says it."""
    clean_up_s: float | None = None
    breaks: tuple[tuple[time, float], ...] = ()
    """When each break should begin, and how many seconds it lasts."""

    def with_days_more(self, count: int) -> Hours:
        """The same with so many days after the last one."""
        last = max(self.days)
        return replace(self, days=(*self.days, *(last + timedelta(days=ahead) for ahead in range(1, count + 1))))


@dataclass(frozen=True)
class Forecast:
    """What is expected at one instant (UTC)."""

    at: datetime
    air_c: float | None = None
    rh_pct: float | None = None
    slab_c: float | None = None


@dataclass(frozen=True)
class Site:
    """One job as its file states it."""

    name: str
    zone: str
    areas: tuple[Area, ...]
    coats: tuple[Coat, ...]
    crew: tuple[Person, ...] = ()
    vessels: tuple[Vessel, ...] = ()
    hours: Hours | None = None
    forecast: tuple[Forecast, ...] = ()
    currency: str | None = None
    units: CrewUnits = METRIC_CREW
    """The units that the file names, else those in which it was written."""
    names_units: bool = False
    clock: str | None = None
    door: str | None = None
    mixing_at: str | None = None
    sealed: bool | None = None
    check_in_s: float | None = None
    """Somebody who works alone is called after this long without a statement; None if nobody asked for that."""
    contact: str | None = None
    saw_cuts: tuple[tuple[str, str], ...] = ()
    leads: tuple[tuple[str, float], ...] = ()
    """How many seconds before a step's latest start the crew wants to hear of it."""

    also_works: tuple[tuple[datetime, datetime], ...] = ()
    """When the crew is at work beside its hours: told by what it states, and not by the file."""

    def lead_s(self, step: str) -> float | None:
        """The warning that the crew wants for a step; None for the usual one."""
        return dict(self.leads).get(step)

    @property
    def wall(self) -> ZoneInfo:
        """The zone of the floor, with the clock that its crew reads. Every written time goes by it."""
        month_first = self.names_units and self.units.system == "US"
        return wall_zone(self.zone, clock=self.clock, month_first=month_first)

    @property
    def bare_degrees(self) -> str | None:
        """The scale of a temperature without its letter; None if the job file does not name its units."""
        return self.units.scale("c").unit if self.names_units else None

    def area(self, name: str) -> Area | None:
        """The area of that name."""
        return self._areas_by_name.get(name)

    @cached_property
    def _areas_by_name(self) -> Mapping[str, Area]:
        return {area.name: area for area in reversed(self.areas)}

    @cached_property
    def areas_in_order(self) -> tuple[Area, ...]:
        """The areas in the order of work: first by `order`, then those without an `order`, by name."""
        return tuple(sorted(self.areas, key=lambda area: (area.order is None, area.order or 0, _natural(area.name))))

    @cached_property
    def neighbours(self) -> Mapping[str, tuple[str, ...]]:
        """The areas that touch each area: as the job names them, else those before and after it in order."""
        found: dict[str, dict[str, None]] = {area.name: dict.fromkeys(area.next_to) for area in self.areas}
        if any(area.next_to for area in self.areas):
            for area in self.areas:
                for name in area.next_to:
                    found.setdefault(name, {})[area.name] = None
        else:
            for one, other in pairwise(self.areas_in_order):
                found[one.name][other.name] = found[other.name][one.name] = None
        return {name: tuple(others) for name, others in found.items()}

    def coat(self, name: str) -> Coat | None:
        """The coat of that name."""
        return next((coat for coat in self.coats if coat.name == name), None)

    def gets_flake(self, name: str | None) -> bool:
        """Whether the coat of that name gets flake. Without a name, or of an unknown one, nothing says so."""
        coat = self.coat(name) if name else None
        return coat is not None and coat.flake_kg_m2 is not None

    @property
    def products(self) -> tuple[str, ...]:
        """The products of the coats, each once, in the order of the coats."""
        return tuple(dict.fromkeys(coat.product for coat in self.coats))

    def person(self, name: str) -> Person | None:
        """The person of that name."""
        return next((person for person in self.crew if person.name == name), None)

    def vessel(self, name: str) -> Vessel | None:
        """The vessel of that name."""
        return next((vessel for vessel in self.vessels if vessel.name == name), None)

    def next_coats(self, name: str) -> tuple[Coat, ...]:
        """The coats that go on after this one."""
        return tuple(coat for coat in self.coats if coat.after == name)

    def coats_over(self, name: str, area: str) -> tuple[Coat, ...]:
        """The coats that go on this one on an area. If the next coat does not cover the area, it is those after it."""
        over = ((coat,) if coat.goes_on(area) else self.coats_over(coat.name, area) for coat in self.next_coats(name))
        return tuple(coat for each in over for coat in each)


def _natural(name: str) -> tuple[tuple[int, str], ...]:
    """Sorts bay 2 before bay 10."""
    runs: list[str] = []
    for letter in name.casefold():
        if runs and runs[-1][-1].isdecimal() == letter.isdecimal():
            runs[-1] += letter
        else:
            runs.append(letter)
    return tuple((int(run), "") if run.isdecimal() else (0, run) for run in runs)
