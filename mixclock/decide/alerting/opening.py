"""Alerts on edges that open, and on recoat as a whole: told once, at the late time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta

from mixclock.decide.alerting.closing import Stages
from mixclock.decide.alerting.naming import alert_id, area_alert_id
from mixclock.decide.crewsteps import DueTimes, due_of
from mixclock.decide.shapes import Alert, Edge, Rank, Stage, State, Window
from mixclock.decide.tracks import Track
from mixclock.decide.windows import seen_at
from mixclock.job.progress import Standing
from mixclock.job.steps import INDUCTION, RECOAT, row_of
from mixclock.values import replace

NO_STAND = timedelta(seconds=1)
"""If a sheet's induction is shorter than this, the sheet asks for none."""

FRESH_FOR = timedelta(hours=12)
"""An opening that could not be told for longer than this is no news any more: only the screens show it (judgement)."""


def opening_alert(standing: Standing, track: Track, now: datetime) -> Alert | None:
    """The opening of a batch's own window: the stand is over, scrape from now."""
    row, opens = row_of(track.name), track.open_from
    if row.opens_as is None or row.per_area or opens is None or now < opens or track.provisional:
        return None
    window = seen_at(track, now, ripe=False)
    if window.state is State.DONE or (row.of_flake and not standing.site.gets_flake(track.batch.coat)):
        return None
    if track.name == INDUCTION and opens - window.starts < NO_STAND:
        return None  # a sheet that asks for no stand: the last step of mixing says to pour
    return _opened(alert_id(track) + ".open", window, row.opens_as)


def area_alerts(
    standing: Standing, group: Iterable[Window], area: str, coat: str | None, now: datetime
) -> Iterator[Alert]:
    """Recoat and traffic of an area's coat: opened, and recoat closing, by the rules for windows of days."""
    for window in asked_of(standing, group, area, coat):
        yield from _of_area(standing, window, area, coat, now)


def asked_of(standing: Standing, group: Iterable[Window], area: str, coat: str | None) -> list[Window]:
    """The windows of an area that somebody still waits for: no recoat of the last coat, nothing under another coat."""
    if _covered(standing, area, coat):
        return []
    last_coat = coat is None or not standing.site.coats_over(coat, area)
    return [
        window
        for window in group
        if not window.provisional and window.state is not State.DONE and not (window.name == RECOAT and last_coat)
    ]


def _of_area(standing: Standing, window: Window, area: str, coat: str | None, now: datetime) -> list[Alert]:
    name = area_alert_id(area, coat, window.name)
    told = []
    rank = row_of(window.name).opens_as
    opens, called = window.open_from, window.called
    shut = called is not None and now >= called.early
    if rank is not None and opens is not None and now >= opens and not shut:
        told.append(_opened(name + ".open", window, rank))
    if called is None:
        return told
    due = area_due(standing, window, called)
    late = max(due.latest_start + timedelta(seconds=20), called.early)
    lost = max(late, called.last)
    reached = Stages(due.heads_up, due.latest_start, late, lost).at(now)
    if reached is not None and not (window.began is not None and reached[0] in (Stage.HEADS_UP, Stage.NOW)):
        told.append(
            Alert(
                id=name,
                step=window.name,
                rank=row_of(window.name).rank,
                stage=reached[0],
                due=reached[1],
                area=area,
                who=window.who,
                window=replace(window, latest_start=due.latest_start),
            )
        )
    return told


def area_due(standing: Standing, window: Window, closes: Edge) -> DueTimes:
    """When the step that an area's window asks for must begin, and when that is announced."""
    return due_of(standing.site, window.name, window.starts, closes.early, timedelta(), window.open_from)


def _opened(name: str, window: Window, rank: Rank) -> Alert:
    assert window.open_from is not None
    return Alert(
        id=name,
        step=window.name,
        rank=rank,
        stage=Stage.OPENED,
        due=window.open_from,
        batch=window.batch,
        area=window.area,
        who=window.who,
        window=window,
    )


def _covered(standing: Standing, area: str, coat: str | None) -> bool:
    """Whether another coat lies on this one already. Then nobody asks for its traffic any more."""
    poured = {of: max(each.at for each in pours) for of, pours in standing.pours.get(area, {}).items()}
    mine = poured.get(coat)
    return mine is not None and any(at > mine for other, at in poured.items() if other != coat)
