"""Where today ends nobody is called to join: by the plan, by a tape that was stated, or at a saw cut as a notice."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from mixclock.decide.alerting import alerts
from mixclock.decide.plan.days.advice import plan_says
from mixclock.decide.plan.floor.plans import FloorPiece, Plan, PlannedBatch
from mixclock.decide.shapes import Alert, Rank
from mixclock.job.entry import Combined, Did, JobStarted, Poured, Reading
from mixclock.job.saying import Attribution
from mixclock.job.statements import DidStatement, TapedStatement
from mixclock.words.alerting import alert_words
from tests.days.plannedstops import LaidBay, PlannedDays, played
from tests.decide.worlds import SITE, Log, instant

POURED = 5
DAY = timedelta(days=1)


def a_shed(site: str = SITE) -> Log:
    """Bay 1 is poured; bay 2 beside it waits."""
    log = Log()
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", site))
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, coat="base", material_c=20.0), by="mixer")
    log.add(POURED, Poured(1))
    return log


def planned(number: int, area: str, poured: datetime) -> PlannedBatch:
    """One bucket of a plan."""
    return PlannedBatch(
        number=number, coat="base", product="Shed base", pieces=(FloorPiece(area, 12.0, 0.0),), volume_l=4.0,
        mass_kg=4.3, needed_l=4.0, kits=None, a_l=2.7, b_l=1.3, a_kg=None, b_kg=None,
        mixed_at=poured - timedelta(minutes=5), poured_at=poured, pour_by=poured, vessel="pail", set_by="area",
    )  # fmt: skip


def plan(gap: timedelta) -> Plan:
    """Bay 2 so long after bay 1."""
    first = instant(POURED)
    return Plan("Boat shed", first, (planned(1, "bay 1", first), planned(2, "bay 2", first + gap)), ())


def calls(log: Log, made: Plan | None, minutes: float) -> Iterator[Alert]:
    """The calls about the joint and its tape over the minutes after the pour."""
    for tenth in range(int(minutes * 4)):
        at = POURED + tenth / 4
        standing, tracks, now = log.standing(at), log.tracks(at), instant(at)
        plans = (made,) if made else ()
        for alert in alerts(standing, tracks, now, lambda s=standing, t=tracks, n=now, p=plans: plan_says(s, t, p, n)):
            if alert.step in ("wet-edge", "pull-tape"):
                yield alert


def test_a_joint_that_the_plan_makes_today_calls_as_always() -> None:
    ranks = {alert.rank for alert in calls(a_shed(), plan(timedelta(minutes=20)), 40) if alert.step == "wet-edge"}
    assert ranks == {Rank.CRITICAL}


def test_where_the_plan_ends_today_nobody_is_called_to_join_and_the_tape_is_pulled() -> None:
    told = list(calls(a_shed(), plan(DAY), 60))
    assert {alert.step for alert in told} == {"pull-tape"}
    assert {alert.rank for alert in told} == {Rank.TIMELY}
    log = a_shed()
    said = alert_words(told[0], log.standing(), told[0].due)
    assert said.do == "Pull the tape while it is wet"
    edge = log.window("wet-edge", 10, area="bay 1").closes
    assert edge is not None
    assert edge.early - told[0].due == timedelta(minutes=5)


def test_a_tape_that_the_crew_states_ends_the_calls_too() -> None:
    log = a_shed()
    standing = log.standing(8)
    (draft,) = TapedStatement(areas=("bay 1",)).drafts(standing, Attribution(instant(8), None, "roller"))
    assert draft.facts == Did("tape", 1, ("bay 1",))
    log.add(8, draft.facts)
    told = [alert for alert in calls(log, None, 60) if alert.due > instant(9)]
    assert {alert.step for alert in told} == {"pull-tape"}
    (pulled,) = DidStatement("pull-tape", areas=("bay 1",)).drafts(
        log.standing(15), Attribution(instant(15), None, "roller")
    )
    log.add(15, pulled.facts)
    assert [alert for alert in calls(log, None, 60) if alert.due > instant(16)] == []


def test_at_a_declared_saw_cut_the_call_is_a_notice_while_the_crew_keeps_to_the_plan() -> None:
    log = a_shed('saw_cuts = [["bay 1", "bay 2"]]\n' + SITE)
    told = [alert for alert in calls(log, plan(DAY), 40) if alert.step == "wet-edge"]
    assert told
    assert {alert.rank for alert in told} == {Rank.NOTICE}
    assert "lost" not in {alert.stage for alert in told}, "that it is gone is what the plan meant"
    assert not any(alert.step == "pull-tape" for alert in calls(log, plan(DAY), 40)), "a saw cut has no tape"


def test_a_crew_that_leaves_the_plan_gets_its_calls_back() -> None:
    log = a_shed('saw_cuts = [["bay 1", "bay 2"]]\n' + SITE)
    log.add(8, Combined("Shed base", ("bay 2",), volume_l=4.0, coat="base", material_c=20.0), by="mixer")
    joints = [alert for alert in calls(log, plan(DAY), 40) if alert.step == "wet-edge" and alert.batch == 1]
    told = [alert for alert in joints if alert.due > instant(8)]
    assert {alert.rank for alert in told} == {Rank.CRITICAL}


def test_a_crew_ahead_of_its_plan_keeps_its_calls() -> None:
    # planned twenty minutes apart, poured an hour before the plan: the gap counts, not the hour
    made = plan(timedelta(minutes=20))
    later = tuple(replace(each, poured_at=each.poured_at + timedelta(hours=1)) for each in made.batches)
    told = [alert for alert in calls(a_shed(), replace(made, batches=later), 40) if alert.step == "wet-edge"]
    assert Rank.CRITICAL in {alert.rank for alert in told}


def test_the_morning_after_a_planned_stop_nobody_is_called_for_the_edge_of_yesterday() -> None:
    log = a_shed()
    next_day = 24 * 60.0
    log.add(next_day, Combined("Shed base", ("bay 2",), volume_l=4.0, coat="base", material_c=20.0), by="mixer")
    at = next_day + 1
    standing, tracks, now = log.standing(at), log.tracks(at), instant(at)
    told = alerts(standing, tracks, now, lambda: plan_says(standing, tracks, (plan(DAY),), now))
    assert [alert.id for alert in told if alert.step == "wet-edge" and alert.batch == 1] == []


@pytest.mark.parametrize("floors", [2, pytest.param(100, marks=pytest.mark.long)])
def test_on_days_that_go_by_a_plan_no_critical_call_asks_for_nothing(floors: int) -> None:
    days = played(range(floors))
    assert [call for each in days for call in each.for_nothing()] == []
    assert sum(len(each.laid) for each in days) >= 6 * floors


def test_the_judge_of_the_days_finds_a_call_that_asks_for_nothing() -> None:
    days = PlannedDays(3)
    poured = instant(5)
    days.laid = [LaidBay(1, 1, 13, {"poured": poured}), LaidBay(2, 2, 13, {"dumped": poured})]
    after = poured + timedelta(minutes=1)
    assert days.is_for_nothing((after, "pour-out", 1, ""))
    assert not days.is_for_nothing((poured - timedelta(minutes=1), "pour-out", 1, ""))
    assert days.is_for_nothing((after, "pour-out", 2, ""))
    assert days.is_for_nothing((after, "wet-edge", 1, "bay 1")), "its neighbour was thrown away and not laid again"
