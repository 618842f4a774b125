"""A typed time of day means one instant, and never one that is still to come by mistake."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from mixclock.job.saidtimes import instant_meant, instant_to_come
from mixclock.job.saying import CannotTellError
from mixclock.units import clock_time

LISBON = ZoneInfo("Europe/Lisbon")


def meant(text: str, now: str) -> str:
    return f"{instant_meant(clock_time(text), LISBON, datetime.fromisoformat(now)):%Y-%m-%d %H:%M}"


def test_a_time_without_a_date_is_todays_in_the_jobs_zone() -> None:
    assert meant("9:42", "2026-04-13T09:00Z") == "2026-04-13 08:42"


def test_just_after_midnight_last_nights_time_is_yesterdays() -> None:
    assert meant("23:50", "2026-04-13T23:10Z") == "2026-04-13 22:50"


def test_a_time_that_is_a_little_ahead_stays_ahead_so_that_it_is_refused_and_not_moved() -> None:
    assert meant("14:00", "2026-04-13T12:42Z") == "2026-04-13 13:00"


def test_a_date_and_an_offset_are_taken_as_typed() -> None:
    assert meant("2026-04-12 18:00", "2026-04-13T09:00Z") == "2026-04-12 17:00"
    assert meant("2026-04-12 18:00Z", "2026-04-13T09:00Z") == "2026-04-12 18:00"


def test_an_hour_that_the_clocks_repeat_is_its_latest_run_that_has_happened() -> None:
    # clocks went back from 2:00 to 1:00 local time on 25 October 2026, at 01:00 UTC
    assert meant("1:30", "2026-10-25T01:45Z") == "2026-10-25 01:30"
    assert meant("1:30", "2026-10-25T00:45Z") == "2026-10-25 00:30"


def test_an_hour_that_the_clocks_skip_is_refused() -> None:
    # clocks went forward from 1:00 to 2:00 local time on 29 March 2026
    with pytest.raises(CannotTellError, match="was skipped on 2026-03-29"):
        meant("1:30", "2026-03-29T09:00Z")


def test_the_answer_is_in_utc() -> None:
    assert instant_meant(clock_time("9:42"), LISBON, datetime(2026, 4, 13, 9, tzinfo=UTC)).tzinfo is UTC


MONDAY = date(2026, 4, 13)


@pytest.mark.parametrize(
    ("typed", "days", "meant"),
    [
        ("8:30", (), "2026-04-13T07:30:00+00:00"),
        ("7:30", (), "2026-04-14T06:30:00+00:00"),
        ("7:30", (MONDAY, date(2026, 4, 16)), "2026-04-16T06:30:00+00:00"),
        ("9:00", (date(2026, 4, 20),), "2026-04-20T08:00:00+00:00"),
        ("9:00", (date(2026, 4, 1),), "2026-04-13T08:00:00+00:00"),
        ("2026-04-02 9:00", (MONDAY,), "2026-04-02T08:00:00+00:00"),
    ],
)
def test_work_begins_at_that_hour_on_the_first_working_day_still_to_come(
    typed: str, days: tuple[date, ...], meant: str
) -> None:
    now = datetime(2026, 4, 13, 7, 0, tzinfo=UTC)
    assert instant_to_come(clock_time(typed), LISBON, now, days).isoformat() == meant
