"""Windows as they stand at an instant."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from mixclock.decide.shapes import Edge, State, Window, open_from
from mixclock.decide.tracks import Track
from mixclock.job.steps import AREA_WINDOWS
from mixclock.values import replace


def seen_at(track: Track, now: datetime, ripe: bool = True) -> Window:
    """One window at an instant. A step that was stated keeps the ripeness that it had then.

    Without `ripe` the ripenesses stay None: they are costly integrals, and the daemon looks twice a second.
    """
    opens, closes = track.opening, track.closing
    stated = track.stated if track.stated is not None and track.stated.at <= now else None
    looked = stated.at if stated else now
    due = track.due
    return Window(
        name=track.name,
        batch=track.batch.id,
        area=track.area,
        portion=track.portion,
        starts=track.starts,
        opens=opens,
        closes=closes,
        state=state_of(
            track.starts, opens, closes, stated is not None, due.heads_up[0] if due else None, now, track.no_date
        ),
        ripeness_opens=track.ripeness_opens(looked) if ripe else None,
        ripeness_closes=track.ripeness_closes(looked) if ripe else None,
        because=track.because,
        assumed=track.assumed,
        stated=stated.at if stated else None,
        began=track.began.at if track.began else None,
        latest_start=due.latest_start if due else None,
        heads_up=due.heads_up[0] if due else None,
        who=track.who,
        provisional=track.provisional,
        coat=track.batch.coat,
        product=track.batch.product,
        no_date=track.no_date,
    )


def state_of(
    starts: datetime,
    opens: Edge | None,
    closes: Edge | None,
    done: bool,
    heads_up: datetime | None,
    now: datetime,
    no_date: str = "",
) -> State:
    """Where a window stands at an instant."""
    if done:
        return State.DONE
    if closes is not None:
        if now >= closes.last:
            return State.MISSED
        if now >= closes.likely:
            return State.CLOSED
    if no_date or now < starts or now < (open_from(opens, closes) or starts):
        return State.WAITING  # the crew still waits for a window that may close soon but is not open yet
    if closes is not None and heads_up is not None and now >= heads_up:
        return State.CLOSING
    return State.OPEN


def area_windows(seen: Iterable[Window], now: datetime) -> dict[tuple[str, str | None], tuple[Window, ...]]:
    """Recoat, traffic and cure of each area and coat: they open with its latest batch and close with its earliest."""
    grouped: dict[tuple[str, str | None, str], list[Window]] = {}
    for window in seen:
        if window.area is not None and window.name in AREA_WINDOWS:
            grouped.setdefault((window.area, window.coat, window.name), []).append(window)
    areas: dict[tuple[str, str | None], tuple[Window, ...]] = {}
    for (area, coat, _), group in grouped.items():
        areas[(area, coat)] = (*areas.get((area, coat), ()), _together(group, now))
    return areas


def _together(group: Sequence[Window], now: datetime) -> Window:
    opens = [window.opens for window in group if window.opens]
    closes = [window.closes for window in group if window.closes]
    no_date = next((window.no_date for window in group if window.no_date), "")
    opening = _latest(opens) if opens and not no_date else None
    closing = _earliest(closes) if closes else None
    starts = max(window.starts for window in group)
    done = all(window.state is State.DONE for window in group)
    first = min(group, key=lambda window: (window.closes.early if window.closes else window.starts, window.portion))
    return replace(
        first,
        batch=None,
        portion=0,
        starts=starts,
        opens=opening,
        closes=closing,
        state=state_of(starts, opening, closing, done, first.heads_up, now, no_date),
        ripeness_opens=min((w.ripeness_opens for w in group if w.ripeness_opens is not None), default=None),
        ripeness_closes=max((w.ripeness_closes for w in group if w.ripeness_closes is not None), default=None),
        stated=max((w.stated for w in group if w.stated), default=None) if done else None,
        provisional=any(window.provisional for window in group),
        no_date=no_date,
    )


def _latest(edges: Sequence[Edge]) -> Edge:
    lates = [edge.late for edge in edges]
    return Edge(
        max(edge.early for edge in edges),
        max(edge.likely for edge in edges),
        None if None in lates else max(late for late in lates if late is not None),
    )


def _earliest(edges: Sequence[Edge]) -> Edge:
    lates = [edge.late for edge in edges if edge.late is not None]
    likely = min(edge.likely for edge in edges)
    return Edge(min(edge.early for edge in edges), likely, max(likely, min(lates)) if lates else None)


def counted_as_due(track: Track, now: datetime) -> Track:
    """The window with its closing edge at this instant at the latest. The opening edge stays: nothing opens sooner."""
    edge = track.closing
    if edge is None or track.stated is not None or edge.early <= now:
        return track
    due = Edge(now, max(now, edge.likely), edge.late)
    started = replace(track, starts=min(track.starts, now), due=None)
    if started.bucket is not None:
        return replace(started, bucket=replace(started.bucket, edge=due))
    assert started.closes is not None
    return replace(started, closes=replace(started.closes, edge=due))
