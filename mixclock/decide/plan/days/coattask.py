"""A coat to be laid, the sessions in which the crew lays it, and why it may not fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from mixclock.decide.plan.floor.films import Ground
from mixclock.decide.plan.floor.quantities import SMALL_BUCKET
from mixclock.decide.plan.floor.setting import CoatSetting, OpenStep, Spec
from mixclock.decide.plan.search.schedule import StretchPlan
from mixclock.job.site import Area
from mixclock.job.steps import BACK_ROLL, DWELL, POUR_OUT, RECOAT, RINSE, WET_EDGE
from mixclock.values import dataclass, field


@dataclass(frozen=True)
class Session:
    """A part of a coat that is laid in one stretch."""

    begins: datetime
    laid: StretchPlan

    @property
    def people_free(self) -> tuple[datetime, ...]:
        """When each person is done."""
        net = self.laid.chain.network(self.laid.solution.cuts)
        free = [0] * net.people
        for node, start in enumerate(self.laid.solution.found.starts):
            person = self.laid.solution.staff[node]
            free[person] = max(free[person], start + net.span(node, person))
        return tuple(self.begins + timedelta(seconds=seconds) for seconds in free)

    @property
    def over(self) -> datetime:
        """When its last step is done."""
        return max(self.people_free)


def buckets_in(found: Sequence[Session]) -> int:
    """How many buckets these parts of a coat take."""
    return sum(len(session.laid.solution.cuts) for session in found)


@dataclass(frozen=True)
class CoatRefusal:
    """Why a coat does not fit: the constraint in the way, and where. `by_clocks` tells that its windows and its hands
    forbid it, whatever waits to be done before it; `may_be_cut` that all of its areas could be cut smaller. `to_cut` is
    the area that is too large to go into the same bucket, where that is another one."""

    constraint: str
    area: str | None = None
    by_clocks: bool = False
    may_be_cut: bool = False
    to_cut: str | None = None


@dataclass(frozen=True)
class HopelessWindows:
    """Windows that allowed no order of work in a stretch of `upto_s` seconds or less, and why."""

    windows: Spec
    upto_s: float
    refused: CoatRefusal


@dataclass(frozen=True)
class CoatTask:
    """A coat to be laid: the floor below it, the steps that wait, and when people are free."""

    setting: CoatSetting
    areas: tuple[Area, ...]
    below: Ground = field(default_factory=Ground)
    joined_by: Mapping[str, datetime] = field(default_factory=dict)
    flaked_by: Mapping[str, datetime] = field(default_factory=dict)
    waiting: tuple[tuple[OpenStep, datetime | None, datetime | None], ...] = ()
    people_free: tuple[datetime, ...] = ()
    ignore_hours: bool = False
    more_days: bool = True


STOPPED = "stopped"
TOO_LATE = frozenset({"hours", RECOAT, "conditions"})
"""What is in the way of a coat that comes too late, however it is laid."""

OBSTACLES: Mapping[str, str] = {
    POUR_OUT: "{where}: too big for this warmth, the bucket can't be poured before it goes off: split it",
    BACK_ROLL: "{where}: this crew can't spread and roll it before it stops levelling",
    "broadcast": "{where}: this crew can't flake it while flake still sticks",
    WET_EDGE: "{where}: the next batch can't meet its wet edge",
    "sequence": "{where}: one batch can't follow the other in time",
    DWELL: "{where}: the acid can't be neutralised before it has lain too long",
    RINSE: "{where}: the neutraliser can't be rinsed off in time",
    RECOAT: "{where}: it does not fall inside the recoat window of the coat below",
    "vessel": "{where}: no pail holds what one piece of floor takes",
    SMALL_BUCKET: "{where}: this crew lays too little in its time for a bucket; that is for a patch, on scales",
    "hours": "{where}: it does not fit into the working hours",
    "conditions": "{where}: the conditions never hold long enough",
    STOPPED: "{where}: the search was stopped before anything was found",
}
