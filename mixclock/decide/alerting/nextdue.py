"""When an alert next reaches a stage, as far as the log says now, and when its answer can change.

The daemon uses it to look at the right instant and to ask less often. A rehearsal uses it to skip idle hours. The tick
looks twice a second whatever it says, but where it names nothing for the next seconds.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta

from mixclock.decide.alerting.closing import SECOND_PERSON_AFTER, is_alerted, stages_of
from mixclock.decide.alerting.dayends import TAPE_GIVEN_UP, TAPE_LEAD
from mixclock.decide.alerting.grit import next_stir
from mixclock.decide.alerting.happenings import CLEAN_PAIL_BEFORE_END_S, MIX_STEP_FRESH, SCRAPE_AT, WET_WITHOUT_SHEET
from mixclock.decide.alerting.naming import mixing_id
from mixclock.decide.alerting.opening import area_due, asked_of
from mixclock.decide.hot import hot_since, smoking_since
from mixclock.decide.hours import next_working_instant
from mixclock.decide.shapes import Rank
from mixclock.decide.tracks import Track
from mixclock.decide.windows import area_windows, seen_at
from mixclock.job.progress import Batch, Standing
from mixclock.job.steps import AREA_WINDOWS, WET_EDGE, row_of

JUST_AFTER = timedelta(microseconds=1)
LATE_AFTER_START = timedelta(seconds=20)


def next_due(standing: Standing, tracks: Sequence[Track], now: datetime) -> datetime | None:
    """The first instant after now at which an alert begins or reaches its next stage; None if none will."""
    return min((at for at in all_due(standing, tracks, now) if at > now), default=None)


def all_due(standing: Standing, tracks: Sequence[Track], now: datetime) -> Iterator[datetime]:
    """Every instant at which an alert begins or reaches a stage, those of the past among them."""
    for batch in standing.batches:
        yield from mixing_calls(batch)
    for track in tracks:
        yield from track_calls(standing, track)
    floors: dict[tuple[str, str | None], list[Track]] = {}
    for track in tracks:
        if track.area is not None and track.name in AREA_WINDOWS:
            floors.setdefault((track.area, track.batch.coat), []).append(track)
    for (area, coat), group in floors.items():
        yield from floor_calls(standing, area, coat, group, now)


def mixing_calls(batch: Batch) -> Iterator[datetime]:
    """When the led steps of mixing fall due."""
    if batch.emptied is None and not batch.mixing_stated:
        yield batch.combined.at + timedelta(seconds=SCRAPE_AT * batch.mixing_s)
        yield batch.mixing_ended - timedelta(seconds=min(CLEAN_PAIL_BEFORE_END_S, 0.3 * batch.mixing_s))
        yield batch.mixing_ended


def mixing_changes(standing: Standing, batch: Batch, now: datetime) -> Iterator[datetime]:
    """When the alerts of a bucket, other than those of its windows, can change."""
    for at in mixing_calls(batch):
        yield at
        yield at + MIX_STEP_FRESH + JUST_AFTER
    for raising in standing.raised(mixing_id(batch.id)):
        yield raising.entry.happened + MIX_STEP_FRESH + JUST_AFTER
    yield from filter(None, (hot_since(standing, batch), smoking_since(batch)))
    yield from (stated.at for stated in (batch.dumped, batch.emptied) if stated is not None)
    stirs = next_stir(standing, batch, now)
    if stirs is not None:
        yield from (stirs, stirs + MIX_STEP_FRESH + JUST_AFTER)


def track_calls(standing: Standing, track: Track) -> Iterator[datetime]:
    """When the stages of a window fall due, as long as nobody states its step."""
    if track.stated is None:
        yield from _closing(standing, track)
        yield from _opening(standing, track)
    edge = track.closing
    if track.name == WET_EDGE and edge is not None:
        yield from (max(track.starts, edge.early - TAPE_LEAD), edge.early)


def track_changes(standing: Standing, track: Track) -> Iterator[datetime]:
    """When the alerts of a window can change."""
    yield track.starts
    yield from _closing(standing, track)
    yield from (stated.at for stated in (track.stated, track.began) if stated is not None)
    yield from filter(None, (track.open_from,))
    for edge in filter(None, (track.closing, track.called)):
        yield from (edge.early, edge.likely, edge.last, edge.last + TAPE_GIVEN_UP)
        yield max(track.starts, edge.early - TAPE_LEAD)
    if track.due is not None:
        yield from (track.due.latest_start, *track.due.heads_up)


def floor_calls(
    standing: Standing, area: str, coat: str | None, tracks: Iterable[Track], now: datetime
) -> Iterator[datetime]:
    """When the stages of a coat on an area fall due, over days."""
    for group in area_windows((seen_at(track, now, ripe=False) for track in tracks), now).values():
        for window in asked_of(standing, group, area, coat):
            if window.open_from is not None:
                yield window.open_from
                yield next_working_instant(standing.site, window.open_from)
            if window.called is not None:
                early = window.called.early
                due = area_due(standing, window, window.called)
                late = max(due.latest_start + LATE_AFTER_START, early)
                yield from due.heads_up
                yield from (due.latest_start, early, late, max(late, window.called.last))


def film_changes(standing: Standing, tracks: Iterable[Track], now: datetime) -> Iterator[datetime]:
    """When the alerts of wet film on an area can change."""
    for track in tracks:
        yield track.starts + WET_WITHOUT_SHEET
        yield from (stated.at for stated in (track.stated,) if stated is not None)
        if track.opening is not None:
            yield track.opening.safe_open
    yield from (entry.happened for entry in standing.readings.entries[-1:] if entry.happened > now)


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
