"""How fast each of a crew really is at a step, beside their own rates, where it is known whose hands did it.

Hands are known where only one of the crew does the step, or where one of those who do it stated it. A step counts from
its stated begin, else from when the same hands were done with the one before, and only if it could begin then.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from functools import cached_property

from mixclock.decide.plan.floor.crew import Crew, times_of
from mixclock.decide.plan.floor.plans import FloorPiece
from mixclock.decide.plan.floor.precedence import FLAKE_LAG_S
from mixclock.job import practice
from mixclock.job.progress import Batch, Portion, Standing, StatedFact
from mixclock.job.site import Site
from mixclock.job.steps import BACK_ROLL, BROADCAST
from mixclock.values import dataclass

KIND_OF = {BACK_ROLL: "roll", BROADCAST: "broadcast"}


def worked_s(site: Site, begun: datetime, ended: datetime) -> float:
    """The seconds between two instants, without the breaks of the job file in between."""
    span_s = (ended - begun).total_seconds()
    for clock, long_s in site.hours.breaks if site.hours is not None else ():
        starts = datetime.combine(begun.astimezone(site.wall).date(), clock, site.wall)
        over = starts + timedelta(seconds=long_s)
        span_s -= max(0.0, (min(over, ended) - max(starts, begun)).total_seconds())
    return span_s


def piece_of(site: Site, portion: Portion) -> FloorPiece | None:
    """The floor that a portion covered, with its edges; None if nobody knows its size."""
    areas = [area for name in portion.areas if (area := site.area(name)) is not None]
    size_m2 = sum(area.size_m2 for area in areas)
    covered_m2 = min(size_m2, portion.covered_m2) if portion.covered_m2 is not None else size_m2
    if size_m2 <= 0.0 or covered_m2 <= 0.0:
        return None
    edge_m = sum(practice.edge_m(area).value for area in areas) * covered_m2 / size_m2
    return FloorPiece("", covered_m2, edge_m)


@dataclass(frozen=True)
class OwnShare:
    """How long one person took for a kind of step on a portion, beside their own rate."""

    who: str
    kind: str
    share: float


@dataclass(frozen=True)
class _EndedStep:
    """A step that somebody's hands ended on a portion."""

    who: int | None
    kind: str
    batch: Batch
    portion: Portion
    began: datetime | None
    ended: datetime


class KnownHands:
    """What the statements of a job tell of each of its crew."""

    def __init__(self, standing: Standing, crew: Crew) -> None:
        self._standing, self._crew = standing, crew

    def shares(self, batch: Batch) -> Iterator[OwnShare]:
        """What is known of whoever rolled and flaked a batch."""
        for done in self._done:
            if done.batch is batch:
                yield from self._of(done)

    def know_all(self, batch: Batch) -> bool:
        """Whether every step that was stated of a batch tells of somebody's pace."""
        mine = [done for done in self._done if done.batch is batch]
        return bool(mine) and all(any(self._of(done)) for done in mine)

    @cached_property
    def _done(self) -> list[_EndedStep]:
        return [
            _EndedStep(
                self._hands(kind, ends), kind, batch, portion, _begin(step, portion), max(end.at for end in ends)
            )
            for batch in self._standing.batches
            for portion in batch.portions
            for step, kind in KIND_OF.items()
            if portion.assumed is None and (ends := _every(portion.step(step, area) for area in portion.areas))
        ]

    def _hands(self, kind: str, ends: Sequence[StatedFact]) -> int | None:
        """Who did a step; None where that is not known."""
        able = [who for who, may in enumerate(self._crew.able(kind)) if may]
        if len(able) == 1:
            return able[0]
        said = {(end.by or "").casefold() for end in ends}
        return next((who for who in able if said == {self._crew.people[who].name.casefold()}), None)

    def _of(self, done: _EndedStep) -> Iterator[OwnShare]:
        """The share of a step of known hands; nothing where waiting or other work may be in it."""
        piece = piece_of(self._standing.site, done.portion)
        if done.who is None or piece is None:
            return
        begins = done.began or self._free_from(done, piece)
        if begins is None or begins >= done.ended or self._is_elsewhere(done, done.who, begins):
            return
        kinds = self._in_one_go(done, done.who, piece)
        should_s = sum(times_of(self._crew, kind, (piece,), {})[done.who] or 0 for kind in kinds)
        if should_s > 0:
            share = worked_s(self._standing.site, begins, done.ended) / should_s
            for kind in kinds:
                yield OwnShare(self._crew.people[done.who].name, kind, share)

    def _in_one_go(self, done: _EndedStep, who: int, piece: FloorPiece) -> tuple[str, ...]:
        """What the time was for: who alone cuts in does that before rolling; where others may too, nobody knows."""
        if done.kind != "roll" or done.began is not None or piece.edge_m <= 0.0:
            return (done.kind,)
        cut_in = self._crew.able("cut-in")
        return ("cut-in", "roll") if cut_in[who] and sum(cut_in) == 1 else ()

    def _free_from(self, done: _EndedStep, piece: FloorPiece) -> datetime | None:
        """When the hands were done with the step before, if this one waited for them already; else None."""
        last = max(
            (each.ended for each in self._done if each.who == done.who and each.ended < done.ended), default=None
        )
        if last is None:
            return None
        if done.kind == "roll":
            spans = times_of(self._crew, "squeegee", (piece,), {})
            spread = done.portion.poured.at + timedelta(seconds=max(span or 0 for span in spans))
            return last if spread <= last else None
        rolled = next((each for each in self._done if each.portion is done.portion and each.kind == "roll"), None)
        if rolled is None or rolled.ended > last:
            return None
        rolling_s = min(span for span in times_of(self._crew, "roll", (piece,), {}) if span is not None)
        return max(last, rolled.ended + timedelta(seconds=max(0, FLAKE_LAG_S - rolling_s)))

    def _is_elsewhere(self, done: _EndedStep, who: int, begins: datetime) -> bool:
        """Whether the same hands did something else meanwhile, or may have."""
        stated = [each.ended for each in self._done if each is not done and each.who in (who, None)]
        names = ("", self._crew.people[who].name.casefold())
        for batch in self._standing.batches:
            facts = [("mix", batch.combined), *(("pour", portion.poured) for portion in batch.portions)]
            stated += [
                fact.at for kind, fact in facts if self._crew.able(kind)[who] and (fact.by or "").casefold() in names
            ]
        return any(begins < at < done.ended for at in stated)


def _begin(step: str, portion: Portion) -> datetime | None:
    """When a step was stated as begun on the whole of a portion."""
    begins = _every(portion.began.get((step, area)) for area in portion.areas)
    return min((begin.at for begin in begins), default=None)


def _every(facts: Iterable[StatedFact | None]) -> list[StatedFact]:
    """All of them, or none where one was not stated."""
    found = list(facts)
    return [fact for fact in found if fact is not None] if None not in found else []
