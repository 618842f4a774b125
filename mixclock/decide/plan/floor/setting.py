"""What one coat's search rests on, and what a batch of it is."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from mixclock.decide.plan.floor.crew import Crew
from mixclock.decide.plan.floor.plans import FloorPiece
from mixclock.decide.plan.floor.quantities import Amounts
from mixclock.decide.plan.floor.timing import NEVER_S, Timing
from mixclock.job.profile import Profile
from mixclock.job.site import Coat, Site
from mixclock.values import dataclass, field


@dataclass(frozen=True)
class OpenStep:
    """A step that is open before the first batch: scraping the coat below, or what a live batch still needs. What is
    `at_once` is late already: nobody measures out for another bucket before it is done."""

    kind: str
    batch: int | None
    areas: tuple[str, ...]
    times: tuple[int | None, ...]
    by_two: tuple[tuple[int | None, ...], ...] = ()
    """How long it takes each if two do it side by side, and each who comes as the second; empty if no two do."""

    release_s: int = 0
    deadline_s: int = NEVER_S
    first: bool = False
    at_once: bool = False
    window: str | None = None
    strip: int | None = None
    """On which strip of its bucket, counted from 1, where that is laid in strips."""

    note: str = ""
    meets: tuple[str, ...] = ()
    """The areas whose first spread must meet the film of this pour at most `wet_s` after it."""

    wet_s: int = NEVER_S


@dataclass(frozen=True)
class Bounds:
    """When an area may be poured, seen from the coat below and from what lies beside it already."""

    not_before_s: int = 0
    not_after_s: int = NEVER_S
    joined_by_s: int = NEVER_S
    flaked_by_s: int = NEVER_S
    """By when the flake of the area has to be begun, so that it sticks on the bare strip of the film beside it too."""


@dataclass(frozen=True)
class CoatSetting:
    """All that one coat's search rests on; times count from `begins`. An etch has its neutraliser with it; `beside`
    names the areas for which a bucket of that stands mixed already, with its number."""

    site: Site
    coat: Coat
    profile: Profile
    crew: Crew
    timing: Timing
    begins: datetime
    pieces: tuple[FloorPiece, ...]
    wet_pairs: frozenset[tuple[str, str]]
    bounds: Mapping[str, Bounds] = field(default_factory=dict)
    waiting: tuple[OpenStep, ...] = ()
    carry: Mapping[str, int] = field(default_factory=dict)
    ends_s: int = NEVER_S
    people_free_s: tuple[int, ...] = ()
    reserve: float = 1.0
    ignore: frozenset[str] = frozenset()
    neutraliser: tuple[Coat, Profile] | None = None
    beside: Mapping[str, int] = field(default_factory=dict)
    helped: tuple[str, ...] = ()
    """The steps of a batch that two do together: its edges, half each, or the rolling, side by side."""

    helped_only: str = ""
    """Whether that is so with the `first` batch only, or the `last`, when nobody has another bucket to mix."""

    helped_by: Mapping[int, tuple[int, int]] = field(default_factory=dict)
    """Which two roll the batch that begins with a piece, where that is chosen batch by batch; the others are not
    helped."""

    by_quickest: bool = False
    """Whether only the quickest two roll together, whose joined rate is known, or any two."""

    strips: int = 1
    """In how many equal strips a bucket is poured out, each rolled in its own time."""

    followed_s: Mapping[str, int] = field(default_factory=dict)
    """How long after an area is poured the coat above is done: the floor hardens, then the next coat goes on."""

    def is_helped(self, first: int, end: int) -> bool:
        """Whether two do the `helped` steps of the batch of these pieces."""
        if self.helped_by:
            return first in self.helped_by
        only: bool = {"first": first == 0, "last": end == len(self.pieces)}.get(self.helped_only, True)
        return only

    def met_on(self, area: str) -> tuple[list[int], int]:
        """What the first spread on an area has to meet: the pours of live buckets beside it, by their places among the
        open steps; or the film that lies there, by when."""
        pours = [place for place, wait in enumerate(self.waiting) if area in wait.meets]
        lying = self.bounds.get(area)
        return pours, NEVER_S if pours or lying is None else lying.joined_by_s


@dataclass(frozen=True)
class Load:
    """What one batch takes, how long each step takes each person and the quickest of them, and when each is over at the
    soonest, at any hour."""

    amounts: Amounts
    times: tuple[tuple[int | None, ...], ...]
    quickest: Mapping[str, int]
    ends: Mapping[str, int]


@dataclass(frozen=True)
class Spec:
    """One batch: what it takes, how long each step takes each person, and its windows in whole seconds."""

    amounts: Amounts
    times: tuple[tuple[int | None, ...], ...]
    closes: Mapping[str, int]
    opens: Mapping[str, int]
