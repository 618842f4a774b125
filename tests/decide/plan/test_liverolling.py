"""Two who roll a batch that is under way: the rest is planned as the batch itself was. Every sum by hand."""

from __future__ import annotations

from dataclasses import replace

from mixclock.decide.plan.days.standpoint import standpoint_of
from mixclock.decide.plan.floor.plans import Plan, PlannedStep
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.entry import Began, Combined, Did, JobStarted, Poured, Reading
from tests.boatshed import PAIL, shed_job
from tests.decide.plan.floors import replan
from tests.decide.plan.test_replan import bench_of
from tests.decide.worlds import Log, instant, minutes_of

QUICK = Ways(Effort(300, 150), exact=False)
MIXER = (
    '[[crew]]\nname = "mixer"\ndoes = ["mix", "pour", "squeegee", "clean"]\nsqueegee = "110 m2/h"\nroll = "36 m2/h"\n'
)
LENDING = MIXER + 'helps = ["roll"]\n'
ROLLER = '[[crew]]\nname = "roller"\ndoes = ["roll", "broadcast"]\nroll = "{rate} m2/h"\nbroadcast = "60 m2/h"\n'


def floor(bays: int = 1, mixer: str = LENDING, rate: int = 24) -> Log:
    """Bays of 12 m² without flake or a wet edge between them, at twenty degrees: the first bucket is poured at 8:04."""
    log = Log()
    job = shed_job(bays=bays, size="12 m2", joined=True, crew=mixer + ROLLER.format(rate=rate), vessel=PAIL)
    log.entries[0] = replace(
        log.entries[0], facts=JobStarted("Boat shed", "\n" + job.replace('flake = "0.4 kg/m2"', "wet_edge = false"))
    )
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(4, Poured(1))
    return log


def rest_of(log: Log, minutes: float) -> Plan:
    return replan(log.standing(minutes), log.tracks(minutes), bench_of(log, minutes), QUICK)


def rolls(plan: Plan) -> list[PlannedStep]:
    return sorted((step for step in plan.steps if (step.kind, step.batch) == ("roll", 1)), key=lambda step: step.who)


def test_a_batch_under_way_is_rolled_by_two_where_the_job_file_names_who_helps() -> None:
    """12 m² at 24 m²/h take one 30 minutes, and with 36 m²/h beside it 12: from 8:06 to 8:18 instead of 8:36."""
    rest = rest_of(floor(), 6)
    assert [(step.who, step.beside) for step in rolls(rest)] == [("mixer", "roller"), ("roller", "mixer")]
    assert {(minutes_of(step.starts), minutes_of(step.ends)) for step in rolls(rest)} == {(6.0, 18.0)}
    assert [step.note for step in rolls(rest)] == [f"together with {who}, side by side" for who in ("roller", "mixer")]


def test_who_is_not_named_for_helping_rolls_no_batch_under_way() -> None:
    assert [step.who for step in rolls(rest_of(floor(mixer=MIXER), 6))] == ["roller"]


def test_what_one_roller_alone_would_be_late_with_is_not_late_for_two() -> None:
    """Alone it takes 30 minutes, more than this back-roll leaves at 8:06; two need 12, and nobody calls it late."""
    log = floor()
    shut = log.window("back-roll", 6, "bay 1").closes
    assert shut is not None
    assert 18.0 < minutes_of(shut.early) < 36.0
    told = {}
    for mixer in (MIXER, LENDING):
        log = floor(mixer=mixer)
        stood = standpoint_of(log.standing(6), log.tracks(6), bench_of(log, 6), instant(6))
        told[mixer] = stood.said, [wait.at_once for _, wait, _, _ in stood.standpoint.waiting]
    assert told == {MIXER: (("back-roll of batch 1 is late: do it at once",), [True]), LENDING: ((), [False, False])}


def test_two_who_come_to_a_film_that_is_late_roll_it_together_at_once() -> None:
    rest = rest_of(floor(), 40)
    assert [step.who for step in rolls(rest)] == ["mixer", "roller"]
    assert {(minutes_of(step.starts), minutes_of(step.ends)) for step in rolls(rest)} == {(40.0, 52.0)}


def test_of_a_rolling_that_is_begun_two_share_what_is_left() -> None:
    """Begun at 8:06 and asked at 8:16: 20 of 30 minutes are left for one, so two need 8."""
    log = floor()
    log.add(6, Began("back-roll", 1), by="roller")
    assert {(minutes_of(step.starts), minutes_of(step.ends)) for step in rolls(rest_of(log, 16))} == {(16.0, 24.0)}


def test_what_comes_after_the_batch_under_way_waits_for_both() -> None:
    """A bay is left: nobody who rolls batch 1 measures out, mixes or rolls anything else meanwhile."""
    rest = rest_of(floor(bays=2, rate=30), 6)
    assert rest.feasible, rest.obstacle
    assert [step.who for step in rolls(rest)] == ["mixer", "roller"]
    for step in rolls(rest):
        others = [other for other in rest.steps if other.who == step.who and other is not step]
        assert others
        assert all(other.starts >= step.ends or other.ends <= step.starts for other in others)


def test_a_batch_that_is_rolled_needs_nobody() -> None:
    log = floor()
    log.add(18, Did("back-roll", 1))
    assert rolls(rest_of(log, 20)) == []
