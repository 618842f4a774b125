"""Spans of time and times of day as crews type them."""

import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.units import TypedTime, UnitError, clock_time, span_s


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("1 h 30 min", 5400),  # hour times minute to pint
        ("30 min", 1800),
        ("90s", 90),
        ("2 d", 172_800),
        ("1h30", 5400),
        ("1h30m", 5400),
        ("1 hour and 30 minutes", 5400),
        ("1 h, 30 min", 5400),
        ("1.5 h", 5400),
        ("1,5 h", 5400),
        ("1½ h", 5400),
        ("½ h", 1800),
        ("5 m", 300),  # a crew that times something means minutes
        ("1:30 h", 5400),
        ("1:30 min", 90),
        ("1:30:00", 5400),
        ("2 days 6 h", 194_400),
        ("2 weeks", 1_209_600),
        ("0 min", 0),
        ("12\u202fmin", 720),
    ],
)
def test_a_span_is_understood(typed: str, expected: float) -> None:
    assert span_s(typed) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("1:30", "can be read as 1 h 30 min or as 1 min 30 s"),
        ("1:75 h", "more than 59 behind a colon"),
        ("30 min 1 h", "large to small"),
        ("1 h 90 min", "does not add up"),
        ("1.5 h 30 min", "does not add up"),
        ("30 min 20 min", "does not add up"),
        ("-5 min", "below zero"),
        ("-1 h 30 min", "below zero"),
        ("1 month", "months differ in length"),
        ("6 L", "is a volume, where a span of time belongs"),
        ("5 minuts", "did you mean minutes?"),
        ("1,500 s", "1.5 s or as 1500 s"),
        ("20-30 min", "two values"),
        ("20 min to 30 min", "two values"),
    ],
)
def test_a_span_that_is_unclear_is_refused(typed: str, words: str) -> None:
    with pytest.raises(UnitError, match=re.escape(words)):
        span_s(typed)


@given(hours=st.integers(0, 99), minutes=st.integers(0, 59), seconds=st.integers(0, 59))
def test_a_span_in_parts_is_the_sum_of_its_parts(hours: int, minutes: int, seconds: int) -> None:
    assert span_s(f"{hours} h {minutes} min {seconds} s") == hours * 3600 + minutes * 60 + seconds


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("9:42", TypedTime(None, 9, 42)),
        ("09:42", TypedTime(None, 9, 42)),
        ("09:42:15", TypedTime(None, 9, 42, 15)),
        ("9h42", TypedTime(None, 9, 42)),
        ("9:42 am", TypedTime(None, 9, 42)),
        ("2:05pm", TypedTime(None, 14, 5)),
        ("2 p.m.", TypedTime(None, 14, 0)),
        ("12:05 am", TypedTime(None, 0, 5)),
        ("12:05 pm", TypedTime(None, 12, 5)),
        ("0:00", TypedTime(None, 0, 0)),
        ("2026-04-13 08:00", TypedTime(date(2026, 4, 13), 8, 0)),
        ("2026-04-13T08:00:00Z", TypedTime(date(2026, 4, 13), 8, 0, utc_offset_s=0)),
        ("2026-04-13T08:00:00.250+01:00", TypedTime(date(2026, 4, 13), 8, 0, 0, 250_000, 3600)),
        ("2026-04-13 08:00 -0330", TypedTime(date(2026, 4, 13), 8, 0, utc_offset_s=-12_600)),
    ],
)
def test_a_time_of_day_is_understood(typed: str, expected: TypedTime) -> None:
    assert clock_time(typed) == expected


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("9.42", "write 9:42"),
        ("0942", "write 09:42"),
        ("9", "write 9:00"),
        ("24:00", "from 0:00 to 23:59"),
        ("9:60", "from 0:00 to 23:59"),
        ("13:00 pm", "from 0:00 to 23:59"),
        ("2026-02-30 08:00", "not in the calendar"),
        ("4/13/2026 8:00", "write 9:42 or 2026-04-13 08:00"),
        ("2026-04-13", "write 9:42 or 2026-04-13 08:00"),
        ("2026-04-13 08:00+19:00", "further from UTC"),
        ("", "no time of day"),
    ],
)
def test_a_time_that_is_not_on_the_clock_is_refused(typed: str, words: str) -> None:
    with pytest.raises(UnitError, match=re.escape(words)):
        clock_time(typed)


@given(st.datetimes())
def test_every_iso_time_is_read_as_it_stands(at) -> None:
    found = clock_time(at.isoformat() if at.year > 999 else at.replace(year=2026, day=1).isoformat())
    assert (found.hour, found.minute, found.second, found.microsecond) == (
        at.hour,
        at.minute,
        at.second,
        at.microsecond,
    )
