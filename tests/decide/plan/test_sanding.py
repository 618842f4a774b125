"""A floor whose recoat has shut is freed by sanding: what is told of that is the plan that the crew gets."""

from __future__ import annotations

from dataclasses import replace

from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.days.standpoint import standpoint_of
from mixclock.decide.plan.floor.sheettiming import SheetTiming
from mixclock.decide.plan.judge.explanation import explain
from mixclock.decide.plan.judge.foreman import foreman_plan
from mixclock.job.entry import Combined, JobStarted, Noted, Poured
from tests.boatshed import PAIL, PAIR_WITH_RATES, shed_job
from tests.decide.plan.test_replan import QUICK, joined_shed
from tests.decide.worlds import MODEL, Log, instant

FOURTH_MORNING = 72 * 60.0
"""The base shuts 48 h after its pour at 20 °C."""


def past_its_recoat() -> Log:
    """Four bays of 12 m² with the base on them, three days later."""
    log = joined_shed()
    site = "\n" + shed_job(bays=4, size="12 m2", joined=True, crew=PAIR_WITH_RATES, vessel=PAIL)
    site = site.replace('"2026-04-15"', '"2026-04-15", "2026-04-16"')
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", site))
    for number in range(1, 5):
        log.add(20 * number, Combined("Shed base", (f"bay {number}",), "base", 3.8, 4.2, mixing_s=180), by="mixer")
        log.add(20 * number + 4, Poured(number))
    return log


def asked(log: Log) -> tuple[Bench, Standpoint]:
    """What a plan of that morning rests on."""
    standing = log.standing(FOURTH_MORNING)
    timing = SheetTiming(standing, MODEL)
    bench = Bench(standing.site, standing.profiles, timing, timing, timing, instant(FOURTH_MORNING))
    return bench, standpoint_of(standing, log.tracks(FOURTH_MORNING), bench, bench.begins).standpoint


def test_whoever_sands_as_told_gets_the_very_plan_that_was_told() -> None:
    log = past_its_recoat()
    bench, stood = asked(log)
    told = explain(bench, make_plan(bench, QUICK, stood), QUICK, stood).changes[0]
    assert told.direction == "sanding"
    log.add(FOURTH_MORNING - 1, Noted("abraded: yes"))
    plan = foreman_plan(asked(log)[0], QUICK, asked(log)[1])
    assert (len(plan.batches), plan.finish) == (told.batches, told.finish)
