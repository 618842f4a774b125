"""The shapes of the answer to "may the next kit be opened?"."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from mixclock.values import dataclass

WORTH_SAYING = 0.1
"""A pace that is a tenth slower or faster is worth a word (judgement)."""


@dataclass(frozen=True)
class DayPace:
    """How long today's steps took for each planned minute, and how many buckets tell that."""

    factor: float = 1.0
    batches: int = 0

    @property
    def worth_saying(self) -> bool:
        """Whether it differs from the job file's rates by more than people's watches differ."""
        return self.batches > 0 and abs(self.factor - 1.0) >= WORTH_SAYING


AS_STATED = DayPace()


@dataclass(frozen=True)
class StillOpen:
    """A step still open on a live batch. The next bucket has to fit around it."""

    kind: str
    batch: int | None
    areas: tuple[str, ...]
    ends: datetime


class KitVerdict(StrEnum):
    """The answer in a word."""

    YES = "yes"
    WAIT = "wait"
    NO = "no"


class Why(StrEnum):
    """What the answer rests on."""

    FITS = "fits"
    FINISHED = "finished"
    DONE = "done"
    NO_FILE = "no job file"
    HOT = "hot"
    GONE = "gone"
    NO_SHEET = "no sheet"
    MATERIAL = "material"
    BUSY = "busy"
    FLOOR = "floor"
    HOURS = "hours"
    CONDITIONS = "conditions"
    EDGE = "edge"
    EDGE_GONE = "edge gone"
    CREW = "crew"


class Frees(StrEnum):
    """The things that could turn a "no" into a "yes"."""

    WAIT = "wait"
    TAPE = "taped line"
    SMALLER = "smaller"
    OUTSIDE = "outside"
    FETCH = "fetch"
    OTHER_DAY = "other day"
    CONDITIONS = "conditions"
    SHEET = "sheet"
    HANDS = "hands"


@dataclass(frozen=True)
class Way:
    """One thing that turns the answer into a "yes": from when, and for how much."""

    what: Frees
    at: datetime | None = None
    volume_l: float | None = None


@dataclass(frozen=True)
class KitAnswer:
    """Whether the next kit may be opened now.

    `mix_at` is when part B then goes in. `pour_by` is when the bucket must be poured at the latest. If the kit has to
    wait, `from_when` is when it may be opened. `edge` is the area whose wet edge decides, and `edge_by` is when that
    edge ends. `held_by` is the step that somebody is still at. `ways` turn a "no" into a "yes", the nearest first.
    `went` says how far the coat's buckets went so far, where that was not as planned: the answer goes by it.
    """

    verdict: KitVerdict
    why: Why
    coat: str | None = None
    product: str | None = None
    areas: tuple[str, ...] = ()
    volume_l: float | None = None
    mass_kg: float | None = None
    kits: float | None = None
    mix_at: datetime | None = None
    pour_by: datetime | None = None
    from_when: datetime | None = None
    edge: str | None = None
    edge_by: datetime | None = None
    batch: int | None = None
    held_by: StillOpen | None = None
    said: str = ""
    left_l: float | None = None
    ways: tuple[Way, ...] = ()
    pace: DayPace = AS_STATED
    went: str = ""
    strips: int = 1
