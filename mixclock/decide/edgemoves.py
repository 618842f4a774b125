"""Why a deadline moved, in words: "slab 3 °C warmer than at 9:10: closes 6 min sooner"."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

from mixclock.decide.buckets import Bucket, BucketAnswer, BucketModel
from mixclock.decide.edges import FoundEdge
from mixclock.job.progress import Standing
from mixclock.units import CrewUnits, write_clock, write_span

WORTH_SAYING = timedelta(minutes=1)
"""A move of less than a minute is not a move to a crew."""


def slab_move(
    standing: Standing,
    area: str,
    starts: datetime,
    now_edge: FoundEdge,
    edge_before: Callable[[datetime], FoundEdge],
    units: CrewUnits,
) -> str | None:
    """What the last slab reading since the start did to an edge, or None if that is not worth a word.

    `edge_before` tells the edge as it was known before a slab reading of that instant.
    """
    samples = standing.readings.slab(area)
    if len(samples) < 2 or samples[-1].at <= starts:
        return None
    last, before = samples[-1], samples[-2]
    if now_edge.edge.late is not None and now_edge.edge.late <= before.at:
        return None  # the edge had passed: no later reading can have moved it
    then = edge_before(last.at)
    moved = now_edge.edge.early - then.edge.early
    if abs(moved) < WORTH_SAYING:
        return None
    sense = "warmer" if last.value > before.value else "colder"
    difference = units.write_difference(abs(last.value - before.value))
    when = write_clock(before.at, standing.site.wall)
    return f"slab {difference} {sense} than at {when}: {_said(moved)}"


def bucket_move(bucket: Bucket, answer: BucketAnswer, model: BucketModel, units: CrewUnits) -> str | None:
    """How far the readings in a bucket moved its pour-out."""
    if not bucket.readings:
        return None
    blind = model(bucket.without_readings())
    if blind is None:
        return None
    moved = answer.edge.early - blind.edge.early
    if abs(moved) < WORTH_SAYING:
        return None
    return f"read {units.write_temp(bucket.readings[-1].value)} in the bucket: {_said(moved)}"


def _said(moved: timedelta) -> str:
    return f"closes {write_span(abs(moved.total_seconds()))} {'sooner' if moved < timedelta() else 'later'}"
