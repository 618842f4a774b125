"""The rest of a day on which something lies already: what is due stays due, whatever becomes of what is to come."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from mixclock.decide.plan.days.coattask import CoatTask
from mixclock.decide.plan.days.followed import FollowedBy, laid_to_be_followed
from mixclock.decide.plan.days.sessions import live_alone
from mixclock.decide.plan.days.standpoint import standpoint_of
from mixclock.decide.plan.floor.conditions import Stretch
from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.plan.floor.setting import OpenStep
from mixclock.decide.plan.judge.foreman import foreman_plan, on_days
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.entry import Combined, JobStarted, Poured, Reading
from tests.decide.plan.floors import BEGINS, minutes
from tests.decide.plan.test_hands import ALONE, chain_of, row_for
from tests.decide.plan.test_replan import bench_of
from tests.decide.worlds import SITE, Log, instant, minutes_of

QUICK = Ways(Effort(200, 100), exact=False)
HOME = 510.0
"""The minute of 17:30, when the crew of the boat shed goes home: minute 0 is nine o'clock there."""

ANY = on_days(0.01)
"""The soonest plan will do."""

A_DAY = Stretch(BEGINS, BEGINS + timedelta(hours=10))


def asked_at(minutes: float, poured: float) -> tuple[Log, Plan]:
    """What the crew is told that poured the first bay at one minute, at twenty degrees, and asks at another."""
    log = Log()
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", SITE))
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(poured - 4, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0), by="mixer")
    log.add(poured, Poured(1))
    bench = bench_of(log, minutes)
    stood = standpoint_of(log.standing(minutes), log.tracks(minutes), bench, instant(minutes))
    return log, foreman_plan(bench, QUICK, stood.standpoint, wanted=ANY)


def of_what_lies(plan: Plan) -> list[tuple[str, float]]:
    """The steps of the first batch, each with the minute at which it is over."""
    return [(step.kind, minutes_of(step.ends)) for step in plan.steps if step.batch == 1]


def test_where_nobody_meets_a_wet_edge_any_more_it_is_taped_and_the_rest_goes_on() -> None:
    """The sheet: 28 minutes at 20 degrees, and the crew is held to less. Ten minutes after the pour the roller still
    has to roll and flake (12 m² at 75 and 60 m² an hour: 22 minutes), so that no other bucket is rolled beside it."""
    log, plan = asked_at(14, poured=4)
    assert plan.feasible, plan.obstacle
    shuts = log.window("wet-edge", 14, "bay 1").closes
    assert shuts is not None
    by = f"{shuts.early.astimezone(log.standing(14).site.wall):%-H:%M}"
    assert f"the wet edge of bay 1 can't be met in time: tape a straight line there by {by}" in plan.warnings
    assert [kind for kind, _ in of_what_lies(plan)] == ["roll", "broadcast"]
    assert all(batch.mixed_at < instant(HOME) for batch in plan.batches)


@pytest.mark.parametrize(
    "asked", [pytest.param(476.0, marks=pytest.mark.long), 500.0, pytest.param(520.0, marks=pytest.mark.long)]
)
def test_what_lies_when_the_day_is_almost_over_is_done_today_and_only_the_rest_tomorrow(asked: float) -> None:
    """Poured at 16:54. In time it is asked about at 16:56; at 17:20 and at 17:40 roller and flake are late (22 and 40
    minutes at 20 degrees by the sheet). They take 9.6 and 12 minutes and up to five between them: all is done within 40
    minutes."""
    _, plan = asked_at(asked, poured=474)
    assert plan.feasible, plan.obstacle
    assert [kind for kind, over in of_what_lies(plan) if asked < over <= asked + 40.0] == ["roll", "broadcast"]
    assert plan.batches
    assert all(batch.mixed_at > instant(HOME + 12 * 60.0) for batch in plan.batches)


def test_a_coat_that_is_all_poured_is_not_laid_sooner_for_the_one_above_it() -> None:
    """One bucket lies, and the flake waits five minutes for the roller, but nothing can be poured once more."""
    waiting = tuple(OpenStep(kind, 1, ("bay 1",), (60,)) for kind in ("roll", "broadcast"))
    chain = chain_of(row_for([ALONE], 1), minutes(back_roll=120.0))
    setting = replace(chain.setting, pieces=())
    task = CoatTask(setting, (), waiting=tuple((step, None, None) for step in waiting), people_free=(BEGINS,))
    (session,) = live_alone(task)
    assert laid_to_be_followed(session, FollowedBy({"bay 1": 3600}), [A_DAY], Ways()) is None
