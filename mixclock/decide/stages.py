"""How far a batch has come, in one word."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from enum import StrEnum

from mixclock.decide.shapes import State, Window
from mixclock.job.candidates import step_done
from mixclock.job.progress import Batch, Standing
from mixclock.job.steps import BACK_ROLL, BROADCAST, INDUCTION


class BatchStage(StrEnum):
    """The last thing that happened to a batch; `standing` is its induction."""

    MIXED = "mixed"
    STANDING = "standing"
    POURED = "poured"
    ROLLED = "rolled"
    FLAKED = "flaked"
    DONE = "done"


IN_THE_BUCKET = (BatchStage.MIXED, BatchStage.STANDING)


def stage_of(standing: Standing, batch: Batch, seen: Iterable[Window], now: datetime) -> BatchStage:
    """The stage of a batch at an instant. It is done when none of its windows waits for anything any more."""
    reached = stage_reached(standing, batch, now)
    if reached in IN_THE_BUCKET or not all(is_settled(window) for window in seen if window.batch == batch.id):
        return reached
    return BatchStage.DONE


def stage_reached(standing: Standing, batch: Batch, now: datetime) -> BatchStage:
    """The same by what was stated alone, before its windows are worked out: a batch on the floor is not done yet."""
    if batch.emptied is None or batch.emptied.at > now:
        stands = batch.mixing_ended <= now and _has_stand(standing, batch)
        return BatchStage.STANDING if stands else BatchStage.MIXED
    if step_done(batch, BROADCAST) is not None:
        return BatchStage.FLAKED
    if step_done(batch, BACK_ROLL) is not None:
        return BatchStage.ROLLED
    return BatchStage.POURED


def is_settled(window: Window) -> bool:
    """Whether nothing more can come of a window: stated, missed, or open for good."""
    if window.state in (State.DONE, State.MISSED):
        return True
    return window.closes is None and window.state is State.OPEN


def _has_stand(standing: Standing, batch: Batch) -> bool:
    profile = standing.profile(batch.product)
    rule = profile.window(INDUCTION) if profile else None
    return rule is not None and rule.opens is not None and any(point.span_s > 0 for point in rule.opens.points)
