"""Whatever a job, an area, a coat, a person or a lot is called: every call of a plainly named day comes."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.plan.days.planjson import plan_text
from mixclock.decide.plan.floor.plans import FloorPiece, Plan, PlannedBatch, PlannedStep
from mixclock.job.entry import Planned
from tests.days.clockwork import Day
from tests.days.shed import BASE, TOP

MODEL = bucket_model()
PLAIN = ("Boat shed", "bay 1", "bay 2", "bay 3", "base", "top", "mixer", "roller", "L-1")
WORST = ("base|grey", "{by}", "bay|1", "bay/1", "base|grey", "{", "%s", "a+b", "../..")


PRINTABLE = st.text(
    st.characters(exclude_categories=("C", "Zl", "Zp")).filter(str.isprintable), min_size=1, max_size=24
).filter(lambda name: name == name.strip())
NAMES = st.lists(PRINTABLE, min_size=len(PLAIN), max_size=len(PLAIN), unique_by=str.casefold)


def job_file(names: Sequence[str]) -> str:
    """The job file of a shed with three bays, two coats and two people under these names."""
    job, one, two, three, base, top, mixer, roller, _ = (json.dumps(name, ensure_ascii=False) for name in names)
    areas = "".join(
        f'[[areas]]\nname = {name}\nsize = "12 m2"\norder = {place}\n'
        for place, name in enumerate((one, two, three), 1)
    )
    return (
        f'name = {job}\nzone = "Europe/Lisbon"\n{areas}'
        f'[[crew]]\nname = {mixer}\ndoes = ["mix", "pour", "squeegee"]\n'
        f'[[crew]]\nname = {roller}\ndoes = ["roll", "broadcast"]\n'
        f'[[coats]]\nname = {base}\nproduct = "Shed base"\nwet_film = "300 um"\nflake = "0.4 kg/m2"\n'
        f'[[coats]]\nname = {top}\nproduct = "Shed top"\nwet_film = "125 um"\nafter = {base}\n'
        '[hours]\ndays = ["2026-04-13", "2026-04-14", "2026-04-15"]\nstart = "07:30"\nend = "17:30"\n'
    )


class NamedDay(Day):
    """A day whose job may have any name."""

    name = ""

    @property
    def job(self) -> str:
        return self.name


def a_plan(day: Day, names: Sequence[str]) -> Plan:
    """One bucket for the third bay, half an hour into the day."""
    _, _, _, area, coat, _, mixer, *_ = names
    mix_at = day.begins + timedelta(minutes=30)
    poured = mix_at + timedelta(minutes=4)
    batch = PlannedBatch(
        number=3, coat=coat, product="Shed base", pieces=(FloorPiece(area, 12.0, 3.45),), volume_l=3.45, mass_kg=3.7,
        needed_l=3.45, kits=None, a_l=2.3, b_l=1.15, a_kg=None, b_kg=None, mixed_at=mix_at, poured_at=poured,
        pour_by=poured, vessel="pail", set_by="area",
    )  # fmt: skip
    steps = (
        PlannedStep("mix", mixer, mix_at, poured, coat, 3, (area,)),
        PlannedStep("pour", mixer, poured, poured + timedelta(minutes=1), coat, 2, (area,)),  # the bucket before it
    )
    return Plan(day.job, day.begins, (batch,), steps)


def a_day(names: Sequence[str]) -> list[tuple[Any, ...]]:
    """Everything that was raised in a day and a night in which a crew forgets nearly everything."""
    job, one, two, _, _, _, mixer, _, lot = names
    NamedDay.name = job
    day = NamedDay(job_file(names), [BASE, TOP], model=MODEL)
    day.book.append(day.job, Planned(plan_text(a_plan(day, names))))
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    day.say("mixing", product="Shed base", areas=[one], volume_l=3.45, lot=lot, by=mixer)
    day.look()
    day.until(day.clock.now() + timedelta(minutes=5))
    day.say("poured")
    day.until(day.clock.now() + timedelta(minutes=6))
    day.say("mixing", product="Shed base", areas=[two], volume_l=3.45, lot=lot, by=mixer)
    day.until(day.clock.now() + timedelta(minutes=3))
    day.say("saw", sign="hot", batch=2)
    day.say("reading", air_c=20.0, rh_pct=88.0, slab_c=17.0, area=one)
    day.until(day.clock.now() + timedelta(minutes=2))
    day.say("heard")  # a hot bucket would be called for all night
    day.until(day.begins + timedelta(minutes=36))
    for hours in (0.9, 1.2, 1.8, 13.0, 25.5):
        day.clock.set(day.begins + timedelta(hours=hours))
        day.look()
    assert day.faults == []
    places = dict(zip(names, PLAIN, strict=True))
    return [
        (facts.stage, facts.rank, facts.batch, places.get(facts.area or ""), places.get(facts.who or ""), facts.due,
         facts.repeat)
        for facts in (entry.facts for entry in day.raised())
    ]  # fmt: skip


@pytest.fixture(scope="module")
def plain_day() -> list[tuple[Any, ...]]:
    """What is raised where everything has an ordinary name."""
    return a_day(PLAIN)


def test_the_plain_day_has_calls_of_every_kind(plain_day: list[tuple[Any, ...]]) -> None:
    assert {call[0] for call in plain_day} == {"heads-up", "now", "late", "lost", "step", "opened"}
    assert {call[1] for call in plain_day} == {"critical", "timely", "notice"}
    assert len(plain_day) > 40
    called = {call[:5] for call in plain_day}
    assert ("now", "timely", None, "bay 3", "mixer") not in called, "no kit is opened beside a bucket that runs hot"


@settings(max_examples=3, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(NAMES)
@example([*WORST[:4], "base|red", "}", *WORST[6:]])
@example(["+", "|", "||", "|||", "base|grey", "<b>", "\\", '"', "'"])
def test_no_name_costs_a_call(plain_day: list[tuple[Any, ...]], names: list[str]) -> None:
    assert sorted(a_day(names), key=repr) == sorted(plain_day, key=repr)
