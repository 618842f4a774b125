"""What forbids laying a product is told in the crew's own units, and never looks like what is allowed."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest

from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.conditions import ExpectedConditions, Stretch, allowed, objection, working_stretches
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.profile import Limits
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from mixclock.units import METRIC_CREW, US_CREW
from tests.decide.plan.floors import BEGINS, PRODUCT, bench, minutes, row_of

LIMITS = Limits(slab_c=(10.0, 30.0), air_c=(8.0, 35.0), humidity_max_pct=80.0)
FAIR = ExpectedConditions(20.0, 50.0, 20.0)


def test_a_fair_hour_has_nothing_against_it() -> None:
    assert objection(LIMITS, FAIR) is None


@pytest.mark.parametrize(
    ("expected", "metric", "us"),
    [
        (
            ExpectedConditions(12.0, 50.0, 4.0),
            "slab at 4 °C, the sheet allows 10 °C to 30 °C",
            "slab at 39 °F, the sheet allows 50 °F to 86 °F",
        ),
        (
            ExpectedConditions(5.0, 50.0, 12.0),
            "air at 5 °C, the sheet allows 8 °C to 35 °C",
            "air at 41 °F, the sheet allows 46 °F to 95 °F",
        ),
        (
            ExpectedConditions(20.0, 84.0, 20.0),
            "humidity of 84 %, the limit is 80 %",
            "humidity of 84 %, the limit is 80 %",
        ),
        # air of 20 °C at 70 % has its dew point at 14.4 °C; a slab of 16 °C lies 1.6 K over it, 2.9 °F
        (
            ExpectedConditions(20.0, 70.0, 16.0),
            "slab only 1.6 °C over the dew point, the limit is 3.0 °C",
            "slab only 2.9 °F over the dew point, the limit is 5.4 °F",
        ),
    ],
)
def test_what_is_in_the_way_is_told_in_celsius_or_fahrenheit(
    expected: ExpectedConditions, metric: str, us: str
) -> None:
    assert objection(LIMITS, expected, METRIC_CREW) == metric
    assert objection(LIMITS, expected, US_CREW) == us


def test_a_slab_a_hair_too_cold_is_not_told_as_being_at_the_limit() -> None:
    assert (
        objection(LIMITS, ExpectedConditions(12.0, 50.0, 9.8))
        == "slab just under 10 °C, the sheet allows 10 °C to 30 °C"
    )
    assert (
        objection(LIMITS, ExpectedConditions(22.0, 50.0, 30.2))
        == "slab just over 30 °C, the sheet allows 10 °C to 30 °C"
    )


@pytest.mark.parametrize(
    ("start", "end", "stretches"),
    [
        (time(0, 0), time(23, 59), [("13 06:00", "15 23:59")]),
        (time(0, 1), time(23, 59), [("13 06:00", "15 23:59")]),
        (time(0, 5), time(23, 59), [("13 06:00", "13 23:59"), ("14 00:05", "14 23:59"), ("15 00:05", "15 23:59")]),
        (time(7, 0), time(17, 0), [("13 07:00", "13 17:00"), ("14 07:00", "14 17:00"), ("15 07:00", "15 17:00")]),
    ],
)
def test_a_crew_that_stops_a_minute_before_midnight_and_begins_with_the_day_works_through_the_night(
    start: time, end: time, stretches: list[tuple[str, str]]
) -> None:
    """A minute or two is no night; after six minutes the crew comes back as on any morning."""
    days = tuple(date(2026, 4, day) for day in (13, 14, 15))
    site = Site("Boat shed", "UTC", (), (), (), (), Hours(days, start, end))
    found = working_stretches(site, datetime(2026, 4, 13, 6, tzinfo=UTC))
    assert [tuple(f"{at:%d %H:%M}" for at in (each.start, each.end)) for each in found] == stretches


class DampAfterAnHour:
    """Humidity that every resin takes, for an hour from the beginning; then more than any takes."""

    def at(self, instant: datetime) -> ExpectedConditions:
        """Twenty degrees all day."""
        return ExpectedConditions(20.0, 50.0 if instant < BEGINS + timedelta(hours=1) else 95.0, 20.0)


def test_a_day_that_the_weather_cuts_short_is_not_told_as_short_working_hours() -> None:
    """One person rolls 75 m² an hour, so 150 m² take two hours at the least, and the air is dry enough for one."""
    crew, pail = (Person("one", (), 110.0, 75.0, 60.0, 35.0),), (Vessel("pail", 200.0),)
    hours = Hours((BEGINS.date(),), time(0, 1), time(23, 59))
    coat = Coat("base", PRODUCT, 300.0, wet_edge=False)
    site = Site("Slip", "UTC", row_of((75.0, 75.0), (0.0, 0.0)), (coat,), crew, pail, hours)
    slow = bench(site, minutes(pour_out=500.0, back_roll=500.0, wet_edge=500.0))
    quick = Ways(Effort(200, 100), exact=False)
    assert make_plan(slow, quick).feasible
    refused = make_plan(replace(slow, outlook=DampAfterAnHour()), quick).obstacle
    assert refused is not None
    assert refused.said == (
        "base: it does not fit into the working hours that the weather leaves (humidity of 95 %, the limit is 85 %)"
    )


class HumidFrom:
    """Fair until a minute of the day that no quarter of an hour falls on, and humid from then on."""

    def __init__(self, turns: datetime) -> None:
        self.turns = turns

    def at(self, instant: datetime) -> ExpectedConditions:
        """Fair, or 90 % of humidity."""
        return FAIR if instant < self.turns else replace(FAIR, rh_pct=90.0)


@pytest.mark.parametrize("minute", [1, 7, 14, 15])
def test_nothing_is_laid_in_the_quarter_of_an_hour_in_which_the_weather_turns(minute: int) -> None:
    begins, turns = datetime(2026, 4, 13, 7, tzinfo=UTC), datetime(2026, 4, 13, 10, minute, tzinfo=UTC)
    [good], refused = allowed([Stretch(begins, begins + timedelta(hours=8))], LIMITS, HumidFrom(turns))
    assert turns - timedelta(seconds=1) <= good.end < turns
    assert refused[0].at == good.end
