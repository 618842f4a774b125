"""The checker sees every kind of mistake: each is put into a sound plan by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, time, timedelta
from functools import cache
from typing import Any

import pytest

from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.plans import Plan, PlannedStep
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from tests.decide.plan.checker import Job, violations
from tests.decide.plan.floors import PRODUCT, bench, minutes, row_of

DAYS = Hours((datetime(2026, 4, 13).date(), datetime(2026, 4, 14).date()), time(6), time(20))  # noqa: DTZ001
CLOSING = minutes(pour_out=12.0, back_roll=50.0, wet_edge=60.0, broadcast=75.0, recoat=1800.0)
OPENING = minutes(recoat=600.0)
QUICK = Ways(Effort(400, 200))


def site() -> Site:
    """Three bays, two people, a base with flake and a top coat the next day."""
    crew = (
        Person("mixer", ("mix", "pour", "squeegee", "clean"), 110.0),
        Person("roller", ("cut-in", "roll", "broadcast", "scrape"), None, 75.0, 60.0, 35.0),
    )
    coats = (
        Coat("base", PRODUCT, 300.0, flake_kg_m2=0.4, kit_l=5.0, split=True),
        Coat("top", "Top", 125.0, after="base"),
    )
    return Site("Boat shed", "UTC", row_of((9.0, 9.0, 8.0), (4.0, 3.0, 4.0)), coats, crew, (Vessel("pail", 5.0),), DAYS)


@cache
def sound() -> Plan:
    """A plan in which nothing is wrong."""
    return make_plan(bench(site(), CLOSING, OPENING), QUICK)


def job(**changed: Any) -> Job:
    """What plans are held against."""
    shut = lambda _product, window, *_rest: CLOSING[window] * 60.0 if window in CLOSING else None  # noqa: E731
    opened = lambda _product, window, *_rest: OPENING[window] * 60.0 if window in OPENING else None  # noqa: E731
    return replace(Job(site(), shut, opened), **changed)


def kinds(plan: Plan, **changed: Any) -> set[str]:
    """What the checker finds."""
    return {found.kind for found in violations(plan, job(**changed))}


def with_step(plan: Plan, kind: str, batch: int, change: Callable[[PlannedStep], PlannedStep]) -> Plan:
    """The plan with one step changed."""
    steps = tuple(change(step) if (step.kind, step.batch) == (kind, batch) else step for step in plan.steps)
    return replace(plan, steps=steps)


def moved(by: timedelta) -> Callable[[PlannedStep], PlannedStep]:
    """A step at another time."""
    return lambda step: replace(step, starts=step.starts + by, ends=step.ends + by)


def test_a_plan_of_ours_breaks_nothing() -> None:
    assert sound().obstacle is None
    assert violations(sound(), job()) == []


@pytest.mark.parametrize(
    ("kind", "step", "batch", "change"),
    [
        ("sequence", "roll", 1, moved(timedelta(minutes=-10))),
        ("pour-out", "pour", 1, moved(timedelta(minutes=13))),
        ("back-roll", "roll", 2, moved(timedelta(hours=1))),
        ("broadcast", "broadcast", 1, moved(timedelta(hours=2))),
        ("cold joint", "squeegee", 2, moved(timedelta(hours=2))),
        ("strip", "broadcast", 2, moved(timedelta(hours=2))),
        ("hours", "broadcast", 3, moved(timedelta(hours=14))),
        ("skill", "roll", 1, lambda step: replace(step, who="mixer")),
        ("too fast", "squeegee", 1, lambda step: replace(step, ends=step.starts + timedelta(seconds=30))),
    ],
)
def test_a_step_out_of_place_is_seen(
    kind: str, step: str, batch: int, change: Callable[[PlannedStep], PlannedStep]
) -> None:
    assert kind in kinds(with_step(sound(), step, batch, change))


def test_one_person_at_two_tasks_at_once_is_seen() -> None:
    first = next(step for step in sound().steps if step.kind == "roll" and step.batch == 1)
    at_once = lambda step: replace(step, starts=first.starts, ends=first.ends)  # noqa: E731
    assert "double booking" in kinds(with_step(sound(), "roll", 2, at_once))


def test_a_bay_left_out_is_seen() -> None:
    assert "coverage" in kinds(replace(sound(), batches=sound().batches[1:]))


def test_a_top_coat_too_soon_or_too_late_is_seen() -> None:
    late = lambda _product, window, *_rest: 3600.0 if window == "recoat" else None  # noqa: E731
    assert "recoat" in kinds(sound(), closes=late)
    slow = lambda _product, window, *_rest: 90 * 3600.0 if window == "recoat" else None  # noqa: E731
    assert "recoat" in kinds(sound(), opens=slow)


def test_a_damp_hour_and_a_stand_cut_short_are_seen() -> None:
    assert "conditions" in kinds(sound(), forbidden=lambda _product, _at: "too damp")
    stand = lambda _product, window, *_rest: 900.0 if window == "induction" else None  # noqa: E731
    assert "induction" in kinds(sound(), opens=stand)
