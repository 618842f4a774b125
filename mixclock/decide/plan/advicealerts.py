"""The plan's advice as alerts, for the daemon and the board."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from mixclock.decide.buckets import BucketModel
from mixclock.decide.plan.advice import Advice, next_batch_advice
from mixclock.decide.plan.sheettiming import SheetTiming
from mixclock.decide.shapes import Alert, Rank, Stage
from mixclock.job.progress import Standing

STEPS = {"start": "next-batch", "stop": "wet-edge-lost", "short": "short"}


def advice_from(bucket_model: BucketModel) -> Callable[[Standing, datetime], Sequence[Alert]]:
    """What `watch` and the board ask with: the job as it stands and now, answered with the alerts that are due."""

    def advise(standing: Standing, now: datetime) -> Sequence[Alert]:
        timing = SheetTiming(standing, bucket_model, grid_s=0)
        return tuple(alert_of(advice, now) for advice in next_batch_advice(standing, now, timing))

    return advise


def alert_of(advice: Advice, now: datetime) -> Alert:
    """One piece of advice as an alert; its `detail` holds the words.

    A lost wet edge is critical and stands; the next batch is timely, a heads-up until it is due; being short is timely.
    """
    stages = {"stop": Stage.LOST, "short": Stage.NOW}
    stage = stages.get(advice.kind, Stage.NOW if now >= advice.due else Stage.HEADS_UP)
    return Alert(
        id=f"b{advice.batch}.{STEPS[advice.kind]}",
        step=STEPS[advice.kind],
        rank=Rank.CRITICAL if advice.kind == "stop" else Rank.TIMELY,
        stage=stage,
        due=advice.due,
        batch=advice.batch,
        area=advice.area,
        left_s=(advice.due - now).total_seconds(),
        standing=advice.kind == "stop",
        detail=advice.text,
    )
