"""The shapes in which a plan is given."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from mixclock.decide.plan.floor.placenames import part_named
from mixclock.values import dataclass, field

FINEST = 10_000
"""Into so many parts an area is thought to be divided, where a bucket may end anywhere in it."""

BREAK = "break"
"""The step in which somebody rests."""


@dataclass(frozen=True)
class FloorPiece:
    """A piece of floor for one bucket at most: a whole area, or a part of one that is too large.

    Parts of an area are equal, unless `thousandths` says at which of them, to a tenth, this one begins and ends.
    """

    area: str
    size_m2: float
    edge_m: float
    part: int = 1
    parts: int = 1
    texture_um: float = 0.0
    upright_m2: float = 0.0
    thousandths: tuple[float, float] | None = None

    @property
    def said(self) -> str:
        """The piece by its name, which `areas_said` puts as a person says it."""
        return self.area if self.parts == 1 else part_named(self.area, *self._lies_in)

    @property
    def _lies_in(self) -> tuple[int, int, int]:
        """Its first and last part, of how many equal ones."""
        if self.thousandths is None:
            return self.part, self.part, self.parts
        begin, end = (round(line * FINEST / 1000.0) for line in self.thousandths)
        return begin + 1, end, FINEST


def areas_of(pieces: Iterable[FloorPiece]) -> tuple[str, ...]:
    """The areas in which these pieces lie, each once."""
    return tuple(dict.fromkeys(piece.area for piece in pieces))


FROM_THE_JOINT = "begin at the joint, into the wet edge"
"""The note of a squeegee that joins what lies beside it."""


@dataclass(frozen=True)
class PlannedStep:
    """One person's one task. `by` is the early edge that it must be finished by, `slack_s` what is left until then;
    `beside` names who does the same step of the same batch with them."""

    kind: str
    who: str
    starts: datetime
    ends: datetime
    coat: str
    batch: int | None = None
    areas: tuple[str, ...] = ()
    window: str | None = None
    by: datetime | None = None
    slack_s: float | None = None
    note: str = ""
    beside: str | None = None
    strip: int | None = None
    """On which of its bucket's strips, counted from 1; None where the bucket is poured out at once."""


@dataclass(frozen=True)
class PlannedWindow:
    """A window of a planned batch: from its start to its early edge (closing) or its safe edge (opening)."""

    name: str
    batch: int
    starts: datetime
    opens: datetime | None
    closes: datetime | None
    likely_closes: datetime | None = None
    sure: bool = True
    """Whether some hour is sure. If none is, both edges stand where they are likely."""


@dataclass(frozen=True)
class PlannedBatch:
    """One bucket: what goes in, where it goes, and by when it must be out. `set_by` says what sets its size."""

    number: int
    coat: str
    product: str
    pieces: tuple[FloorPiece, ...]
    volume_l: float
    mass_kg: float
    needed_l: float
    kits: float | None
    a_l: float | None
    b_l: float | None
    a_kg: float | None
    b_kg: float | None
    mixed_at: datetime
    poured_at: datetime
    pour_by: datetime | None
    vessel: str
    set_by: str
    windows: tuple[PlannedWindow, ...] = ()
    flake_kg: float = 0.0
    strips: int = 1
    """In how many equal strips it is poured out; its windows count from the last."""

    @property
    def areas(self) -> tuple[str, ...]:
        """The areas it goes on, each once."""
        return areas_of(self.pieces)

    @property
    def size_m2(self) -> float:
        """What it covers."""
        return sum(piece.size_m2 for piece in self.pieces)


@dataclass(frozen=True)
class Obstacle:
    """Why nothing fits: the constraint in the way, and where."""

    constraint: str
    said: str
    coat: str | None = None
    area: str | None = None


@dataclass(frozen=True)
class FreeingChange:
    """A change that frees the plan, found by planning again with it."""

    direction: str
    said: str
    finish: datetime | None
    batches: int


@dataclass(frozen=True)
class Chance:
    """How likely the plan holds: days simulated, share that held, and what broke first, most often first; the share on
    which every window of the material held, and that on which all ended in working hours."""

    days: int
    holds: float
    breaks: tuple[tuple[str, float], ...] = ()
    seed: int = 0
    windows_hold: float | None = None
    hours_hold: float | None = None


@dataclass(frozen=True)
class SoonestFinish:
    """The finish of the plan with nothing in reserve, beside the one that is given, and how likely it is."""

    finish: datetime
    holds: float


@dataclass(frozen=True)
class Plan:
    """A timed plan, or why there is none: its steps are then those of the nearest, and `breaks` what that breaks."""

    job: str
    begins: datetime
    batches: tuple[PlannedBatch, ...]
    steps: tuple[PlannedStep, ...]
    assumed: tuple[str, ...] = ()
    obstacle: Obstacle | None = None
    changes: tuple[FreeingChange, ...] = ()
    chance: Chance | None = None
    changed: tuple[str, ...] = ()
    stopped_early: bool = False
    kept: tuple[int, ...] = ()
    warnings: tuple[str, ...] = field(default=())
    soonest: SoonestFinish | None = None
    breaks: tuple[str, ...] = ()

    @property
    def feasible(self) -> bool:
        """Whether every step falls inside its windows."""
        return self.obstacle is None

    @property
    def finish(self) -> datetime | None:
        """When the last step ends."""
        return max((step.ends for step in self.steps), default=None)

    @property
    def tightest(self) -> PlannedStep | None:
        """The step with the least to spare; a break may be late."""
        bounded = [step for step in self.steps if step.slack_s is not None and step.kind != BREAK]
        return min(bounded, key=lambda step: (step.slack_s or 0.0, step.starts), default=None)
