"""The judge sees every kind of mistake: each is put by hand into the JSON of a sound plan."""

from __future__ import annotations

import copy
from collections.abc import Callable
from datetime import timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from tests.floorcheck.floorfiles import FloorFiles, random_floor, random_strip_floor
from tests.floorcheck.judging import Fault, Past, faults, instant, rows_of, told
from tests.floorcheck.planning import Run, planned, put_down
from tests.floorcheck.sheets import JobFile

Plan = dict[str, Any]
TWO_COATS, MANY_BUCKETS, BAY_BY_BAY = 20, 7, 3
"""Floors by their seeds: one of three people, flake and a scraped top coat, one on which bucket meets bucket, and one
of uncut bays."""

_made: dict[int, tuple[FloorFiles, Plan]] = {}


def plan_of(seed: int, run: Run, home: Path) -> tuple[Plan, JobFile]:
    """A plan in which nothing is wrong, with the files that it is for."""
    if seed not in _made:
        files = random_floor(seed)
        _made[seed] = files, planned(run, put_down(home, files), files.begin)
    files, plan = _made[seed]
    return copy.deepcopy(plan), JobFile.read(files.job, files.sheets)


@pytest.fixture
def sound(run: Run, home: Path, hasty: None) -> tuple[Plan, JobFile]:
    """The plan of two coats."""
    return plan_of(TWO_COATS, run, home)


@pytest.fixture
def in_buckets(run: Run, home: Path, hasty: None) -> tuple[Plan, JobFile]:
    """The plan of many buckets."""
    return plan_of(MANY_BUCKETS, run, home)


@pytest.fixture
def in_bays(run: Run, home: Path, hasty: None) -> tuple[Plan, JobFile]:
    """The plan whose buckets end where bays do."""
    return plan_of(BAY_BY_BAY, run, home)


def steps(plan: Plan, kind: str) -> list[dict[str, Any]]:
    """The rows of a kind, in their order."""
    return [step for step in plan["steps"] if step["step"] == kind]


def moved(kind: str, minutes: float, place: int = 0) -> Callable[[Plan], None]:
    """One step at another time."""

    def change(plan: Plan) -> None:
        step = steps(plan, kind)[place]
        for edge in ("starts", "ends"):
            step[edge] = (instant(step[edge]) + timedelta(minutes=minutes)).isoformat()

    return change


def shorter(kind: str) -> Callable[[Plan], None]:
    """A step done in a fifth of its time."""

    def change(plan: Plan) -> None:
        step = steps(plan, kind)[0]
        starts, ends = instant(step["starts"]), instant(step["ends"])
        step["ends"] = (starts + (ends - starts) / 5).isoformat()

    return change


def without(kind: str) -> Callable[[Plan], None]:
    """A step left out."""

    def change(plan: Plan) -> None:
        plan["steps"] = [step for step in plan["steps"] if step["step"] != kind]

    return change


def set_batch(key: str, factor: float) -> Callable[[Plan], None]:
    """A figure of the first batch at another size."""

    def change(plan: Plan) -> None:
        plan["batches"][0][key] *= factor

    return change


def at_the_same_time(plan: Plan) -> None:
    """Somebody rolls two batches at once."""
    one, other = steps(plan, "roll")[:2]
    other["who"], other["starts"], other["ends"] = one["who"], one["starts"], one["ends"]


def rolled_by_two(plan: Plan) -> tuple[dict[str, Any], dict[str, Any]]:
    """The first bay rolled by two, each half of the time; both rows."""
    row, *others = (each for each in steps(plan, "roll") if each["batch"] == steps(plan, "roll")[0]["batch"])
    plan["steps"] = [each for each in plan["steps"] if each not in others]
    half = (instant(row["ends"]) - instant(row["starts"])) / (1 if others else 2)
    row["ends"] = (instant(row["starts"]) + half).isoformat()
    names = {step["who"] for step in plan["steps"]} - {row["who"]}
    second = {**row, "who": sorted(names)[0], "together_with": row["who"]}
    row["together_with"] = second["who"]
    plan["steps"].append(second)
    return row, second


def rolled_one_after_the_other(plan: Plan) -> None:
    """Two are told to roll side by side, and one of them comes when the other is done."""
    row, second = rolled_by_two(plan)
    second["starts"], second["ends"] = row["ends"], (instant(row["ends"]) + timedelta(minutes=5)).isoformat()


def told_to_one_alone(plan: Plan) -> None:
    """Two roll a bay, and one is not told so."""
    rolled_by_two(plan)[0]["together_with"] = None


def without_the_second(plan: Plan) -> None:
    """One is told to roll with somebody who has something else to do."""
    rolled_by_two(plan)
    plan["steps"].pop()


def in_a_quarter_by_two(plan: Plan) -> None:
    """Two roll a bay in a quarter of the time that it takes one."""
    for row in rolled_by_two(plan):
        row["ends"] = (instant(row["starts"]) + (instant(row["ends"]) - instant(row["starts"])) / 2).isoformat()


def by_a_stranger(plan: Plan) -> None:
    """A step by somebody who is not there."""
    steps(plan, "pour")[0]["who"] = "the neighbour"


def a_bay_left_out(plan: Plan) -> None:
    """Less floor than there is."""
    plan["batches"][0]["pieces"][0]["size_m2"] *= 0.8


def told_too_late(plan: Plan) -> None:
    """The plan tells an early edge that the step has passed."""
    batch = plan["batches"][0]
    for window in batch["windows"]:
        if window["name"] == "back-roll":
            window["closes"] = window["starts"]


MUTATIONS: dict[str, tuple[str, Callable[[Plan], None]]] = {
    "rolled before it is spread": ("order", moved("roll", -20)),
    "flaked before it is rolled": ("order", moved("broadcast", -30)),
    "mixed before it is measured": ("order", moved("mix", -15)),
    "measured out an hour before": ("stands open", moved("measure", -60)),
    "poured an hour late": ("pot life", moved("pour", 75)),
    "rolled two hours late": ("back-roll", moved("roll", 120)),
    "flaked three hours late": ("broadcast", moved("broadcast", 180)),
    "left lying in ribbons": ("left lying", moved("squeegee", 25)),
    "rolled in no time": ("too fast", shorter("roll")),
    "flaked in no time": ("too fast", shorter("broadcast")),
    "cut in in no time": ("too fast", shorter("cut-in")),
    "no roller at all": ("left out", without("roll")),
    "no flake": ("left out", without("broadcast")),
    "not scraped": ("not scraped", without("scrape")),
    "at night": ("hours", moved("broadcast", 13 * 60)),
    "the top coat on wet resin": ("recoat", moved("pour", -15 * 60, -1)),
    "two floors at once": ("two at once", at_the_same_time),
    "rolled by two, one after the other": ("not together", rolled_one_after_the_other),
    "rolled by two, told to one": ("not together", told_to_one_alone),
    "rolled with nobody": ("not together", without_the_second),
    "rolled by two in no time": ("too fast", in_a_quarter_by_two),
    "by a stranger": ("nobody", by_a_stranger),
    "a bay left out": ("coverage", a_bay_left_out),
    "too little in the pail": ("short", set_batch("volume_l", 0.8)),
    "more than the pail holds": ("pail too small", set_batch("volume_l", 12.0)),
    "weighed wrong": ("mass", set_batch("mass_kg", 1.2)),
    "after the edge that it tells": ("back-roll", told_too_late),
}


def test_a_sound_plan_breaks_nothing(sound: tuple[Plan, JobFile]) -> None:
    plan, job = sound
    assert plan["feasible"]
    found = faults(plan, job)
    assert not found, told(found)


@pytest.mark.parametrize("name", MUTATIONS)
def test_a_plan_that_was_spoilt_is_caught(name: str, sound: tuple[Plan, JobFile]) -> None:
    plan, job = sound
    kind, spoil = MUTATIONS[name]
    spoil(plan)
    assert kind in {fault.kind for fault in faults(plan, job)}


def test_a_joint_that_is_reached_three_hours_late_is_caught(in_buckets: tuple[Plan, JobFile]) -> None:
    plan, job = in_buckets
    assert not faults(plan, job)
    moved("squeegee", 180, 1)(plan)
    assert "joint" in {fault.kind for fault in faults(plan, job)}


def test_a_joint_to_a_film_that_lies_is_given_up_only_with_a_word_of_tape_and_where(
    in_buckets: tuple[Plan, JobFile],
) -> None:
    plan, job = in_buckets
    moved("squeegee", 180, 1)(plan)
    first = min(plan["batches"], key=lambda batch: instant(batch["mixed_at"]))
    mine = [row for row in rows_of(plan) if row.batch == first["number"]]
    plan["batches"].remove(first)
    plan["steps"] = [step for step in plan["steps"] if step["batch"] != first["number"]]
    past = Past((first,), tuple(mine), max(row.ends for row in mine if row.step == "pour"))

    def late_to_it() -> list[Fault]:
        return [
            each
            for each in faults(plan, job, past)
            if each.text.partition(" (")[0].endswith(f"batch {first['number']}")
        ]

    assert {fault.kind for fault in late_to_it()} == {"joint"}
    for said, is_enough in (
        ("tape bay 99", False),
        ("bay 1 is late", False),
        (f"tape {first['pieces'][-1]['area']}", True),
    ):
        plan["warnings"] = [said]
        assert bool(late_to_it()) is not is_enough, said


def test_half_a_litre_measured_out_for_a_floor_is_caught(in_buckets: tuple[Plan, JobFile]) -> None:
    plan, job = in_buckets
    values = copy.deepcopy(dict(job.values))
    values["coats"][0]["split"] = True
    assert "too small" not in {fault.kind for fault in faults(plan, JobFile(values, job.sheets))}
    set_batch("volume_l", 0.1)(plan)
    assert "too small" in {fault.kind for fault in faults(plan, JobFile(values, job.sheets))}


def test_a_kit_that_may_not_be_split_and_a_damp_hour_are_caught(sound: tuple[Plan, JobFile]) -> None:
    plan, job = sound
    values = copy.deepcopy(dict(job.values))
    values["coats"][0].update(kit="4.7 L", split=False)
    assert "kit cut" in {fault.kind for fault in faults(plan, JobFile(values, job.sheets))}
    for row in values["forecast"]:
        row["humidity"] = "95 %"
    assert "conditions" in {fault.kind for fault in faults(plan, JobFile(values, job.sheets))}


def test_a_joint_at_a_saw_cut_may_be_cold(in_bays: tuple[Plan, JobFile]) -> None:
    plan, job = in_bays
    moved("squeegee", 180, 1)(plan)
    values = copy.deepcopy(dict(job.values))
    names = [area["name"] for area in values["areas"]]
    values["saw_cuts"] = [list(pair) for pair in pairwise(names)]
    cold = [fault for fault in faults(plan, job) if fault.kind == "joint"]
    sawn = [fault for fault in faults(plan, JobFile(values, job.sheets)) if fault.kind == "joint"]
    assert cold
    assert not sawn


def late_on_the_last_strip(plan: Plan) -> None:
    """The last strip is rolled when its film has set, though its bucket still pours."""
    last = [step for step in steps(plan, "roll") if step["strip"]][-1]
    for edge in ("starts", "ends"):
        last[edge] = (instant(last[edge]) + timedelta(minutes=25)).isoformat()


def poured_before_the_strip_before(plan: Plan) -> None:
    """The second strip goes down with the first."""
    first, second = steps(plan, "pour")[:2]
    second["starts"], second["ends"] = first["starts"], first["ends"]


def spread_late(plan: Plan) -> None:
    """The second strip lies in ribbons for half an hour."""
    moved("squeegee", 30, 1)(plan)


STRIP_MUTATIONS = {
    "rolled late": ("back-roll", late_on_the_last_strip),
    "poured too soon": ("order", poured_before_the_strip_before),
    "spread late": ("left lying", spread_late),
    "one not poured": ("left out", lambda plan: plan["steps"].remove(steps(plan, "pour")[1])),
    "one not rolled": ("left out", lambda plan: plan["steps"].remove(steps(plan, "roll")[1])),
}
_in_strips: list[Plan] = []


@pytest.mark.parametrize("name", STRIP_MUTATIONS)
def test_a_plan_in_strips_that_was_spoilt_is_caught(name: str, run: Run, home: Path, hasty: None) -> None:
    files = random_strip_floor(8)
    if not _in_strips:
        _in_strips.append(planned(run, put_down(home, files), files.begin))
    plan, job = copy.deepcopy(_in_strips[0]), JobFile.read(files.job, files.sheets)
    assert plan["batches"][0]["strips"] > 1
    assert not faults(plan, job)
    kind, spoil = STRIP_MUTATIONS[name]
    spoil(plan)
    assert kind in {fault.kind for fault in faults(plan, job)}
