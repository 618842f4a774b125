"""What a search need not look at twice, or at all."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime, time, timedelta

import pytest

from mixclock.decide.plan.days import begunfirst
from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.days.coattask import CoatRefusal, CoatTask, Session
from mixclock.decide.plan.days.planner import make_plan, setting_of
from mixclock.decide.plan.days.sessions import over_the_days
from mixclock.decide.plan.floor.conditions import Stretch, working_stretches
from mixclock.decide.plan.floor.timing import Bucketful, Span
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from mixclock.job.steps import POUR_OUT
from tests.decide.plan.floors import BEGINS, DAYS, PRODUCT, FixedTiming, bench, minutes, row_of
from tests.decide.plan.test_waits import two_coats

TOP = "Top"
HAND = Person("hand", squeegee_m2_h=110.0, roll_m2_h=75.0, broadcast_m2_h=60.0, cut_in_m_h=35.0)


def slip_in_two_coats() -> Bench:
    """20 m² by one person: a base that leaves all the time there is, and a top coat that stands 40 minutes in the pail
    and 12 on the floor, so that it is laid in strips (squeegee 11 minutes, roll 16)."""
    coats = (Coat("base", PRODUCT, 300.0, kit_l=9.0, split=True), Coat("top", TOP, 125.0, kit_l=4.0, split=True))
    hours = Hours(DAYS, time(6), time(20))
    site = Site("Slip", "UTC", row_of((20.0,), (0.0,)), coats, (HAND,), (Vessel("pail", 12.0),), hours)
    found = bench(site, minutes(pour_out=40.0, back_roll=12.0, wet_edge=14.0))
    assert isinstance(found.timing, FixedTiming)
    slow = {(PRODUCT, name): Span(5400.0, 6000.0) for name in (POUR_OUT, "back-roll", "wet-edge")}
    timing = FixedTiming({**found.timing.closing, **slow}, found.timing.opening)
    return replace(found, timing=timing, exact=timing)


def test_where_a_top_coat_in_strips_keeps_no_such_reserve_alone_its_base_is_not_laid_for_that() -> None:
    """Of 12 minutes on the floor a fifth are 2.4: to spread and roll the least bucket takes longer."""
    floor, ways = slip_in_two_coats(), Ways()
    plan = make_plan(floor, ways)
    assert plan.feasible, plan.obstacle
    assert {batch.strips > 1 for batch in plan.batches if batch.coat == "top"} == {True}
    tight, rough = replace(floor, reserve=0.2), replace(ways, rough=True)
    known, asked_first = make_plan(tight, rough), make_plan(tight, Ways(rough=True))
    assert known.obstacle is not None
    assert asked_first.obstacle is not None
    assert known.obstacle.coat == asked_first.obstacle.coat == "top"
    assert not known.batches
    assert {batch.coat for batch in asked_first.batches} == {"base"}


def test_a_top_coat_in_strips_that_keeps_its_reserve_is_laid_with_its_base() -> None:
    floor, ways = slip_in_two_coats(), Ways()
    make_plan(floor, ways)
    plan = make_plan(replace(floor, reserve=0.8), replace(ways, rough=True))
    assert plan.feasible, plan.obstacle
    assert {batch.coat for batch in plan.batches} == {"base", "top"}


def test_of_the_starts_that_are_looked_at_only_the_one_that_is_taken_is_worked_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A base laid at 7:30 is open to its top coat from 18:30 to 4:30, out of hours: it has to wait until afternoon."""
    looked: list[tuple[str, bool]] = []
    lay = begunfirst.lay_coat

    def noted(task: CoatTask, stretches: list[Stretch], ways: Ways) -> list[Session] | CoatRefusal:
        looked.append((task.setting.coat.name, ways.rough))
        return lay(task, stretches, ways)

    monkeypatch.setattr(begunfirst, "lay_coat", noted)
    plan = make_plan(two_coats(11.0, 21.0))
    assert plan.feasible, plan.obstacle
    first, between, taken = looked[:2], looked[2:-2], looked[-2:]
    assert first == taken == [("base", False), ("top", False)]
    assert between
    assert all(rough for _, rough in between)


@dataclass(frozen=True)
class NotedTiming(FixedTiming):
    """Clocks that do not move, and which buckets they were asked about, at which hour."""

    asked: list[tuple[datetime, float]] = field(default_factory=list)

    def closes(self, product: str, window: str, start: datetime, bucket: Bucketful) -> Span | None:
        """The span of that name, whatever the hour."""
        if window == POUR_OUT:
            self.asked.append((start, bucket.mass_kg))
        return super().closes(product, window, start, bucket)


def test_which_hours_leave_more_time_is_asked_of_the_same_kilogram_for_bays_of_any_size() -> None:
    """Nobody rolls 9 m² in two minutes; the clocks stand still, so no later hour is worth a search."""
    site = Site(
        "Slip",
        "UTC",
        row_of((9.0, 14.0), (0.0, 0.0)),
        (Coat("base", PRODUCT, 300.0, kit_l=9.0, split=True),),
        (HAND,),
        (Vessel("pail", 12.0),),
        Hours(DAYS, time(6), time(20)),
    )
    found = bench(site, minutes(pour_out=6.0, back_roll=2.0, wet_edge=2.0))
    assert isinstance(found.timing, FixedTiming)
    timing = NotedTiming(found.timing.closing, found.timing.opening)
    setting = setting_of(replace(found, timing=timing), site.coats[0])
    stretches = working_stretches(site, BEGINS)
    assert isinstance(over_the_days(CoatTask(setting, site.areas), setting.pieces, stretches, Ways()), CoatRefusal)
    later = {mass_kg for start, mass_kg in timing.asked if start >= BEGINS + timedelta(hours=1)}
    assert later == {1.0}
