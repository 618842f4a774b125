"""The rolling of a batch that is under way, by two people side by side, as in a batch that is still to be mixed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from mixclock.decide.plan.floor.crew import Crew, times_by_two
from mixclock.decide.plan.floor.plans import FloorPiece
from mixclock.decide.plan.floor.precedence import ROLLED_BY_TWO
from mixclock.decide.plan.floor.setting import OpenStep
from mixclock.values import replace

if TYPE_CHECKING:
    from mixclock.decide.plan.days.coattask import CoatTask

Times = tuple[int | None, ...]


def rolled_by_two(crew: Crew, kind: str, size_m2: float, left: float = 1.0) -> tuple[Times, ...]:
    """How long each of the crew is at a step that two do, and each who comes as the second; empty if no two do it.
    `left` is the share of it that is still to be done."""
    if kind != "roll" or not crew.may_share(kind):
        return ()
    rows = (times_by_two(crew, kind, (FloorPiece("", size_m2, 0.0),), helping) for helping in (False, True))
    return tuple(tuple(None if span is None else max(1, math.ceil(span * left)) for span in row) for row in rows)


def in_two(step: OpenStep) -> tuple[OpenStep, ...]:
    """A step that waits as the shares of two people, where two may do it."""
    if not step.by_two:
        return (step,)
    first, second = step.by_two
    return replace(step, times=first, by_two=()), replace(step, kind=ROLLED_BY_TWO, times=second, by_two=())


def is_sooner_by_two(step: OpenStep, crew: Crew, people_free: Mapping[str, datetime], begins: datetime) -> bool:
    """Whether a step is over sooner if both wait for each other and do it together than if the first who is free
    does it."""
    free = [max(begins, people_free.get(person.name, begins)) for person in crew.people]
    alone = [at + timedelta(seconds=span) for at, span in zip(free, step.times, strict=True) if span is not None]
    rows = step.by_two or ((), ())
    both = [
        max(free[one], free[other]) + timedelta(seconds=max(span, beside))
        for one, span in enumerate(rows[0])
        for other, beside in enumerate(rows[1])
        if one != other and span is not None and beside is not None
    ]
    return bool(both) and (not alone or min(both) < min(alone))


def with_two_rolling(task: CoatTask) -> CoatTask | None:
    """The same coat with two who roll each batch that is under way; None where no such batch waits to be rolled."""
    waiting = tuple((share, opens, by) for step, opens, by in task.waiting for share in in_two(step))
    return replace(task, waiting=waiting) if len(waiting) > len(task.waiting) else None


def padded(step: OpenStep, people: int) -> OpenStep:
    """A step that waits, in a crew of so many: who comes as well takes none of it over."""
    return replace(step, times=_padded(step.times, people), by_two=tuple(_padded(row, people) for row in step.by_two))


def _padded(times: Sequence[int | None], people: int) -> Times:
    return (*times, *(None,) * people)[:people]
