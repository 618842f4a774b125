"""The windows of days as a calendar (RFC 5545): recoat, traffic and full cure of every area.

A window that moves moves its event: its UID stays and its SEQUENCE grows with the log. Several phone calendars drop the
alarms of what they import or subscribe to, so the title and the start of an event carry the deadline.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, time, timedelta
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from mixclock.decide.shapes import State, Window
from mixclock.decide.tracks import Track
from mixclock.decide.windows import area_windows, seen_at
from mixclock.job.entry import TOLD_BY_MACHINE, Entry
from mixclock.job.progress import Standing
from mixclock.job.steps import RECOAT, Stage
from mixclock.words.stepwords import words_of
from mixclock.words.times import closes_said, opens_said

NAMESPACE = uuid.UUID("6f0b1a52-3f5e-5d0c-9a53-3b8f6f7f5b1e")
"""Our own namespace (RFC 4122, version 5): it gives a window of a job the same UID in every file."""

MAY_STAY_SILENT = "Many phones drop the alarms of what they import or subscribe to: go by the title, and by the board."
OPENING_LASTS = timedelta(minutes=30)
BEFORE_CLOSING = timedelta(hours=1)
EVENING = time(18, 0)


class CalendarEvent(NamedTuple):
    """One edge of a window as an event. `alarms` lie before `starts`."""

    uid: str
    title: str
    starts: datetime
    ends: datetime
    place: str
    says: str
    cancelled: bool
    alarms: tuple[timedelta, ...]


def calendar_events(standing: Standing, found: Iterable[Track], now: datetime) -> tuple[CalendarEvent, ...]:
    """The events of a job's areas, from all its tracks, in the order of time."""
    seen = area_windows([seen_at(track, now, ripe=False) for track in found], now)
    events = [event for windows in seen.values() for window in windows for event in _events(standing, window)]
    return tuple(sorted(events, key=lambda event: (event.starts, event.title)))


def _events(standing: Standing, window: Window) -> Iterator[CalendarEvent]:
    if window.name == RECOAT and window.coat and not standing.site.coats_over(window.coat, window.area or ""):
        return  # nobody waits for a coat on the last one
    zone = standing.site.wall
    done = window.state is State.DONE
    place = f"{window.area}, {window.coat}" if window.coat else str(window.area)
    at = window.open_from
    if at is not None:
        short = words_of(window.name).stages[Stage.OPENED].short
        title = f"{window.area}: {short} from {opens_said(at, _day_before(at), zone)}"
        proof = "Only if a thumb leaves no mark."
        yield CalendarEvent(
            _uid(standing, window, "opens"), _titled(title, done), at, at + OPENING_LASTS, place,
            _says(proof, window), done, (timedelta(0),),
        )  # fmt: skip
    called = window.called
    if called is not None and window.name == RECOAT:
        by = called.early
        starts = min(by - BEFORE_CLOSING, window.latest_start or by)
        title = f"{window.area}: {words_of(window.name).do.lower()} by {closes_said(by, _day_before(by), zone)}"
        yield CalendarEvent(
            _uid(standing, window, "closes"), _titled(title, done), starts, by, place,
            _says("After that it must be sanded first, as the product's sheet says.", window), done,
            (starts - _evening_before(starts, zone), timedelta(hours=1)),
        )  # fmt: skip


def _titled(title: str, done: bool) -> str:
    return f"Done: {title}" if done else title


def _says(first: str, window: Window) -> str:
    lines = [first, *window.because, *(f"Assumed: {line}" for line in window.assumed), MAY_STAY_SILENT]
    return "\n".join(line[:1].upper() + line[1:] for line in lines)


def _day_before(at: datetime) -> datetime:
    """The moment from which a title names its time: a day earlier, so that the date always stands with it."""
    return at - timedelta(days=8)


def _evening_before(at: datetime, zone: ZoneInfo) -> datetime:
    there = at.astimezone(zone)
    return datetime.combine(there.date() - timedelta(days=1), EVENING, zone)


def _uid(standing: Standing, window: Window, edge: str) -> str:
    """The UID of an event: one window of one job has the same UID in every file."""
    began = standing.entries[0].written.isoformat()
    name = "\x1f".join((began, standing.job, str(window.coat), str(window.area), window.name, edge))
    return f"{uuid.uuid5(NAMESPACE, name)}@mixclock"


def calendar_text(standing: Standing, found: Iterable[Track], now: datetime) -> bytes:
    """The calendar of a job as a file (RFC 5545), the same for the same log. Imports `icalendar`."""
    from icalendar import Calendar

    last = _last_statement(standing.entries)
    calendar = Calendar()
    for name, value in (
        ("PRODID", "-//mixclock//windows of days//EN"),
        ("VERSION", "2.0"),
        ("METHOD", "PUBLISH"),
        ("X-WR-CALNAME", f"{standing.job}: coat, walk, park"),
    ):
        calendar.add(name, value)
    calendar.add("REFRESH-INTERVAL", timedelta(minutes=15), parameters={"VALUE": "DURATION"})
    for event in calendar_events(standing, found, now):
        calendar.add_component(_component(event, last, len(standing.entries)))
    return bytes(calendar.to_ical())


def _component(event: CalendarEvent, last: Entry, sequence: int) -> Any:
    from icalendar import Event

    made = Event()
    made.add("UID", event.uid)
    made.add("SEQUENCE", sequence)
    made.add("DTSTAMP", last.written.replace(microsecond=0))
    made.add("LAST-MODIFIED", last.written.replace(microsecond=0))
    made.add("DTSTART", event.starts.replace(microsecond=0))
    made.add("DTEND", event.ends.replace(microsecond=0))
    made.add("SUMMARY", event.title)
    made.add("LOCATION", event.place)
    made.add("DESCRIPTION", event.says)
    made.add("STATUS", "CANCELLED" if event.cancelled else "CONFIRMED")
    made.add("TRANSP", "TRANSPARENT")
    for before in () if event.cancelled else event.alarms:
        made.add_component(_alarm(event.title, before))
    return made


def _alarm(title: str, before: timedelta) -> Any:
    from icalendar import Alarm

    alarm = Alarm()
    alarm.add("ACTION", "DISPLAY")
    alarm.add("DESCRIPTION", title)
    alarm.add("TRIGGER", -before)
    return alarm


def _last_statement(entries: Sequence[Entry]) -> Entry:
    """The last entry that a person made; what the watch writes moves no window."""
    return next((entry for entry in reversed(entries) if entry.facts.kind not in TOLD_BY_MACHINE), entries[0])
