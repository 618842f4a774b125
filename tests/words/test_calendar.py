"""The windows of days arrive in a phone's calendar, move there when they move, and bear a daylight change."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import vobject

from mixclock.decide.windows import seen_at
from mixclock.job.entry import Combined, Entry, JobStarted, Poured, ProfileUsed, Reading, Withdrawn
from mixclock.job.folding import fold
from mixclock.words.calendar import calendar_text
from tests.decide.worlds import BASE, MODEL, MORNING, SITE, TOP, Log

BATCH = Combined(product="Shed base", areas=("bay 1",), coat="base", volume_l=6.0)


def poured_log(began: datetime = MORNING) -> list[Entry]:
    """A batch that lies on bay 1 at 20 °C, an hour after the job began."""
    facts = (JobStarted("Boat shed", SITE), ProfileUsed("Shed base", BASE), ProfileUsed("Shed top", TOP),
             Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0), BATCH, Poured(1))  # fmt: skip
    minutes = (0, 0, 0, 55, 60, 70)
    return [
        Entry(number, "shed", at, at, each)
        for number, (each, later) in enumerate(zip(facts, minutes, strict=True), start=1)
        for at in [began + timedelta(minutes=later)]
    ]


def text_of(entries: list[Entry], now: datetime) -> str:
    """The calendar of a log."""
    standing = fold("shed", entries)
    from mixclock.decide.tracks import tracks

    return calendar_text(standing, tracks(standing, MODEL), now).decode()


def read(entries: list[Entry]) -> list[Any]:
    """Its events as another library reads them."""
    return list(vobject.readOne(text_of(entries, entries[-1].happened)).vevent_list)


def edge(name: str, log: list[Entry], which: str) -> datetime:
    """What the product itself says of a window of bay 1."""
    told = Log(list(log))
    (window,) = [
        each for each in (seen_at(track, log[-1].happened) for track in told.tracks()) if each.name == name
    ]  # fmt: skip
    found = window.opens.safe_open if which == "opens" and window.opens else window.closes and window.closes.early
    assert isinstance(found, datetime)
    return found.replace(microsecond=0)


def test_each_edge_of_days_is_an_event_whose_title_carries_the_deadline() -> None:
    log = poured_log()
    events = read(log)
    assert len(events) >= 2
    recoat = [event for event in events if "coat by" in event.summary.value]
    assert len(recoat) == 1
    assert recoat[0].dtend.value == edge("recoat", log, "closes")
    assert "bay 1: next coat by" in recoat[0].summary.value
    assert "Many phones drop the alarms" in recoat[0].description.value


def test_an_opening_begins_when_it_may_be_relied_on() -> None:
    log = poured_log()
    (opens,) = [event for event in read(log) if "next coat may go on" in event.summary.value]
    assert opens.dtstart.value == edge("recoat", log, "opens")
    assert "Only if a thumb leaves no mark." in opens.description.value


def test_a_window_that_moves_moves_its_event() -> None:
    log = poured_log()
    before = {event.uid.value: event for event in read(log)}
    colder = [
        *log,
        Entry(7, "shed", MORNING + timedelta(minutes=80), MORNING + timedelta(minutes=80), Reading(slab_c=12.0)),
    ]
    after = {event.uid.value: event for event in read(colder)}
    assert before.keys() == after.keys()
    moved = [uid for uid in before if before[uid].dtstart.value != after[uid].dtstart.value]
    assert moved
    assert all(int(after[uid].sequence.value) > int(before[uid].sequence.value) for uid in before)


def test_the_same_log_gives_the_same_file_and_every_event_its_own_name() -> None:
    log = poured_log()
    assert text_of(log, log[-1].happened) == text_of(log, log[-1].happened)
    uids = [event.uid.value for event in read(log)]
    assert len(uids) == len(set(uids))


def test_a_batch_that_was_a_mistake_leaves_no_dates() -> None:
    log = poured_log()
    at = MORNING + timedelta(minutes=90)
    gone = [*log, Entry(7, "shed", at, at, Withdrawn(6)), Entry(8, "shed", at, at, Withdrawn(5))]
    assert read(log)
    assert "VEVENT" not in text_of(gone, at)


def test_a_window_over_the_night_in_which_clocks_change_is_as_long_as_the_sheet_says() -> None:
    """Lisbon puts its clocks forward at one in the morning of 29 March 2026: the hours are counted in UTC."""
    usual = poured_log(datetime(2026, 3, 21, 16, 0, tzinfo=UTC))
    changed = poured_log(datetime(2026, 3, 28, 16, 0, tzinfo=UTC))
    spans = []
    for log in (usual, changed):
        (opens,) = [event for event in read(log) if "next coat may go on" in event.summary.value]
        spans.append(opens.dtstart.value - log[-1].happened)
        assert opens.dtstart.value.utcoffset() == timedelta(0)
    assert spans[0] == spans[1]


def test_alarms_ring_the_evening_before_and_an_hour_before_it_shuts() -> None:
    (recoat,) = [event for event in read(poured_log()) if "coat by" in event.summary.value]
    triggers = sorted(alarm.trigger.value for alarm in recoat.valarm_list)
    assert triggers[-1] == -timedelta(hours=1)
    evening = recoat.dtstart.value + triggers[0]
    assert (evening.hour, evening.minute) == (17, 0)  # 18:00 in Lisbon's summer
