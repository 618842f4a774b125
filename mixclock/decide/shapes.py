"""The shapes in which decisions are given: edges, windows and alerts."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from mixclock.decide.kitshapes import KitAnswer
from mixclock.job.steps import Rank, Stage
from mixclock.values import dataclass


@dataclass(frozen=True)
class Edge:
    """One edge of a window: the 10th, 50th and 90th percentile. `late` is None if nobody may claim a band."""

    early: datetime
    likely: datetime
    late: datetime | None

    def __post_init__(self) -> None:
        """Early, likely and late keep their order whatever the arithmetic did."""
        if self.early > self.likely or (self.late is not None and self.likely > self.late):
            raise ValueError(f"an edge must be in order: {self.early}, {self.likely}, {self.late}")

    @property
    def last(self) -> datetime:
        """The latest that it may come: its late time, or its likely time if nobody may claim a band."""
        return self.late if self.late is not None else self.likely

    @property
    def safe_open(self) -> datetime:
        """From when an opening edge may be relied on."""
        return self.last

    @property
    def at_likely(self) -> Edge:
        """The edge of a window whose doubt is wider than the window: the crew is called at its likely time."""
        return Edge(self.likely, self.likely, self.late)


def is_sure(opens: Edge | None, closes: Edge | None) -> bool:
    """Whether some hour surely suits: the window opens before it shuts, with all doubt counted."""
    return opens is None or closes is None or opens.safe_open < closes.early


def open_from(opens: Edge | None, closes: Edge | None) -> datetime | None:
    """From when a crew is told that a window of these edges is open."""
    if opens is None:
        return None
    return opens.safe_open if is_sure(opens, closes) else opens.likely


class State(StrEnum):
    """Where a window stands."""

    WAITING = "waiting"
    OPEN = "open"
    CLOSING = "closing"
    CLOSED = "closed"
    DONE = "done"
    MISSED = "missed"


@dataclass(frozen=True)
class Window:
    """A span in which a step is allowed, for one portion of one batch on one area.

    `starts` is when its clock began, and `stated` is when somebody stated the step as done. `latest_start` is when this
    crew must begin to be finished by the early edge; `heads_up` comes before that. `ripeness_*` is how far the clock
    has run now, or had run when the step was stated. `provisional` tells that the start itself is an assumption.
    """

    name: str
    batch: int | None
    area: str | None
    portion: int
    starts: datetime
    opens: Edge | None
    closes: Edge | None
    state: State
    ripeness_opens: float | None
    ripeness_closes: float | None
    because: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    stated: datetime | None = None
    began: datetime | None = None
    latest_start: datetime | None = None
    heads_up: datetime | None = None
    who: str | None = None
    provisional: bool = False
    coat: str | None = None
    product: str | None = None
    no_date: str = ""
    """Why the window has no opening date. It then waits, whatever the clock says."""

    @property
    def sure(self) -> bool:
        """Whether some hour surely suits. If not, both edges are called at their likely times, and said to be
        unsure."""
        return is_sure(self.opens, self.closes)

    @property
    def open_from(self) -> datetime | None:
        """From when a crew is told that it is open."""
        return open_from(self.opens, self.closes)

    @property
    def called(self) -> Edge | None:
        """The closing edge by which a crew is called."""
        return self.closes if self.closes is None or self.sure else self.closes.at_likely


@dataclass(frozen=True)
class JointBatch:
    """The batch in a bucket that is meant for the joint."""

    number: int


@dataclass(frozen=True)
class NextBatch:
    """The batch that the plan wants started."""

    number: int
    volume_l: float
    coat: str


@dataclass(frozen=True)
class Shortage:
    """How much material will be missing at the present rate of use."""

    missing_l: float


@dataclass(frozen=True)
class MarginState:
    """How far the slab is over the dew point, how far it must be, and whether that margin is falling."""

    margin_k: float
    limit_k: float
    falling: bool


@dataclass(frozen=True)
class Trouble:
    """What cannot be worked out, and why."""

    what: str
    why: str


@dataclass(frozen=True)
class Quiet:
    """How long somebody who works alone has stated nothing, and who is told."""

    span_s: float
    contact: str | None = None


@dataclass(frozen=True)
class Smoke:
    """A bucket that somebody saw smoke: nobody carries it any more."""


@dataclass(frozen=True)
class EarlierStep:
    """An earlier step that fell due and that nobody can have heard: it is said along with this one."""

    of: Alert


Detail = JointBatch | NextBatch | Shortage | MarginState | Trouble | KitAnswer | Quiet | Smoke | EarlierStep
"""What an alert's words need beside its step, its place and its window."""


@dataclass(frozen=True)
class Alert:
    """Something that the crew must hear, at its present stage.

    `id` names the step, not the stage ("b3.pour-out"); `due` is when this stage fell due. `step` names its row
    in the table of steps, or a window of a profile's own name. `window` is the window that it rests on,
    where there is one.
    """

    id: str
    step: str
    rank: Rank
    stage: Stage
    due: datetime
    batch: int | None = None
    area: str | None = None
    who: str | None = None
    window: Window | None = None
    standing: bool = False
    detail: Detail | None = None
