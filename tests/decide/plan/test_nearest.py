"""Where nothing fits: the nearest plan, with what it breaks and by how much."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.days.timetable import film_of
from mixclock.decide.plan.floor.conditions import ExpectedConditions
from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.plan.floor.timing import Span
from mixclock.decide.plan.judge.explanation import explain
from mixclock.decide.plan.judge.foreman import foreman_plan
from mixclock.decide.plan.judge.nearest import nearest_plan
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.practice import hours as hours_of
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from mixclock.units import write_span
from tests.decide.plan.floors import DAYS, PRODUCT, FixedTiming, bench, minutes, row_of
from tests.decide.plan.test_waits import two_coats

QUICK = Ways(Effort(300, 200), exact=False)
ALONE = (Person("one", (), 110.0, 66.0, 60.0, 35.0),)


def floor(hours: Hours) -> Site:
    coat = Coat("base", PRODUCT, 300.0, kit_l=9.0)
    return Site("Slip", "UTC", row_of((11.0,), (7.0,)), (coat,), ALONE, (Vessel("pail", 12.0),), hours)


def explained(at: Bench) -> Plan:
    plan = make_plan(at, QUICK)
    assert not plan.feasible
    return explain(at, plan, QUICK)


def test_a_day_that_is_too_short_is_told_by_its_minutes_past_the_hours() -> None:
    """By hand: 3 measure, 3 mix, 1 pour, 6 squeegee, 12 cut in, 10 roll, 10 clean = 45 minutes; the day has 30."""
    at = bench(floor(Hours(DAYS[:1], time(6), time(6, 30))), minutes(pour_out=20.0, back_roll=60.0))
    plan = explained(at)
    assert plan.breaks == ("on Mon 13 the work goes on until 6:45, 15 min past your hours",)
    assert plan.steps
    assert plan.obstacle is not None
    assert 1 <= len(plan.changes) <= 3


def test_minutes_past_the_hours_are_told_where_these_are_over_already_and_where_it_is_midnight_in_greenwich() -> None:
    """The same 45 minutes: begun at 6:40 in a day that ended at 6:30; and at 15:50 eight hours west of Greenwich, in a
    day that ends at 16:10: the clock strikes midnight there after the first ten of them."""
    clocks = minutes(pour_out=20.0, back_roll=60.0)
    at = bench(floor(Hours(DAYS[:1], time(6), time(6, 30))), clocks)
    plan = explained(replace(at, begins=at.begins + timedelta(minutes=40)))
    assert plan.breaks == ("on Mon 13 the work goes on until 7:25, 55 min past your hours",)
    west = bench(replace(floor(Hours(DAYS[:1], time(6), time(16, 10))), zone="Etc/GMT+8"), clocks)
    plan = explained(replace(west, begins=datetime(2026, 4, 13, 23, 50, tzinfo=UTC)))
    assert plan.breaks == ("on Mon 13 the work goes on until 16:35, 25 min past your hours",)


def test_the_minutes_past_the_hours_are_those_up_to_the_minute_that_stands_beside_them() -> None:
    """Begun ten seconds later the same work ends at 6:45:10 or so: until 6:46 that is 16 minutes past 6:30."""
    at = bench(floor(Hours(DAYS[:1], time(6), time(6, 30))), minutes(pour_out=20.0, back_roll=60.0))
    plan = explained(replace(at, begins=at.begins + timedelta(seconds=10)))
    assert plan.breaks == ("on Mon 13 the work goes on until 6:46, 16 min past your hours",)


def test_a_bay_that_is_rolled_too_late_is_told_by_how_many_minutes() -> None:
    """Spread, cut in and rolled in 28 minutes after the pour by one person; the back-roll shuts after 25."""
    at = bench(floor(Hours(DAYS, time(6), time(20))), minutes(pour_out=20.0, back_roll=25.0))
    plan = explained(at)
    assert plan.breaks == ("bay 1 is back-rolled 3 min late",)


def test_a_coat_after_its_recoat_is_told_by_how_long() -> None:
    """An hour's work a day from 7:30, recoat from 20 h to 21 h: poured by 8:00 it has shut by 5:00, 2 h 30 min too soon
    for the next morning and more by what the day's work takes."""
    at = two_coats(20.0, 21.0)
    plan = explained(replace(at, site=replace(at.site, hours=Hours(DAYS[:2], time(7, 30), time(8, 30)))))
    (said,) = plan.breaks
    assert re.fullmatch(r"top goes on bay [12] (2|3) h( \d+ min)? after the recoat below has shut", said)


def test_a_recoat_of_a_film_that_lies_already_is_told_too() -> None:
    """The base lies since the morning and shuts after 20 h, about 3:45; the top goes on from 7:30 on."""
    at = two_coats(16.0, 20.0)
    first = make_plan(replace(at, site=replace(at.site, coats=at.site.coats[:1])), QUICK)
    laid = tuple(film_of(batch, first.steps) for batch in first.batches)
    stood = Standpoint(films=laid, left_m2={("base", area): 0.0 for film in laid for area in film.areas})
    morning = replace(at, begins=at.begins + timedelta(days=1))
    plan = explain(morning, make_plan(morning, QUICK, stood), QUICK, stood)
    assert [(change.direction, change.batches > 0) for change in plan.changes] == [("sanding", True)]
    assert plan.changes[0].said.startswith("sand base first")
    sanded = replace(stood, films=tuple(replace(film, sanded=True) for film in laid))
    again = foreman_plan(morning, QUICK, sanded)
    assert again.feasible, "whoever does as told gets a plan"
    told = plan.changes[0]
    assert (told.batches, told.finish) == (len(again.batches), again.finish), "and the one that was told"
    assert min(top.poured_at for top in again.batches) - morning.begins < timedelta(minutes=15)
    shuts = {area: film.ended["pour"] + timedelta(hours=20) for film in laid for area in film.areas}
    late, area = max((top.poured_at - shuts[area], area) for top in plan.batches for area in top.areas)
    assert timedelta(hours=3, minutes=30) < late < timedelta(hours=5)
    assert plan.breaks == (f"top goes on {area} {write_span(late.total_seconds())} after the recoat below has shut",)


def test_no_bucket_is_planned_past_its_pour_out() -> None:
    """Three minutes of mixing and one of pouring do not fit into three: no plan is shown at all."""
    at = bench(floor(Hours(DAYS, time(6), time(20))), minutes(pour_out=3.0, back_roll=60.0))
    plan = explained(at)
    assert plan.breaks == ()
    assert not plan.steps


def test_of_many_bays_that_are_late_the_worst_are_named_and_the_others_counted() -> None:
    """Whole kits, a bay each, 28 minutes of one person's work against 25: every one of six is 3 minutes late."""
    coat = Coat("base", PRODUCT, 300.0, kit_l=4.0, wet_edge=False)
    site = replace(floor(Hours(DAYS, time(6), time(20))), areas=row_of((11.0,) * 6, (7.0,) * 6), coats=(coat,))
    plan = explained(bench(site, minutes(pour_out=20.0, back_roll=25.0)))
    assert len(plan.breaks) == 3
    assert all(re.fullmatch(r"bay \d is back-rolled [34] min late", said) for said in plan.breaks[:2])
    assert re.fullmatch(r"4 more are back-rolled up to [34] min late", plan.breaks[2])


def test_where_no_longer_day_is_enough_another_day_is_shown_and_told() -> None:
    """The recoat opens 20 hours after: not on the only day there is, however long it is worked."""
    at = two_coats(20.0, 48.0)
    plan = explained(replace(at, site=replace(at.site, hours=Hours(DAYS[:1], time(7, 30), time(17, 30)))))
    assert plan.breaks == ("there is work on Tue 14, which is none of your days",)


def under_a_quick_top(base_min: float, top: Span) -> Bench:
    """A floor whose base gives so many minutes to back-roll, and its top another span."""
    coats = Coat("base", PRODUCT, 300.0, kit_l=9.0), Coat("top", "Quick top", 300.0, kit_l=9.0, after="base")
    site = replace(floor(Hours(DAYS, time(6), time(20))), coats=coats)
    slow = bench(site, minutes(pour_out=20.0, back_roll=base_min), {"recoat": 60.0})
    timing = FixedTiming({**slow.timing.closing, ("Quick top", "back-roll"): top}, slow.timing.opening)
    return replace(slow, timing=timing, exact=timing)


def test_only_the_coat_that_is_in_the_way_is_loosened() -> None:
    """Over 20 minutes of back-roll the base is kept as it is; the top, with a kit too large for its own, is late."""
    plan = explained(under_a_quick_top(32.0, Span(25.0 * 60.0, 30.0 * 60.0)))
    assert plan.breaks == ("bay 1 is back-rolled 3 min late",)
    late = {step.coat for step in plan.steps if step.slack_s is not None and step.slack_s < 0.0}
    assert late == {"top"}


def test_a_coat_that_lives_longer_in_the_pail_than_on_the_floor_is_laid_in_strips_and_one_that_does_not_is_not() -> (
    None
):
    """By hand: 12 min to cut in, 6 to squeegee, 10 to roll 11 m² is 28 min, in 15; a bucket of an hour waits for it."""
    hours = Hours(DAYS, time(6), time(20))
    plan = make_plan(bench(floor(hours), minutes(pour_out=60.0, back_roll=15.0)), QUICK)
    assert plan.feasible
    assert any(batch.strips > 1 for batch in plan.batches)
    short = make_plan(bench(floor(hours), minutes(pour_out=20.0, back_roll=15.0)), QUICK)
    assert all(batch.strips == 1 for batch in short.batches), "a bucket that dies as soon is no pool"


def test_a_recoat_that_no_hour_meets_is_missed_by_as_little_as_the_base_can_wait_for() -> None:
    """Worked from 7:30 to 17:30, recoat from 12 h to 12 h 30 min after the pour: a base of the early morning is shut at
    20:00, half a day before anybody comes. By hand: 7 minutes to the pour, 10.3 to cut in, 7.2 to roll and 10 to clean
    are 34.5, so it is poured by 17:02 and shut by 5:32; the top is poured at 7:37, 2 h 4 min too late. Starts are a
    quarter of an hour apart, and so is what is loosened: half an hour more at most."""
    plan = explained(two_coats(12.0, 12.5))
    (said,) = plan.breaks
    found = re.fullmatch(r"top goes on bay [12] 2 h (\d+) min after the recoat below has shut", said)
    assert found is not None, said
    assert 4 <= int(found.group(1)) <= 34
    for batch in (batch for batch in plan.batches if batch.coat == "base"):
        (recoat,) = [window for window in batch.windows if window.name == "recoat"]
        assert recoat.closes == batch.poured_at + timedelta(hours=12.5), "what is told is the sheet's own end"


def test_a_window_of_which_one_person_needs_ten_times_as_much_is_told_by_its_minutes() -> None:
    """By hand: 12 min to cut in, 6 to squeegee and 10 to roll are 28 from the pour; the back-roll shuts after 3."""
    at = bench(floor(Hours(DAYS, time(6), time(20))), minutes(pour_out=20.0, back_roll=3.0))
    assert explained(at).breaks == ("bay 1 is back-rolled 25 min late",)


def test_two_coats_that_are_both_too_quick_for_the_crew_are_both_told() -> None:
    """By hand as above: 28 minutes of one person's work, of which the base gives 25 and the top 20."""
    plan = explained(under_a_quick_top(25.0, Span(20.0 * 60.0, 24.0 * 60.0)))
    assert plan.breaks == ("bay 1 is back-rolled 8 min late", "bay 1 is back-rolled 3 min late")


def test_a_crew_stays_some_minutes_longer_rather_than_miss_a_recoat_by_a_day() -> None:
    """Worked from 7:30 to 15:30 on the 13th and the 15th, recoat from 8 h to 20 h after the pour: a base of 7:37 takes
    the top at 15:37. By hand that is done, with 35 minutes of work and cleaning, 3 of them before the pour, at 16:05 or
    some minutes later."""
    at = two_coats(8.0, 20.0)
    plan = explained(replace(at, site=replace(at.site, hours=Hours((DAYS[0], DAYS[2]), time(7, 30), time(15, 30)))))
    (said,) = plan.breaks
    found = re.fullmatch(r"on Mon 13 the work goes on until 16:\d\d, (\d+) min past your hours", said)
    assert found is not None, said
    assert 34 <= int(found.group(1)) <= 45


def test_what_a_change_has_shown_already_is_told_as_the_nearest_plan_where_no_work_is_left_for_a_search() -> None:
    """The top opens 20 hours after the base, on the only day there is: with a day more there is a plan."""
    at = two_coats(20.0, 48.0)
    short = replace(at, site=replace(at.site, hours=Hours(DAYS[:1], time(7, 30), time(17, 30))))
    refused, shown = make_plan(short, QUICK), make_plan(at, QUICK)
    assert refused.obstacle is not None
    assert shown.feasible
    plan = nearest_plan(
        short,
        refused.obstacle,
        QUICK,
        short=lambda: replace(QUICK, stop=lambda: True),
        known=lambda asked: shown if len(hours_of(asked.site).value.days) > 1 else None,
    )
    assert plan is not None
    assert plan.breaks == ("there is work on Tue 14, which is none of your days",)


class DampFromHalfPastSix:
    """Dry before half past six on the first morning, and then for weeks at 95 % over a slab as cold as its dew
    point."""

    def at(self, instant: datetime) -> ExpectedConditions:
        """Twenty degrees in the air and on the slab."""
        is_dry = instant < datetime(2026, 4, 13, 6, 30, tzinfo=UTC)
        return ExpectedConditions(20.0, 50.0 if is_dry else 95.0, 20.0)


def test_a_floor_that_the_damp_cuts_short_is_told_by_how_long_it_is_laid_in_the_damp() -> None:
    """By hand: 3 measure, 3 mix, 1 pour, 6 squeegee, 12 cut in, 10 roll = 35 minutes from 6:00 to the last roller: 5
    past the damp of 6:30, on every day."""
    at = bench(floor(Hours(DAYS, time(6), time(20))), minutes(pour_out=20.0, back_roll=60.0))
    plan = explained(replace(at, outlook=DampFromHalfPastSix()))
    (said,) = plan.breaks
    assert said.startswith("base: humidity of 95 %, the limit is 85 %, and the work on it goes on for ")
    assert re.search(r"goes on for [456] min after that comes", said), said
