"""Alerts on edges that close: the step must be finished before the early edge."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from mixclock.decide.alerting.naming import alert_id
from mixclock.decide.hours import is_working
from mixclock.decide.shapes import Alert, Edge, JointBatch, Rank, Stage
from mixclock.decide.tracks import Track
from mixclock.decide.windows import seen_at
from mixclock.job.progress import Batch, Standing
from mixclock.job.steps import FILM_ORDER, INDUCTION, WET_EDGE, row_of
from mixclock.values import dataclass, replace

LATE_AFTER = (timedelta(seconds=20), timedelta(minutes=5))
"""Without a rate, "now" falls on the early edge. "Late" follows after a quarter of the doubt, held within these two."""

LEAST_TO_LOST = timedelta(seconds=60)
"""A sheet may give one time without any doubt, and still be no stopwatch. So "gone" comes no sooner after the edge than
it takes to pour a bucket out (judgement)."""

SPREAD_TO_JOINT = timedelta(minutes=2)
"""Pouring and drawing the new batch to the joint: judgement."""

SECOND_PERSON_AFTER = timedelta(seconds=60)
"""For this long "late" calls one person; after that it calls everybody (judgement)."""


@dataclass(frozen=True)
class Stages:
    """When each stage of a closing alert falls due."""

    heads_up: tuple[datetime, ...]
    now: datetime
    late: datetime
    lost: datetime

    def at(self, now: datetime) -> tuple[Stage, datetime] | None:
        """The highest stage reached, and when it fell due."""
        for stage, due in ((Stage.LOST, self.lost), (Stage.LATE, self.late), (Stage.NOW, self.now)):
            if now >= due:
                return stage, due
        passed = [due for due in self.heads_up if now >= due]
        return (Stage.HEADS_UP, passed[-1]) if passed else None


def closing_alert(standing: Standing, track: Track, now: datetime, poured_lost: bool = False) -> Alert | None:
    """The alert on one window's closing edge, at the highest stage that it has reached.

    `poured_lost` tells that the bucket was poured after the late edge of its pot life.
    """
    edge = track.called
    if edge is None or not is_alerted(standing, track) or (track.stated and track.stated.at <= now):
        return None
    if poured_lost and row_of(track.name).on_film:
        return _of_late_pour(standing, track, now)
    stages = stages_of(standing, track, edge)
    reached = stages.at(now)
    if reached is None:
        return None
    stage, due = reached
    if track.began is not None and track.began.at <= now and stage in (Stage.HEADS_UP, Stage.NOW):
        return None
    if track.provisional and stage is not Stage.NOW:
        return None  # nobody stated the pour, so the bucket's own alert calls; this edge is a guess, and is called once
    alert = Alert(
        id=alert_id(track),
        step=track.name,
        rank=_rank(track),
        stage=stage,
        due=due,
        batch=track.batch.id,
        area=track.area,
        who=None if stage is Stage.LATE and now >= due + SECOND_PERSON_AFTER else track.who,
        window=seen_at(track, now, ripe=False),
        detail=_joint_detail(standing, track) if track.name == WET_EDGE else None,
    )
    return replace(alert, standing=stage is Stage.LOST and alert.rank is Rank.CRITICAL)


def _of_late_pour(standing: Standing, track: Track, now: datetime) -> Alert | None:
    """A bucket that was poured past its time gives one call, once: what the crew can still do with it."""
    profile = standing.profile(track.batch.product)
    first = next((name for name in FILM_ORDER if profile is not None and profile.window(name)), None)
    if track.name != first or now < track.starts:
        return None
    row = row_of(track.name)
    window = seen_at(track, now, ripe=False)
    return Alert(
        alert_id(track), row.name, Rank.TIMELY, Stage.LATE, track.starts, track.batch.id, track.area, track.who,
        window=window,
    )  # fmt: skip


def stages_of(standing: Standing, track: Track, edge: Edge) -> Stages:
    """When the stages of a closing alert fall due."""
    lost = edge.last
    if track.name == WET_EDGE:
        return _joint_stages(standing, track, edge, lost)
    due = track.due
    now = due.latest_start if due else edge.early
    heads_up = due.heads_up if due else ()
    if now < edge.early:
        return Stages(heads_up, now, edge.early, max(lost, edge.early + LEAST_TO_LOST))
    least, most = LATE_AFTER
    lost = max(lost, now + LEAST_TO_LOST)
    return Stages(heads_up, now, now + min(most, max(least, (lost - edge.early) / 4)), lost)


def calls_to_come(standing: Standing, track: Track, stages: Iterable[Stage]) -> list[Alert]:
    """The alerts that a window will raise at these stages, as long as nobody states the step."""
    edge = track.called
    if edge is None or track.stated is not None or not is_alerted(standing, track):
        return []
    due = stages_of(standing, track, edge)
    instants = {Stage.NOW: due.now, Stage.LATE: due.late, Stage.LOST: due.lost}
    found = [closing_alert(standing, track, at) for stage, at in instants.items() if stage in stages]
    return [alert for alert in found if alert is not None]


def _joint_stages(standing: Standing, track: Track, edge: Edge, lost: datetime) -> Stages:
    """The crew keeps a joint by starting the next batch in time. After that it is too late to open a kit."""
    latest = max(track.starts, edge.early - _time_to_join(standing, track))
    notice = min(timedelta(minutes=5), max(timedelta(seconds=30), (edge.early - track.starts) / 10))
    return Stages((max(track.starts, latest - notice),), latest, latest + timedelta(seconds=30), max(lost, latest))


def _time_to_join(standing: Standing, track: Track) -> timedelta:
    """The time from opening the next kit to wet film at the joint. If the next batch is mixed already, only the pour
    counts."""
    if batch_for(standing, track) is not None:
        return SPREAD_TO_JOINT
    profile = standing.profile(track.batch.product)
    induction = profile.window(INDUCTION) if profile else None
    stand_s = induction.opens.points[0].span_s if induction and induction.opens else 0.0
    return timedelta(seconds=track.batch.mixing_s + stand_s) + SPREAD_TO_JOINT


def batch_for(standing: Standing, track: Track) -> Batch | None:
    """The batch in a bucket that is meant for a waiting neighbour."""
    for batch in standing.batches:
        if batch.coat == track.batch.coat and batch.emptied is None and set(batch.areas) & set(track.neighbours):
            return batch
    return None


def _joint_detail(standing: Standing, track: Track) -> JointBatch | None:
    coming = batch_for(standing, track)
    return JointBatch(coming.id) if coming else None


def is_alerted(standing: Standing, track: Track) -> bool:
    """Whether anybody is called for this window. Without flake, without a joint or with nothing to do, nobody is."""
    row = row_of(track.name)
    return not row.per_area and bool(row.called) and has_work(standing, track)


def has_work(standing: Standing, track: Track) -> bool:
    """Whether there is anything to do in this window: flake to throw, or a joint to a neighbour that is not taped."""
    if row_of(track.name).of_flake:
        return standing.site.gets_flake(track.batch.coat)
    coat = standing.site.coat(track.batch.coat) if track.batch.coat else None
    return track.name != WET_EDGE or (bool(track.neighbours) and not (coat is not None and coat.wet_edge is False))


def _rank(track: Track) -> Rank:
    """The rank that the table of steps gives. An alert that rests on a guess is never critical."""
    rank = row_of(track.name).rank
    return Rank.TIMELY if track.provisional and rank is Rank.CRITICAL else rank


def waits_for_hours(standing: Standing, alert: Alert, now: datetime) -> bool:
    """Whether a notice has to wait because nobody is at work."""
    return alert.rank is Rank.NOTICE and not is_working(standing.site, now)
