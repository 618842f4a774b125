"""When an alert next reaches a stage, as far as the log says now: for skipping the idle hours of a rehearsal.

The daemon itself never asks this. It looks twice a second whatever comes next.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from mixclock.decide.alerting.closing import SECOND_PERSON_AFTER, is_alerted, stages_of
from mixclock.decide.alerting.happenings import CLEAN_PAIL_BEFORE_END_S, SCRAPE_AT
from mixclock.decide.alerting.opening import area_due, asked_of
from mixclock.decide.hours import next_working_instant
from mixclock.decide.shapes import Rank
from mixclock.decide.tracks import Track
from mixclock.decide.windows import area_windows, seen_at
from mixclock.job.progress import Batch, Standing
from mixclock.job.steps import AREA_WINDOWS, row_of


def next_due(standing: Standing, tracks: Sequence[Track], now: datetime) -> datetime | None:
    """The first instant after now at which an alert begins or reaches its next stage; None where nothing will."""
    return min((at for at in all_due(standing, tracks, now) if at > now), default=None)


def all_due(standing: Standing, tracks: Sequence[Track], now: datetime) -> Iterator[datetime]:
    """Every instant at which an alert begins or reaches a stage, those of the past among them."""
    for batch in standing.batches:
        yield from _mixing_steps(batch)
    for track in tracks:
        if track.stated is None:
            yield from _closing(standing, track)
            yield from _opening(standing, track)
    yield from _of_areas(standing, tracks, now)


def _mixing_steps(batch: Batch) -> Iterator[datetime]:
    if batch.emptied is None and not batch.mixing_stated:
        yield batch.combined.at + timedelta(seconds=SCRAPE_AT * batch.mixing_s)
        yield batch.mixing_ended - timedelta(seconds=min(CLEAN_PAIL_BEFORE_END_S, 0.3 * batch.mixing_s))
        yield batch.mixing_ended


def _closing(standing: Standing, track: Track) -> Iterator[datetime]:
    edge = track.called
    if edge is None or not is_alerted(standing, track):
        return
    stages = stages_of(standing, track, edge)
    yield from stages.heads_up
    yield from (stages.now, stages.late, stages.late + SECOND_PERSON_AFTER, stages.lost)


def _opening(standing: Standing, track: Track) -> Iterator[datetime]:
    rank = row_of(track.name).opens_as
    opens = track.open_from
    if rank is None or opens is None or track.name in AREA_WINDOWS:
        return
    yield next_working_instant(standing.site, opens) if rank is Rank.NOTICE else opens


def _of_areas(standing: Standing, tracks: Sequence[Track], now: datetime) -> Iterator[datetime]:
    seen = [seen_at(track, now, ripe=False) for track in tracks if track.name in AREA_WINDOWS]
    for (area, coat), group in area_windows(seen, now).items():
        for window in asked_of(standing, group, area, coat):
            if window.open_from is not None:
                yield next_working_instant(standing.site, window.open_from)
            if window.called is not None:
                early = window.called.early
                due = area_due(standing, window, window.called)
                yield from due.heads_up
                yield max(due.latest_start + timedelta(seconds=20), early)
                yield from (due.latest_start, window.called.late or window.called.likely)
