"""Where nothing fits: what is in the way, and changes that were planned again before they are told."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from floors import DAYS, PRODUCT, bench, minutes, row_of

from mixclock.decide.plan.infeasible import explain
from mixclock.decide.plan.planning import Bench, make_plan
from mixclock.decide.plan.schedule import Ways
from mixclock.decide.plan.search import Effort
from mixclock.decide.plan.shapes import Plan
from mixclock.job.site import Coat, Hours, Person, Site, Vessel

QUICK = Ways(Effort(300, 150, 1))


def slip(hours: Hours, back_roll_min: float = 60.0, kit_l: float = 4.0, split: bool = True) -> Bench:
    """Three bays for one person, who does everything."""
    alone = Person("one", (), 110.0, 66.0, 60.0, 35.0)
    coat = Coat("base", PRODUCT, 300.0, kit_l=kit_l, split=split)
    areas = row_of((11.0, 11.0, 11.0), (7.0, 7.0, 7.0))
    site = Site("Slip", "UTC", areas, (coat,), (alone,), (Vessel("pail", 6.0),), hours)
    return bench(site, minutes(pour_out=12.0, back_roll=back_roll_min, wet_edge=90.0))


def explained(floor: Bench) -> Plan:
    """The plan that does not fit, with what would free it."""
    plan = make_plan(floor, QUICK)
    assert not plan.feasible
    return explain(floor, plan, QUICK)


def test_a_day_that_is_too_short_is_named_and_more_time_or_more_hands_free_it() -> None:
    found = explained(slip(Hours(DAYS[:1], time(6), time(7))))
    assert found.obstacle is not None
    assert found.obstacle.constraint == "hours"
    assert found.changes
    assert all(change.finish is not None and change.batches >= 1 for change in found.changes)


def test_each_change_is_told_with_the_finish_of_the_plan_that_was_made_with_it() -> None:
    short = slip(Hours(DAYS[:1], time(6), time(7)))
    found = explained(short)
    longer = replace(short, site=replace(short.site, hours=Hours(DAYS[:1], time(6), time(20))))
    assert make_plan(longer, QUICK).feasible
    directions = [change.direction for change in found.changes]
    assert len(directions) == len(set(directions)), "one change a direction"


def test_a_crew_too_slow_for_its_window_is_told_what_would_free_it() -> None:
    found = explained(slip(Hours(DAYS, time(6), time(20)), back_roll_min=15.0, split=False))
    assert found.obstacle is not None
    assert found.obstacle.constraint == "back-roll"
    assert any("back-roll" in words or "roll" in words for words in (found.obstacle.said, found.obstacle.constraint))
    assert found.changes


def test_a_plan_that_fits_is_left_as_it_is() -> None:
    floor = slip(Hours(DAYS, time(6), time(20)))
    plan = make_plan(floor, QUICK)
    assert plan.feasible
    assert explain(floor, plan, QUICK) is plan


def test_asking_stops_when_it_is_told_to() -> None:
    floor = slip(Hours(DAYS[:1], time(6), time(7)))
    plan = make_plan(floor, QUICK)
    assert explain(floor, plan, replace(QUICK, stop=lambda: True)).changes == ()
