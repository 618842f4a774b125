"""Deadlines while the time is unknown: each open one counts as due, because nobody can say that it is not."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from mixclock.decide.shapes import Edge
from mixclock.decide.tracks import Track


def counted_as_due(track: Track, now: datetime) -> Track:
    """The window with its closing edge here at the latest. What opens is left where it is: never sooner."""
    edge = track.closing
    if edge is None or track.stated is not None or edge.early <= now:
        return track
    due = Edge(now, max(now, edge.likely), edge.late)
    started = replace(track, starts=min(track.starts, now), due=None)
    if started.bucket is not None:
        return replace(started, bucket=replace(started.bucket, edge=due))
    assert started.closes is not None
    return replace(started, closes=replace(started.closes, edge=due))
