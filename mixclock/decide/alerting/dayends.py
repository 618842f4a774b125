"""Where today ends: at these edges nobody is called for a joint, but somebody pulls the tape while the film is wet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from mixclock.decide.alerting.naming import alert_id
from mixclock.decide.crewsteps import person_for
from mixclock.decide.shapes import Alert, Rank, Stage
from mixclock.decide.tracks import Track
from mixclock.decide.windows import seen_at
from mixclock.job.progress import Standing
from mixclock.job.steps import PULL_TAPE, TAPE, WET_EDGE, row_of
from mixclock.values import dataclass, replace

Place = tuple[int, str | None]
"""A batch and the area on which its edge lies."""

TAPE_LEAD = timedelta(minutes=5)
"""How long before the wet edge goes the tape is pulled: a strip along a bay takes a minute or two (judgement)."""


TAPE_GIVEN_UP = timedelta(minutes=30)
"""This long after the edge is gone, nobody is called to the tape any more (judgement)."""


@dataclass(frozen=True)
class PlanSays:
    """What a plan adds to the windows: its advice, the edges where it ends today, and the edges that it leaves at a saw
    cut."""

    advice: Sequence[Alert] = ()
    ends: frozenset[Place] = frozenset()
    cuts: frozenset[Place] = frozenset()


def heard_of_plan(alerts: Iterable[Alert], says: PlanSays) -> list[Alert]:
    """The calls for joints, without those where today ends. A joint that the plan leaves at a saw cut becomes a notice.

    The plan meant to lose an edge at a cut, so nobody is told when it is gone.
    """
    kept = []
    for alert in alerts:
        place = (alert.batch or 0, alert.area)
        at_cut = alert.step == WET_EDGE and place in says.cuts
        if (alert.step == WET_EDGE and place in says.ends) or (at_cut and alert.stage is Stage.LOST):
            continue
        kept.append(replace(alert, rank=Rank.NOTICE, standing=False) if at_cut else alert)
    return kept


def tape_alert(standing: Standing, track: Track, ends: frozenset[Place], now: datetime) -> Alert | None:
    """The call to pull the tape where today ends, a little before the film there sets."""
    edge = track.closing
    if track.name != WET_EDGE or edge is None or track.provisional:
        return None
    place = (track.batch.id, track.area)
    taped = _portion_step(track, TAPE)
    if (taped is None and place not in ends) or _portion_step(track, PULL_TAPE) is not None:
        return None
    due = max(track.starts, edge.early - TAPE_LEAD)
    if not due <= now < edge.last + TAPE_GIVEN_UP:
        return None
    late = now >= edge.early
    person = person_for(standing.site, PULL_TAPE)
    return Alert(
        id=alert_id(track).removesuffix(WET_EDGE) + PULL_TAPE,
        step=PULL_TAPE,
        rank=row_of(PULL_TAPE).rank,
        stage=Stage.LATE if late else Stage.NOW,
        due=edge.early if late else due,
        batch=track.batch.id,
        area=track.area,
        who=person.name if person else None,
        window=replace(seen_at(track, now, ripe=False), stated=None),
    )


def _portion_step(track: Track, step: str) -> datetime | None:
    for portion in track.batch.portions:
        if portion.number == track.portion and track.area is not None:
            stated = portion.step(step, track.area)
            return stated.at if stated else None
    return None
