"""The shapes in which it is answered whether the next kit may be opened."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from mixclock.values import dataclass

WORTH_SAYING = 0.1
"""A tenth slower or faster is worth a word (judgement)."""


@dataclass(frozen=True)
class DayPace:
    """How long today's steps took for each minute that they should have, and on how many buckets that rests."""

    factor: float = 1.0
    batches: int = 0

    @property
    def worth_saying(self) -> bool:
        """Whether it differs from the job file's rates by more than anybody's watch."""
        return self.batches > 0 and abs(self.factor - 1.0) >= WORTH_SAYING


AS_STATED = DayPace()


@dataclass(frozen=True)
class StillOpen:
    """A step of what is under way that the next bucket is fitted around."""

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
    """What would make it a yes."""

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
    """One thing that makes it a yes: from when, and how much then."""

    what: Frees
    at: datetime | None = None
    volume_l: float | None = None


@dataclass(frozen=True)
class KitAnswer:
    """Whether the next kit may be opened now.

    `mix_at` is when part B goes in by that, `pour_by` when this bucket is to be poured at the latest. `from_when` is
    from when it may be opened, where it has to wait; `edge` is the area whose wet edge decides, `edge_by` until when it
    lasts. `held_by` is the step that somebody is still at. `ways` say what makes a "no" a "yes", the nearest first.
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
