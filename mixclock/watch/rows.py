"""What the terminal shows of a job: alerts first, then the running windows, the soonest to close first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from mixclock.decide.alerting.raising import is_cleared
from mixclock.decide.crewsteps import DAYS_FROM
from mixclock.decide.shapes import Alert, Stage, State, Window
from mixclock.decide.tracks import Track
from mixclock.decide.windows import area_windows, seen_at
from mixclock.job.progress import Standing
from mixclock.job.steps import AREA_WINDOWS, WET_EDGE
from mixclock.outside.channels.terminal import LABELS
from mixclock.units import say_remaining, write_clock
from mixclock.values import dataclass, replace
from mixclock.words.alerting import alert_words
from mixclock.words.stepwords import words_of
from mixclock.words.times import closes_said, opens_said

STATE_WORDS = {
    State.WAITING: "waits",
    State.OPEN: "open",
    State.CLOSING: "CLOSING",
    State.CLOSED: "SHUT",
    State.DONE: "done",
    State.MISSED: "missed",
}
"""Words and not colours alone: one man in twelve can't tell red from green, and a screen may have none."""


@dataclass(frozen=True)
class WindowRow:
    """One window that runs."""

    what: str
    where: str
    state: State
    time: str
    left: str
    who: str


def alert_lines(standing: Standing, stands: Sequence[Alert], now: datetime) -> list[tuple[str, str]]:
    """Rank and words of every alert that stands and was not cleared."""
    return [
        (alert.rank.value, f"{LABELS[alert.rank.value]}  {alert_words(alert, standing, now).body}")
        for alert in stands
        if alert.stage is not Stage.LOST or not is_cleared(standing, alert)
    ]


def rows(standing: Standing, tracks: Sequence[Track], now: datetime) -> list[WindowRow]:
    """Windows of minutes, the soonest to close first; then windows of days, one row for each area."""
    zone = standing.site.wall
    return [*_of_minutes(tracks, now, zone), *_of_days(tracks, now, zone)]


def _of_minutes(tracks: Sequence[Track], now: datetime, zone: ZoneInfo) -> list[WindowRow]:
    running = []
    for track in tracks:
        edge = track.called
        if edge is None or track.provisional or edge.early - track.starts >= DAYS_FROM or track.name in AREA_WINDOWS:
            continue
        window = seen_at(track, now, ripe=False)
        if window.state not in (State.DONE, State.MISSED) and (track.name != WET_EDGE or bool(track.neighbours)):
            row = _row(window, f"by {closes_said(edge.early, now, zone)}", edge.early, now)
            running.append((edge.early, _of_portion(row, track, zone)))
    return [row for _, row in sorted(running, key=lambda each: each[0])]


def _of_portion(row: WindowRow, track: Track, zone: ZoneInfo) -> WindowRow:
    """The row with the time of its pour, if the batch was poured in parts and another row reads the same."""
    portions = track.batch.portions
    if len(portions) < 2 or track.area is None:
        return row
    poured = next((portion.poured.at for portion in portions if portion.number == track.portion), None)
    return replace(row, where=f"{row.where}, poured {write_clock(poured, zone)}") if poured else row


def _of_days(tracks: Sequence[Track], now: datetime, zone: ZoneInfo) -> Iterator[WindowRow]:
    seen = [seen_at(track, now, ripe=False) for track in tracks if track.name in AREA_WINDOWS]
    for group in area_windows(seen, now).values():
        for window in group:
            if window.provisional or window.state in (State.DONE, State.MISSED):
                continue
            opens, about = window.open_from, "" if window.sure else "about "
            if window.no_date:
                yield _row(window, window.no_date, None, now)
            elif opens is not None and now < opens:
                yield _row(window, f"from {about}{opens_said(opens, now, zone)}", None, now)
            elif window.called is not None:
                early = window.called.early
                yield _row(window, f"by {about}{closes_said(early, now, zone)}", early, now)


def _row(window: Window, time: str, early: datetime | None, now: datetime) -> WindowRow:
    batch = f"batch {window.batch}" if window.batch is not None else window.coat or ""
    left_s = (early - now).total_seconds() if early is not None else 0.0
    left = "" if early is None else say_remaining(left_s) if left_s > 0 else "no time"
    where = ", ".join(part for part in (batch, window.area or "") if part)
    return WindowRow(words_of(window.name).window, where, window.state, time, left, window.who or "")
