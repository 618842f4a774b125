"""A coat that begins later in the day, so that the next one falls into its recoat."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.days.waits import LaterStart, roomiest
from mixclock.decide.plan.floor.timing import Span
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from tests.decide.plan.floors import BEGINS, DAYS, PRODUCT, FixedTiming, bench, minutes, row_of

QUICK = Ways(Effort(300, 200), exact=False)
MORNING = BEGINS.replace(hour=7, minute=30)
CREW = (Person("one", (), 110.0, 75.0, 60.0, 35.0), Person("two", (), 110.0, 75.0, 60.0, 35.0))
COATS = (Coat("base", PRODUCT, 300.0, kit_l=9.0, split=True), Coat("top", "Top", 100.0, kit_l=9.0, split=True))


def two_coats(opens_h: float, closes_h: float, coats: tuple[Coat, ...] = COATS) -> Bench:
    """Two bays, working from 7:30 to 17:30; every coat is open to the next between these hours after its pour."""
    pails = (Vessel("pail", 12.0), Vessel("second pail", 12.0))
    hours = Hours(DAYS, time(7, 30), time(17, 30))
    site = Site("Slip", "UTC", row_of((9.0, 9.0), (3.0, 3.0)), coats, CREW, pails, hours)
    found = bench(site, minutes(pour_out=20.0, back_roll=55.0, wet_edge=60.0, recoat=closes_h * 60.0))
    assert isinstance(found.timing, FixedTiming)
    opening = {(coat.product, "recoat"): Span(opens_h * 3600.0, opens_h * 3600.0) for coat in coats}
    closing = {**found.timing.closing, **{key: Span(closes_h * 3600.0, closes_h * 3600.0) for key in opening}}
    timing = FixedTiming(closing, opening)
    return replace(found, timing=timing, exact=timing, begins=MORNING)


def doubted(opens_h: tuple[float, float], closes_h: tuple[float, float]) -> Bench:
    """The same, open to the next coat from the likely or only from the late hour, until the early or the likely one."""
    found = two_coats(opens_h[0], closes_h[1])
    assert isinstance(found.timing, FixedTiming)
    (likely, late), (early, shut) = ([3600.0 * hour for hour in pair] for pair in (opens_h, closes_h))
    opening = {key: Span(0.9 * likely, likely, late) for key in found.timing.opening}
    closing = {**found.timing.closing, **{key: Span(early, shut, 1.1 * shut) for key in opening}}
    timing = FixedTiming(closing, opening)
    return replace(found, timing=timing, exact=timing)


def test_a_window_that_has_no_sure_hour_is_planned_by_its_likely_ones_and_said_with_its_chance() -> None:
    """Likely open from 24 to 31 h after the pour; surely only from 33, and shut by 29: there is no hour between."""
    plan = make_plan(doubted((24.0, 33.0), (29.0, 31.0)), QUICK)
    assert plan.feasible, plan.obstacle
    base, top = ([batch for batch in plan.batches if batch.coat == name] for name in ("base", "top"))
    for batch in top:
        after = [batch.poured_at - one.poured_at for one in base if set(one.areas) & set(batch.areas)]
        assert after
        assert all(timedelta(hours=24) <= each + timedelta(minutes=2) <= timedelta(hours=31) for each in after)
    recoats = [window for batch in base for window in batch.windows if window.name == "recoat"]
    assert recoats
    assert not any(window.sure or window.opens > window.closes for window in recoats)  # type: ignore[operator]
    [said] = [line for line in plan.warnings if "can't call it to the hour" in line]
    assert "for the coat on base: most likely" in said


def test_a_window_with_a_sure_hour_is_planned_within_it() -> None:
    plan = make_plan(doubted((24.0, 26.0), (29.0, 31.0)), QUICK)
    assert plan.feasible, plan.obstacle
    assert not [line for line in plan.warnings if "can't call it to the hour" in line]
    base, top = ([batch for batch in plan.batches if batch.coat == name] for name in ("base", "top"))
    first = min(batch.poured_at for batch in top) - max(batch.poured_at for batch in base)
    assert first >= timedelta(hours=26) - timedelta(hours=1)


def begun(bench: Bench, coat: str) -> datetime:
    plan = make_plan(bench, QUICK)
    assert plan.feasible, plan.obstacle
    return min(batch.mixed_at for batch in plan.batches if batch.coat == coat)


def test_a_day_is_the_crews_own_where_other_starts_are_looked_for() -> None:
    """Done at 9:30 or at 10:30 of one morning in Sydney, before and after midnight in Greenwich."""
    sydney, hour = ZoneInfo("Australia/Sydney"), timedelta(hours=1)
    done = datetime(2026, 4, 14, 23, 30, tzinfo=UTC)
    starts = [LaterStart(MORNING + more, done, done + more, hour) for more in (0 * hour, hour)]
    assert roomiest(starts, MORNING - hour, sydney) == starts
    assert roomiest(starts, MORNING - hour, ZoneInfo("UTC")) == starts[:1]


def test_a_base_begins_in_the_afternoon_where_its_recoat_would_else_fall_into_the_night() -> None:
    """Open after 16 h, shut after 20: poured at 8:00 that is from midnight to 4:00. To be open within working hours it
    has to be poured after 11:30, for shut at 7:30; so late that it opens after 7:30 is later than need be."""
    at = two_coats(16.0, 20.0)
    plan = make_plan(at, QUICK)
    assert plan.feasible, plan.obstacle
    base = [batch for batch in plan.batches if batch.coat == "base"]
    top = [batch for batch in plan.batches if batch.coat == "top"]
    for batch in top:
        assert all(
            timedelta(hours=16) <= batch.poured_at - one.poured_at + timedelta(minutes=2)
            and batch.poured_at - one.poured_at <= timedelta(hours=20)
            for one in base
            if set(one.areas) & set(batch.areas)
        )
    assert base[0].mixed_at.date() == MORNING.date()
    assert base[0].mixed_at >= MORNING.replace(hour=11)
    (said,) = [line for line in plan.warnings if line.startswith("start base at")]
    assert "not sooner: the recoat then opens Tue 14 Apr at" in said


def test_the_start_that_has_the_next_coat_done_soonest_is_chosen() -> None:
    """Open after 19 h, shut after 30: the morning's base opens at 3:00 and takes the top at 7:30, whole day ahead."""
    assert begun(two_coats(19.0, 30.0), "base") < MORNING + timedelta(minutes=15)


def test_three_coats_may_each_have_to_wait() -> None:
    coats = (*COATS, Coat("seal", "Seal", 100.0, kit_l=9.0, split=True))
    plan = make_plan(two_coats(16.0, 20.0, coats), QUICK)
    assert plan.feasible, plan.obstacle
    days = {
        coat: {batch.mixed_at.date() for batch in plan.batches if batch.coat == coat}
        for coat in ("base", "top", "seal")
    }
    assert [sorted(each)[0].day for each in days.values()] == [13, 14, 15]


def test_no_start_is_invented_where_none_fits() -> None:
    """Open for half an hour only, after 16 h: two bays can't be met by any start that leaves the base time."""
    plan = make_plan(two_coats(38.0, 38.1), QUICK)
    assert not plan.feasible


def test_where_a_coat_waited_in_vain_what_stops_the_work_is_named_and_not_what_the_wait_mended() -> None:
    """The base is open to the next coat from 16 to 19 h after its pour: poured from 12:30 on it takes the second at
    7:30, which stays open for days. The third has gone off in the bucket when it is mixed: three minutes each."""
    second, third = (Coat(name, name, 300.0, kit_l=9.0, split=True) for name in ("second", "third"))
    found = two_coats(16.0, 19.0, (COATS[0], second, third))
    assert isinstance(found.timing, FixedTiming)
    days, going_off = Span(72.0 * 3600.0, 72.0 * 3600.0), Span(180.0, 180.0)
    closing = {**found.timing.closing, ("second", "recoat"): days, ("third", "pour-out"): going_off}
    timing = FixedTiming(closing, found.timing.opening)
    plan = make_plan(replace(found, timing=timing, exact=timing), QUICK)
    assert plan.obstacle is not None
    assert (plan.obstacle.coat, plan.obstacle.constraint) == ("third", "pour-out")
    base, over = ([batch for batch in plan.batches if batch.coat == name] for name in ("base", "second"))
    assert min(batch.poured_at for batch in base).time() >= time(12, 30)
    assert over
    for batch in over:
        after = [batch.poured_at - one.poured_at for one in base if set(one.areas) & set(batch.areas)]
        assert after
        assert all(timedelta(hours=16) <= each <= timedelta(hours=19) for each in after)
    assert any("start base at" in line for line in plan.warnings)


def test_a_bay_that_takes_longer_than_its_recoat_is_sure_is_told_by_the_likely_hours_that_the_plan_goes_by() -> None:
    """Each bucket is surely open from 22 h 30 min to 23 h after its pour, likely from 20 h to 27. One person lays a bay
    of 30 m² in three buckets or more, which takes over half an hour: no hour is sure for all of it. What is told of it
    may not be later than when the plan itself pours the top."""
    at = doubted((20.0, 22.5), (23.0, 27.0))
    site = replace(at.site, areas=row_of((30.0,), (9.0,)), crew=CREW[:1], vessels=(Vessel("pail", 4.0),))
    plan = make_plan(replace(at, site=site), QUICK)
    assert plan.feasible, plan.obstacle
    base, top = ([batch for batch in plan.batches if batch.coat == name] for name in ("base", "top"))
    assert len(base) >= 3
    recoats = [window for batch in base for window in batch.windows if window.name == "recoat"]
    opens, closes = (
        [edge for edge in edges if edge is not None]
        for edges in zip(*((window.opens, window.closes) for window in recoats), strict=True)
    )
    assert all(max(opens) <= batch.poured_at <= min(closes) + timedelta(minutes=1) for batch in top)
    assert not any(window.sure for window in recoats)
    assert [line for line in plan.warnings if "can't call it to the hour for the coat on base" in line]
