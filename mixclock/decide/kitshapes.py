"""The shapes of the answer to "may the next kit be opened?"."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from mixclock.values import dataclass, replace

WORTH_SAYING = 0.1
"""A pace that is a tenth slower or faster is worth a word (judgement)."""


@dataclass(frozen=True)
class OwnPace:
    """How long one person's steps of a kind took for each planned minute, and how many buckets tell that."""

    who: str
    kind: str
    factor: float
    batches: int

    @property
    def worth_saying(self) -> bool:
        """Whether it differs from that person's rate by more than watches differ."""
        return abs(self.factor - 1.0) >= WORTH_SAYING


@dataclass(frozen=True)
class DayPace:
    """How long a day's steps took for each planned minute, and how many buckets tell that.

    `people` holds what is known of single hands; `others_factor` is that of steps of unknown hands, where it differs.
    """

    factor: float = 1.0
    batches: int = 0
    people: tuple[OwnPace, ...] = ()
    others_factor: float | None = None

    @property
    def of_others(self) -> float:
        """What those go by of whom nothing is known."""
        return self.factor if self.others_factor is None else self.others_factor

    @property
    def worth_saying(self) -> bool:
        """Whether it differs from the job file's rates by more than people's watches differ."""
        told = any(own.worth_saying for own in self.people) or abs(self.of_others - 1.0) >= WORTH_SAYING
        return self.batches > 0 and told

    def of(self, who: str, kind: str) -> float:
        """How long this person takes for a step, for each planned minute.

        >>> pace = DayPace(1.4, 2, (OwnPace("Ana", "roll", 1.5, 1),), 1.2)
        >>> pace.of("Ana", "roll"), pace.of("Ana", "squeegee"), pace.of("Rui", "roll")
        (1.5, 1.2, 1.2)
        """
        known = (own.factor for own in self.people if (own.who, own.kind) == (who, kind))
        return next(known, self.of_others)

    def not_hurried(self) -> DayPace:
        """The same where it is slower than stated; nobody is planned faster than they said."""
        people = tuple(replace(own, factor=max(1.0, own.factor)) for own in self.people)
        others = None if self.others_factor is None else max(1.0, self.others_factor)
        return replace(self, factor=max(1.0, self.factor), people=people, others_factor=others)


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
    paced: tuple[str, ...] = ()
    went: str = ""
    strips: int = 1
