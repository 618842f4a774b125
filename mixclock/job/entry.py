"""What the job log holds: one entry per fact, never changed afterwards.

An entry carries two instants: when the fact happened and when it was written. The facts of each kind are a frozen
class of their own, and every new kind is added to `Facts`.
"""

from __future__ import annotations

import types
import typing
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import ClassVar

from mixclock.job.dayentries import Answered, BackAtWork, KitAsked, PaceDropped, Settled, StoppedWork, Visited
from mixclock.job.frozen import FrozenRecord
from mixclock.job.wherewritten import Origin
from mixclock.values import dataclass, field


class JobStarted(FrozenRecord):
    """A job begins with the text of its file."""

    kind: ClassVar[str] = "job started"
    name: str
    text: str
    origin: str = ""


class JobMended(FrozenRecord):
    """From now on the job goes by this text of its file. `changed` says in words what is different."""

    kind: ClassVar[str] = "job mended"
    text: str
    origin: str = ""
    changed: tuple[str, ...] = ()


class JobFinished(FrozenRecord):
    """Nobody works on the job any more. People may ask for its windows, but nobody is called."""

    kind: ClassVar[str] = "job finished"


class ProfileUsed(FrozenRecord):
    """The profile as it stood when a batch first used it: later edits of the file change no finished job."""

    kind: ClassVar[str] = "profile used"
    product: str
    text: str
    origin: str = ""


class FactorUsed(FrozenRecord):
    """What had been learned of a window's clock when a batch first used it."""

    kind: ClassVar[str] = "factor used"
    product: str
    window: str
    factor: float
    sigma: float
    observations: int
    mass_kg: float = 0.0
    """The largest bucket that somebody saw to its end, if the window is pour-out."""


class CupUsed(FrozenRecord):
    """What a test cup of a lot had shown when a batch of that lot was mixed; `nth` counts the cups of the lot from 1.

    `read_s` and `read_c` are the cup's own temperatures, in seconds from its mixing; `end_s` when its end was seen.
    """

    kind: ClassVar[str] = "cup used"
    product: str
    lot: str
    nth: int
    mass_kg: float
    material_c: float
    air_c: float
    read_s: tuple[float, ...] = ()
    read_c: tuple[float, ...] = ()
    end_s: float | None = None


class FactorDropped(FrozenRecord):
    """A person dropped what had been learned of a window's clock."""

    kind: ClassVar[str] = "factor dropped"
    product: str
    window: str


class Combined(FrozenRecord):
    """Part B met part A: the batch's clock starts. `ended` tells whether mixing was over when it was stated."""

    kind: ClassVar[str] = "combined"
    product: str
    areas: tuple[str, ...]
    coat: str | None = None
    volume_l: float | None = None
    mass_kg: float | None = None
    a_l: float | None = None
    a_kg: float | None = None
    b_l: float | None = None
    b_kg: float | None = None
    material_c: float | None = None
    lot: str | None = None
    lot_a: str | None = None
    lot_b: str | None = None
    vessel: str | None = None
    mixing_s: float | None = None
    ended: bool = False
    spot: str | None = None
    """What a small mix outside the plan is for. Its place is then a note, and no area of the floor."""

    def amount(self, kg_l: float) -> tuple[float, float]:
        """Litres and kilograms of the mixed product. If only one was stated, the density gives the other.

        >>> Combined("Slow epoxy base", ("bay 1",), volume_l=6.0).amount(1.1)
        (6.0, 6.6000000000000005)
        """
        volume_l, mass_kg = self.volume_l, self.mass_kg
        if volume_l is None and mass_kg is None:
            if self.a_kg is not None and self.b_kg is not None:
                mass_kg = self.a_kg + self.b_kg
            else:
                volume_l = (self.a_l or 0.0) + (self.b_l or 0.0)
        if volume_l is None:
            volume_l = (mass_kg or 0.0) / kg_l
        return volume_l, mass_kg if mass_kg is not None else volume_l * kg_l


class MixingEnded(FrozenRecord):
    """The drill is out of the bucket."""

    kind: ClassVar[str] = "mixing ended"
    batch: int


class Poured(FrozenRecord):
    """A bucket, or a part of it, is out on the floor."""

    kind: ClassVar[str] = "poured"
    batch: int
    areas: tuple[str, ...] = ()
    part_l: float | None = None
    part_kg: float | None = None
    covered_m2: float | None = None


class Dumped(FrozenRecord):
    """What was left in a bucket was taken outside, spread thin and thrown away. `share` is how much of it that was."""

    kind: ClassVar[str] = "dumped"
    batch: int
    share: str | None = None


class Did(FrozenRecord):
    """A step is finished: back-roll, broadcast, scrape, neutralise, rinse."""

    kind: ClassVar[str] = "did"
    step: str
    batch: int | None = None
    areas: tuple[str, ...] = ()


class Began(FrozenRecord):
    """Somebody is on a step. Nobody is called for it until its early edge."""

    kind: ClassVar[str] = "began"
    step: str
    batch: int | None = None
    areas: tuple[str, ...] = ()


class Reading(FrozenRecord):
    """Conditions as measured. Without an area a slab temperature holds for the whole floor.

    `how` tells with what a slab was read: contact, or infrared (from within 20 cm, on matt concrete or tape).
    """

    kind: ClassVar[str] = "reading"
    air_c: float | None = None
    rh_pct: float | None = None
    slab_c: float | None = None
    area: str | None = None
    bucket_c: float | None = None
    batch: int | None = None
    logger: str | None = None
    how: str | None = None


class Measured(FrozenRecord):
    """A measurement on the floor: wet film, moisture, pH, hardness, texture. `unit` is "" where there is none."""

    kind: ClassVar[str] = "measured"
    quantity: str
    value: float
    unit: str
    area: str | None = None
    batch: int | None = None


class Noted(FrozenRecord):
    """Something worth remembering: somebody lit the heater, or opened a door."""

    kind: ClassVar[str] = "noted"
    text: str
    area: str | None = None
    batch: int | None = None


class PhotoTaken(FrozenRecord):
    """A picture; the book keeps a small copy and the original's SHA-256."""

    kind: ClassVar[str] = "photo"
    name: str
    sha256: str
    area: str | None = None
    batch: int | None = None


class Traffic(FrozenRecord):
    """Feet or wheels went over an area."""

    kind: ClassVar[str] = "traffic"
    area: str
    by_what: str


class Saw(FrozenRecord):
    """Somebody saw a sign on a batch or an area: stringy, skinned, tack free, hard, hot."""

    kind: ClassVar[str] = "saw"
    sign: str
    batch: int | None = None
    area: str | None = None


class Found(FrozenRecord):
    """Somebody found a fault on an area."""

    kind: ClassVar[str] = "found"
    area: str
    symptom: str
    shape: str | None = None


class Heard(FrozenRecord):
    """Somebody heard an alert; without an id, all that stood. It pauses repeats, and clears alerts on what is lost."""

    kind: ClassVar[str] = "heard"
    alerts: tuple[str, ...] = ()


class Withdrawn(FrozenRecord):
    """An earlier entry was a mistake. It stays visible and no longer counts."""

    kind: ClassVar[str] = "withdrawn"
    entry: int


class Raised(FrozenRecord):
    """The daemon is about to put this before the crew. It writes the entry before it sends anything."""

    kind: ClassVar[str] = "raised"
    alert: str
    stage: str
    rank: str
    text: str
    due: str
    batch: int | None = None
    area: str | None = None
    who: str | None = None
    repeat: int = 0
    late_s: float | None = None
    together_with: tuple[str, ...] = ()
    again_after_crash: bool = False


class Delivered(FrozenRecord):
    """What a channel answered about a raised alert. Without such an entry nothing was delivered."""

    kind: ClassVar[str] = "delivered"
    raised: int
    channel: str
    outcome: str
    detail: str = ""
    shown: bool | None = None


class Planned(FrozenRecord):
    """A plan that was made, so that the next one can say what changed."""

    kind: ClassVar[str] = "planned"
    plan: str


class ForecastTaken(FrozenRecord):
    """A forecast that somebody took in: for each instant air, humidity and slab, or None if it does not say.

    From its first instant to its last it replaces the job file's forecast and earlier ones. `slab_by` says how the slab
    follows from the air, if the forecast itself names none.
    """

    kind: ClassVar[str] = "forecast"
    source: str
    at: tuple[str, ...]
    air_c: tuple[float | None, ...] = ()
    rh_pct: tuple[float | None, ...] = ()
    slab_c: tuple[float | None, ...] = ()
    issued: str | None = None
    slab_by: str = ""


class WatchEvent(FrozenRecord):
    """What befell the daemon: started, stopped, the machine slept, the clock was stepped."""

    kind: ClassVar[str] = "watch"
    event: str
    detail: str = ""
    gap_s: float | None = None


class Unreadable(FrozenRecord):
    """Stands in for an entry that the disk does not give back as written. It holds the entry's kind, if readable."""

    kind: ClassVar[str] = "unreadable"
    was: str
    why: str = ""


Facts = (
    JobStarted
    | JobMended
    | JobFinished
    | ProfileUsed
    | FactorUsed
    | CupUsed
    | FactorDropped
    | Combined
    | MixingEnded
    | Poured
    | Dumped
    | Did
    | Began
    | Reading
    | Measured
    | Noted
    | PhotoTaken
    | Traffic
    | Saw
    | Found
    | Heard
    | Withdrawn
    | Raised
    | Delivered
    | Planned
    | ForecastTaken
    | WatchEvent
    | KitAsked
    | Answered
    | StoppedWork
    | BackAtWork
    | Visited
    | Settled
    | PaceDropped
    | Unreadable
)

TOLD_BY_MACHINE = tuple(facts.kind for facts in (Raised, Delivered, Planned, WatchEvent))
"""Kinds of entries that matter only to alerts; a statement need not read them."""

KINDS: Mapping[str, type[Facts]] = types.MappingProxyType({facts.kind: facts for facts in typing.get_args(Facts)})


@dataclass(frozen=True)
class Entry:
    """One line of the job log. `number` counts in this book, `mark` is the same in every book; times are UTC."""

    number: int
    job: str
    happened: datetime
    written: datetime
    facts: Facts
    by: str | None = None
    note: str | None = None
    boot_id: str = ""
    boot_s: float = 0.0
    moved_s: float = 0.0
    """By how much its times were moved after it was written, because somebody set the wall clock (`steppedclock`)."""
    origin: Origin | None = None
    mark: str = field(default="", compare=False, repr=False)

    def __post_init__(self) -> None:
        """Refuse a time without its zone: added up later it would be wrong by an hour twice a year."""
        for name, instant in (("happened", self.happened), ("written", self.written)):
            if instant.tzinfo is not UTC:
                raise ValueError(f"{name} must be in UTC, got {instant!r}")
