"""A crew that works on a day or at an hour that its job file does not name. Monday the 13th; every time by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import pytest

from mixclock.decide.kitshapes import KitVerdict
from mixclock.decide.plan.days.advice import advice_by
from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.days.nextkit import next_kit
from mixclock.decide.plan.days.outsidehours import OutsideHours, beside_hours, outside_hours
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.days.standpoint import standpoint_of
from mixclock.decide.plan.floor.conditions import working_stretches
from mixclock.decide.plan.floor.sheettiming import SheetTiming
from mixclock.job.entry import Combined, JobStarted, Poured, ProfileUsed, Reading
from mixclock.job.progress import Standing
from mixclock.job.site import Hours
from tests.decide.plan.test_replan import PLAIN_SITE, QUICK, bench_of
from tests.decide.worlds import BASE, MODEL, Log, instant

TUESDAY = Hours((date(2026, 4, 14),), time(7, 30), time(17, 30))
MONDAY_UNTIL_FIVE_PAST_EIGHT = Hours((date(2026, 4, 13), date(2026, 4, 14)), time(7, 30), time(8, 5))
MONDAY_FROM_NINE = Hours((date(2026, 4, 13),), time(9), time(17, 30))


def poured(joined: bool = True) -> Log:
    """Bay 1 is poured at 8:04; its two neighbours wait. No flake."""
    log = Log()
    site = PLAIN_SITE.replace("wet_edge = false", "wet_edge = true") if joined else PLAIN_SITE
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", site.replace("Europe/Lisbon", "UTC")))
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(4, Poured(1))
    return log


def at_work(log: Log, minutes: float, hours: Hours) -> tuple[Standing, Bench, OutsideHours | None]:
    standing = log.standing(minutes)
    standing = replace(standing, site=replace(standing.site, hours=hours))
    bench = bench_of(log, minutes)
    bench = replace(bench, site=replace(bench.site, hours=hours))
    stood = standpoint_of(standing, log.tracks(minutes), bench, instant(minutes)).standpoint
    return standing, bench, outside_hours(standing, log.tracks(minutes), stood, instant(minutes))


def test_a_crew_that_pours_on_a_day_without_work_is_planned_that_day_and_told_where_it_may_tape() -> None:
    log = poured()
    standing, bench, found = at_work(log, 6, TUESDAY)
    stood = standpoint_of(standing, log.tracks(6), bench, instant(6)).standpoint
    refused = make_plan(bench, QUICK, stood)
    assert refused.obstacle is not None
    assert refused.obstacle.constraint == "wet-edge", "next morning nothing is wet any more"
    assert found is not None
    assert found.said == (
        "Mon 13 is no working day by the job file; the edge of bay 1 is wet, so it is planned until 17:30 all the "
        "same; to stop sooner, tape a straight line there first"
    )
    works = replace(bench.site, also_works=((found.worked.start, found.worked.end),))
    plan = make_plan(replace(bench, site=works), QUICK, stood)
    assert plan.feasible, plan.obstacle
    assert plan.batches[0].mixed_at.date() == date(2026, 4, 13)
    mixes = (plan.batches[0].mixed_at - instant(0)).total_seconds() / 60.0
    called = advice_by(
        standing, (), (plan,), instant(mixes + 31.0)
    )  # nobody stated the back-roll: half an hour of slip
    assert [each.id for each in called] == ["plan.next-batch-2"]


@pytest.mark.parametrize(
    ("hours", "said", "until"),
    [
        (MONDAY_UNTIL_FIVE_PAST_EIGHT, "work ends at 8:05 by the job file", (11, 6)),
        (MONDAY_FROM_NINE, "work begins at 9:00 by the job file", (17, 30)),
    ],
    ids=["in the evening", "before work"],
)
def test_a_wet_edge_outside_the_hours_of_a_working_day_is_met_too(
    hours: Hours, said: str, until: tuple[int, int]
) -> None:
    """At 8:06. In the evening for three hours more; before work until the day ends."""
    _, bench, found = at_work(poured(), 6, hours)
    assert found is not None
    assert found.said.startswith(f"{said}; the edge of bay 1 is wet")
    assert (found.worked.end.hour, found.worked.end.minute) == until
    works = replace(bench.site, also_works=((found.worked.start, found.worked.end),))
    first = working_stretches(works, instant(6))[0]
    assert (first.start, first.end) == (instant(6), found.worked.end)


def test_where_nothing_must_be_met_a_bucket_tells_of_work_on_a_day_off_and_of_none_in_the_evening() -> None:
    """The last bucket before the evening may have been the last of the day."""
    _, _, day_off = at_work(poured(joined=False), 6, TUESDAY)
    assert day_off is not None
    assert day_off.said.endswith("you are at work, so today is planned until 17:30 all the same")
    assert at_work(poured(joined=False), 6, MONDAY_UNTIL_FIVE_PAST_EIGHT)[2] is None
    assert at_work(poured(joined=False), 70, TUESDAY)[2] is None, "nobody mixed for an hour"


def test_within_the_hours_nothing_is_said() -> None:
    assert at_work(poured(), 6, replace(TUESDAY, days=(date(2026, 4, 13),)))[2] is None


def test_the_next_kit_goes_by_the_same_day_as_the_plan() -> None:
    """On a day off, 61 minutes after the last bucket of a slow resin: its edge is wet still, so neither says no."""
    log = poured()
    slow = BASE.replace('"28 min", "30 °C" = "16 min"', '"170 min", "30 °C" = "100 min"')
    log.entries[1] = replace(log.entries[1], facts=ProfileUsed("Shed base", slow))
    standing, _, found = at_work(log, 61, TUESDAY)
    assert found is not None
    answer = next_kit(standing, log.tracks(61), SheetTiming(standing, MODEL), instant(61))
    assert answer.mix_at is not None, answer
    assert answer.mix_at.date() == date(2026, 4, 13), "next morning nothing is wet any more"
    assert beside_hours(standing.site, instant(61)) == found.worked


def test_where_nothing_is_wet_and_nobody_mixed_for_an_hour_the_next_kit_waits_for_the_hours() -> None:
    log = poured(joined=False)
    standing, _, found = at_work(log, 70, TUESDAY)
    assert found is None
    assert next_kit(standing, log.tracks(70), SheetTiming(standing, MODEL), instant(70)).verdict is not KitVerdict.YES
