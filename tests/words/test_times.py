"""Times ahead as a person says them: the further ahead the coarser, never to the unsafe side."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from mixclock.words.times import closes_said, opens_said

ZONE = ZoneInfo("UTC")
NOON = datetime(2026, 4, 13, 12, 0, tzinfo=UTC)
AHEAD = st.timedeltas(timedelta(0), timedelta(days=40))
DAYS = {"today": 0, "tomorrow": 1, "Wednesday": 2, "Thursday": 3, "Friday": 4, "Saturday": 5}


def meant(said: str) -> datetime:
    """The instant that a person understands."""
    hour, minute = (int(part) for part in said.split()[-1].split(":"))
    named = re.fullmatch(r"[A-Z][a-z]{2} (\d+) ([A-Z][a-z]{2}) \S+", said)
    if named is not None:
        day = datetime.strptime(f"{named[1]} {named[2]} 2026 +0000", "%d %b %Y %z")
    else:
        day = NOON.replace(hour=0) + timedelta(days=DAYS[said.split()[0] if " " in said else "today"])
    return day.replace(hour=hour, minute=minute)


@given(AHEAD)
def test_whoever_comes_when_the_floor_is_said_to_open_never_comes_too_early(ahead: timedelta) -> None:
    told = meant(opens_said(NOON + ahead, NOON, ZONE))
    assert timedelta(0) <= told - (NOON + ahead) < timedelta(hours=1)


@given(AHEAD)
def test_whoever_comes_by_the_time_that_is_said_never_comes_too_late(ahead: timedelta) -> None:
    told = meant(closes_said(NOON + ahead, NOON, ZONE))
    assert timedelta(0) <= NOON + ahead - told < timedelta(hours=1)


def test_minutes_ahead_are_told_to_the_minute_and_days_ahead_to_the_hour() -> None:
    def both(**ahead: float) -> tuple[str, str]:
        at = NOON + timedelta(seconds=30, **ahead)
        return opens_said(at, NOON, ZONE), closes_said(at, NOON, ZONE)

    assert both(minutes=42) == ("12:43", "12:42")
    assert both(hours=20, minutes=10) == ("tomorrow 8:30", "tomorrow 8:00")
    assert both(days=4, minutes=10) == ("Friday 13:00", "Friday 12:00")
    assert both(days=24, minutes=10) == ("Thu 7 May 13:00", "Thu 7 May 12:00")


def test_what_opens_just_before_midnight_is_told_as_the_next_day() -> None:
    assert opens_said(NOON + timedelta(hours=11, minutes=50), NOON, ZONE) == "tomorrow 0:00"
