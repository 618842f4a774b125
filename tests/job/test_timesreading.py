"""Hours and forecast are written on the job's own clock and kept in UTC."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from mixclock.job.site import Forecast, Hours
from mixclock.job.tablereading import Findings, Table
from mixclock.job.timesreading import check_gaps, read_forecast, read_hours

LISBON = ZoneInfo("Europe/Lisbon")


def hours(**values: object) -> tuple[Hours | None, list[str]]:
    found = Findings()
    return read_hours(Table(values, "hours", found)), [str(mistake) for mistake in found.mistakes]


def forecast(*entries: dict[str, object], zone: ZoneInfo = LISBON) -> tuple[tuple[Forecast, ...], list[str]]:
    found = Findings()
    tables = [Table(entry, f"forecast[{number}]", found) for number, entry in enumerate(entries, 1)]
    return read_forecast(tables, zone), [str(mistake) for mistake in found.mistakes]


def test_days_and_times_may_be_typed_in_quotes_or_as_toml_knows_them() -> None:
    typed, _ = hours(days=["2026-04-14", "2026-04-13"], start="7:30", end="17:30")
    known, _ = hours(days=[date(2026, 4, 13), date(2026, 4, 14)], start=time(7, 30), end=time(17, 30))
    assert typed == known == Hours((date(2026, 4, 13), date(2026, 4, 14)), time(7, 30), time(17, 30))


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"start": "17:30", "end": "07:30"}, "ends before it begins: 17:30 to 07:30"),
        ({"start": "17:45"}, "ends before it begins: 17:45 to 17:30"),
        ({"start": "7.30"}, "no time of day"),
        ({"start": "25:00"}, "not on the clock"),
        ({"start": "2026-04-13 07:30"}, "no time of day"),
        ({"start": 7}, "no time of day"),
        ({"days": ["2026-02-30"]}, "no day of the calendar"),
        ({"days": "monday"}, "not a list of days"),
        ({"days": ["2026-04-13", "2026-04-13"]}, "stands twice"),
        ({"begin": "07:30"}, "is no key"),
    ],
)
def test_hours_that_can_not_be_kept_are_refused(values: dict[str, object], says: str) -> None:
    _, (line,) = hours(**values)
    assert says in line


def test_a_forecast_is_on_the_jobs_clock_summer_time_included() -> None:
    (entry,), said = forecast({"at": "2026-04-13 08:00", "air": "61 °F", "humidity": "62 %", "slab": "14 °C"})
    assert said == []
    assert entry.at == datetime(2026, 4, 13, 7, 0, tzinfo=UTC)
    assert entry.air_c == pytest.approx(16.11, abs=0.01)
    assert entry.rh_pct == 62.0


def test_a_forecast_may_carry_its_own_offset() -> None:
    (entry,), _ = forecast({"at": "2026-04-13 08:00+05:00", "air": "16 °C"})
    assert entry.at == datetime(2026, 4, 13, 3, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("entries", "says"),
    [
        ([{"at": "2026-04-13 08:00"}], "and so are humidity and slab"),
        ([{"air": "16 °C"}], "is missing"),
        ([{"at": "08:00", "air": "16 °C"}], "no day and time"),
        ([{"at": "soon", "air": "16 °C"}], "no time of day"),
        ([{"at": "2026-04-13 09:00", "air": "16 °C"}, {"at": "2026-04-13 08:00", "air": "16 °C"}], "out of order"),
        ([{"at": "2026-04-13 09:00", "air": "16 °C"}, {"at": "2026-04-13 09:00", "air": "17 °C"}], "forecast twice"),
        ([{"at": "0001-01-01 00:00", "air": "16 °C"}], "too far away"),
    ],
)
def test_a_forecast_that_can_not_be_is_refused(entries: list[dict[str, object]], says: str) -> None:
    _, lines = forecast(*entries, zone=ZoneInfo("Asia/Tokyo"))
    assert any(says in line for line in lines), lines


def gaps(*at: str) -> list[str]:
    found = Findings()
    entries, _ = forecast(*({"at": when, "air": "16 °C"} for when in at))
    days = (date(2026, 4, 13), date(2026, 4, 14))
    check_gaps(Table({}, "", found), entries, Hours(days, time(7, 30), time(17, 30)), LISBON)
    return [str(mistake) for mistake in found.mistakes]


def test_a_hole_of_more_than_six_working_hours_in_a_forecast_is_said_with_its_times() -> None:
    (line,) = gaps("2026-04-13 08:00", "2026-04-13 15:00")
    assert "nothing from 2026-04-13 08:00 to 2026-04-13 15:00" in line


def test_a_night_without_a_forecast_is_no_hole_and_neither_is_a_single_entry() -> None:
    assert gaps("2026-04-13 08:00", "2026-04-13 14:00", "2026-04-14 08:00") == []
    assert gaps("2026-04-13 08:00") == []


def test_a_forecast_for_the_mornings_only_leaves_the_afternoon_open() -> None:
    (line,) = gaps("2026-04-13 08:00", "2026-04-14 08:00")
    assert "nothing from 2026-04-13 08:00 to 2026-04-13 17:30" in line
