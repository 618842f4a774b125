"""A logger's export is read by what its headings say; what they leave open is asked for."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from mixclock.job.loggertable import LoggerWish, logger_table
from mixclock.job.loggertimes import TimeOrder
from mixclock.job.mistakes import Mistakes

# the three layouts are made up after the headings that loggers print; the values are invented
QUOTED = """"Plot Title: boat shed"
"#","Date Time, GMT-07:00","Temp, °C (LGR S/N: 1, SEN S/N: 1)","RH, % (LGR S/N: 1)","Coupler Attached (LGR S/N: 1)"
"1","04/13/26 08:00:00 AM","16.500","62.1",""
"2","04/13/26 08:10:00 AM","16.6","62.0","Logged"
"3","04/13/26 08:20:00 AM","","",""
"4","04/13/26 01:30:00 PM","20.1","58",""
"""
ROW_NUMBER_FIRST = """shed 2,Time,Celsius(°C),Humidity(%rh),Dew Point(°C),Serial Number
1,2026-04-13 08:00:00,16.5,62.0,9.2,123456
2,2026-04-13 08:05:00,16.5,101.0,9.2,
3,2026-04-13 08:10:00,45.5,60.0,9.2,
4,2026-04-13 08:15:00,16.7,60.0,9.2,
"""
BYTE_ORDER_MARK = (
    "\ufeffTimestamp for sample frequency every 15 min min,Temperature_Celsius,Relative_Humidity\n"
    "2026-04-13 08:00:00,16.50,62.00\n"
)


def test_quoted_headings_with_commas_and_their_own_offset_are_read() -> None:
    read = logger_table(QUOTED)
    assert [(row.at, row.temp_c, row.rh_pct) for row in read.rows] == [
        (datetime(2026, 4, 13, 15, 0, tzinfo=UTC), 16.5, 62.1),
        (datetime(2026, 4, 13, 15, 10, tzinfo=UTC), 16.6, 62.0),
        (datetime(2026, 4, 13, 20, 30, tzinfo=UTC), 20.1, 58.0),
    ]
    assert read.blank == 1


def test_a_row_number_in_front_and_a_dew_point_behind_are_not_taken_for_the_temperature() -> None:
    read = logger_table(ROW_NUMBER_FIRST, LoggerWish(zone="Europe/Lisbon"))
    assert (read.columns.temperature, read.columns.humidity) == ("Celsius(°C)", "Humidity(%rh)")
    assert [(row.line, row.at.hour) for row in read.rows] == [(2, 7), (5, 7)]  # Lisbon's summer is an hour ahead


def test_humidity_over_a_hundred_and_a_jump_of_29_kelvin_are_held_back_and_said() -> None:
    read = logger_table(ROW_NUMBER_FIRST, LoggerWish(zone="UTC"))
    assert [(held.line, held.why) for held in read.held_back] == [
        (3, "humidity of 101 %"),
        (4, "its temperature jumps further within two hours than air or a slab can"),
    ]


def test_a_byte_order_mark_hides_no_heading() -> None:
    read = logger_table(BYTE_ORDER_MARK, LoggerWish(zone="UTC"))
    assert [(row.temp_c, row.rh_pct) for row in read.rows] == [(16.5, 62.0)]


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        (ROW_NUMBER_FIRST, "--zone"),
        ("Datum;Temperatur\n13.04.2026 08:00;16,5\n", "--degrees"),
        ("Time UTC,Temp (K)\n2026-04-13 08:00,289.6\n", "--degrees"),
        ("Date UTC,Temp (°F)\n04/05/2026 08:00,61\n04/05/2026 08:15,61.5\n", "--order"),
        ("", "no headings"),
        ("one,two\n1,2\n", "no headings"),
    ],
)
def test_what_the_headings_leave_open_is_asked_for(text: str, asked: str) -> None:
    with pytest.raises(Mistakes, match=asked):
        logger_table(text)


def test_decimal_commas_and_fahrenheit_are_read_as_they_are_meant() -> None:
    comma = logger_table("Datum;Temperatur\n13.04.2026 08:00;16,5\n", LoggerWish(zone="Europe/Berlin", degrees="C"))
    assert (comma.rows[0].temp_c, comma.rows[0].at.hour) == (16.5, 6)
    warm = logger_table("Time UTC,Temp (°F)\n2026-04-13 08:00,61\n")
    assert warm.rows[0].temp_c == pytest.approx((61 - 32) * 5 / 9, abs=5e-4)


def test_a_date_that_only_one_order_explains_needs_no_question() -> None:
    read = logger_table("Date UTC,Temp (°C)\n04/12/2026 08:00,16\n04/13/2026 08:00,16\n")
    assert [(row.at.month, row.at.day) for row in read.rows] == [(4, 12), (4, 13)]
    said = logger_table("Date UTC,Temp (°C)\n04/05/2026 08:00,16\n", LoggerWish(order=TimeOrder.DAY))
    assert (said.rows[0].at.month, said.rows[0].at.day) == (5, 4)


def test_the_hour_that_comes_twice_in_autumn_is_told_apart_by_its_order() -> None:
    twice = ["2026-10-25 00:30", "2026-10-25 01:30", "2026-10-25 01:30", "2026-10-25 02:30"]
    rows = "".join(f"{at},16.{place}\n" for place, at in enumerate(twice))
    read = logger_table(f"Time,Temp (°C)\n{rows}", LoggerWish(zone="Europe/Lisbon"))
    hours = [(row.at - read.rows[0].at) / timedelta(hours=1) for row in read.rows]
    assert hours == [0.0, 1.0, 2.0, 3.0]


def test_a_probe_that_keeps_its_last_digit_for_half_a_day_is_stuck_and_its_humidity_still_counts() -> None:
    start = datetime(2026, 4, 13, tzinfo=UTC)
    rows = "".join(f"{start + timedelta(hours=hour):%Y-%m-%d %H:%M},16.5,{60 + hour / 10}\n" for hour in range(15))
    read = logger_table(f"Time UTC,Temp (°C),RH (%)\n{rows}")
    assert [row.temp_c for row in read.rows[:3]] == [16.5, 16.5, 16.5]
    assert {row.temp_c for row in read.rows[3:]} == {None}
    assert len(read.rows) == 15
    assert {held.line for held in read.held_back} == set(range(5, 17))
