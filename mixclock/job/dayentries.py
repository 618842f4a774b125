"""What the job log holds of the day around the buckets: answered questions, interruptions, later visits."""

from __future__ import annotations

from typing import ClassVar

from mixclock.job.frozen import FrozenRecord


class KitAsked(FrozenRecord):
    """Somebody asked whether the next kit may be opened, and mixclock answered yes, wait or no."""

    kind: ClassVar[str] = "kit asked"
    verdict: str
    why: str
    coat: str | None = None
    areas: tuple[str, ...] = ()
    volume_l: float | None = None
    said: str = ""


class Answered(FrozenRecord):
    """Somebody answered one item of a round (ready, evening, morning). An unanswered item has no entry.

    `fine` tells whether it is the answer that one hopes for; None if no answer is better than another.
    """

    kind: ClassVar[str] = "answered"
    round: str
    item: str
    answer: str
    fine: bool | None = None
    area: str | None = None
    coat: str | None = None


class StoppedWork(FrozenRecord):
    """Somebody was called away from what was under way."""

    kind: ClassVar[str] = "stopped"
    why: str = ""


class BackAtWork(FrozenRecord):
    """Whoever was called away is back."""

    kind: ClassVar[str] = "back"


class Visited(FrozenRecord):
    """A later visit to a floor that was handed over: a call-back. The job is worked on again until it is finished."""

    kind: ClassVar[str] = "visited"
    why: str = ""


class Settled(FrozenRecord):
    """Somebody put a finding on an area right; `how` says by what."""

    kind: ClassVar[str] = "settled"
    area: str
    how: str
    finding: int | None = None


class PaceDropped(FrozenRecord):
    """A person dropped what this job tells about how fast its crew is."""

    kind: ClassVar[str] = "pace dropped"
