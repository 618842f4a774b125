"""May the next kit be opened: yes, wait or no, by the plan's own model, and what makes a no a yes."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta

import pytest

from mixclock.decide.kitshapes import DayPace, Frees, KitAnswer, KitVerdict, Why
from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.days.kitcalls import KitDesk, OpenQuestions
from mixclock.decide.plan.days.nextkit import AT_ONCE, MEASURING, next_kit
from mixclock.decide.plan.days.onebucket import LEAST_BUCKET_L
from mixclock.decide.plan.days.pace import pace_of
from mixclock.decide.plan.days.planjson import plan_text
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.days.standpoint import standpoint_of
from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.plan.floor.sheettiming import SheetTiming
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.decide.shapes import Stage
from mixclock.job.entry import (
    Combined,
    Did,
    Dumped,
    Heard,
    JobFinished,
    JobStarted,
    Noted,
    Planned,
    Poured,
    Raised,
    Reading,
    Saw,
)
from mixclock.job.steps import BACK_ROLL, BROADCAST, TAPE, Rank
from mixclock.words.nextkit import kit_entry, kit_json, kit_lines, kit_said, kit_short
from tests.boatshed import PAIR_WITH_RATES
from tests.decide.plan.test_replan import PLAIN_SITE
from tests.decide.worlds import MODEL, SITE, Log, instant

SOLO = SITE.replace(PAIR_WITH_RATES, '[[crew]]\nname = "mixer"\n')
KITS = SITE.replace('wet_film = "300 um"', 'wet_film = "300 um"\nkit = "4 L"')


def shed(site: str = SITE) -> Log:
    """A mild morning; three bays of 12 m², wet edge to wet edge, a mixer and a roller."""
    log = Log()
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", site))
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    return log


def ask(log: Log, minutes: float) -> KitAnswer:
    """The answer at an instant."""
    standing = log.standing(minutes)
    plans = tuple(plans_of(log))
    return next_kit(standing, log.tracks(minutes), SheetTiming(standing, MODEL), instant(minutes), plans)


def test_a_floor_whose_job_file_is_lost_is_not_said_to_be_done() -> None:
    log = shed()
    log.entries[0] = replace(log.entries[0], facts=Noted("what was read in its place"))
    answer = ask(log, 0)
    assert (answer.verdict, answer.why) == (KitVerdict.NO, Why.NO_FILE)
    assert "job mend FILE" in " ".join(kit_lines(answer, log.standing(0).site, instant(0)))


def plans_of(log: Log) -> list[Plan]:
    from mixclock.decide.plan.days.planjson import plans_in

    return list(plans_in(log.entries))


def test_the_next_bucket_is_as_large_as_the_first_one_showed_and_that_is_said() -> None:
    """12 m² at 300 µm are 3.6 L on the floor, 3.79 L in the pail; the first bay took 4.8 L. This crew can do half a bay
    at a time: 2.4 L, and by the job file 1.9 L."""
    apart = SITE.replace('flake = "0.4 kg/m2"', "wet_edge = false")
    answers = {}
    for first_l in (3.8, 4.8):
        log = shed(apart)
        log.add(0, Combined("Shed base", ("bay 1",), volume_l=first_l, material_c=20.0), by="mixer")
        log.add(4, Poured(1, covered_m2=12.0), by="mixer")
        answers[first_l] = ask(log, 8)
    assert [answer.volume_l for answer in answers.values()] == [
        pytest.approx(6.0 * 0.3 / 0.95, rel=0.001),
        pytest.approx(6.0 * 4.8 / 12.0, rel=0.001),
    ]
    said = [kit_lines(answer, shed(apart).standing().site, instant(8)) for answer in answers.values()]
    assert ["so far" in " ".join(lines) for lines in said] == [False, True]
    assert any("base goes 2.5 m²/L so far, 3.2 m²/L was planned" in line for line in said[1])


def bay_1_poured(log: Log) -> Log:
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=3.8, material_c=20.0), by="mixer")
    log.add(4, Poured(1), by="mixer")
    return log


def test_on_an_empty_floor_the_first_kit_may_be_opened_and_the_answer_says_by_when_it_is_poured() -> None:
    answer = ask(shed(), 0)
    assert (answer.verdict, answer.areas) == (KitVerdict.YES, ("bay 1",))
    assert answer.volume_l is not None
    assert answer.pour_by is not None
    assert answer.mix_at is not None
    assert answer.mix_at < answer.pour_by
    said = kit_short(answer, shed().standing(0).site, instant(0))
    assert said.startswith("Yes: ")
    assert " for bay 1, poured by " in said


def test_while_a_bucket_stands_the_next_one_waits_and_the_minutes_are_said() -> None:
    log = shed()
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=3.8, material_c=20.0), by="mixer")
    answer = ask(log, 1)
    assert answer.verdict is KitVerdict.WAIT
    assert answer.from_when is not None
    assert answer.from_when > instant(1) + AT_ONCE
    assert kit_short(answer, log.standing(1).site, instant(1)).startswith("Wait ")


def test_a_joint_that_cannot_be_met_is_a_no_that_says_where_to_tape_and_that_tape_makes_it_a_yes() -> None:
    log = bay_1_poured(shed())
    log.add(14, Did(BACK_ROLL, 1), by="roller")
    late = 21.5  # the wet edge lasts until 24 min after the pour, and a bucket takes longer than that is
    answer = ask(log, late)
    assert (answer.verdict, answer.why, answer.edge) == (KitVerdict.NO, Why.EDGE, "bay 1")
    assert Frees.TAPE in [way.what for way in answer.ways]
    site = log.standing(late).site
    assert kit_short(answer, site, instant(late)) == "No: tape here"
    assert any("taped --on 'bay 1'" in line for line in kit_lines(answer, site, instant(late)))
    log.add(late, Did(TAPE, 1, ("bay 1",)), by="roller")
    taped = ask(log, late + 0.5)
    assert taped.verdict is not KitVerdict.NO, "what it said would make it a yes does"


def test_an_edge_that_is_gone_stays_a_no_until_somebody_states_the_tape() -> None:
    log = bay_1_poured(shed())
    log.add(14, Did(BACK_ROLL, 1), by="roller")
    log.add(20, Did(BROADCAST, 1), by="roller")
    for minutes in (30, 60, 200):
        answer = ask(log, minutes)
        assert (answer.verdict, answer.why) == (KitVerdict.NO, Why.EDGE_GONE), minutes
    log.add(201, Did(TAPE, 1, ("bay 1",)), by="roller")
    assert ask(log, 202).verdict is KitVerdict.YES


def test_a_hot_bucket_and_one_that_is_gone_come_before_any_other_until_they_are_dumped() -> None:
    log = shed()
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=3.8, material_c=20.0), by="mixer")
    log.add(5, Saw("hot", 1))
    hot = ask(log, 6)
    assert (hot.verdict, hot.why, hot.batch) == (KitVerdict.NO, Why.HOT, 1)
    gone = shed()
    gone.add(0, Combined("Shed base", ("bay 1",), volume_l=3.8, material_c=20.0), by="mixer")
    answer = ask(gone, 90)
    assert (answer.why, answer.ways[0].what) == (Why.GONE, Frees.OUTSIDE)
    gone.add(91, Dumped(1))
    assert ask(gone, 92).verdict is KitVerdict.YES


def test_at_the_end_of_the_day_no_kit_is_opened_and_the_next_morning_is_named() -> None:
    answer = ask(shed(), 9 * 60 + 20)  # 17:20 of a day that ends at 17:30
    assert (answer.verdict, answer.why) == (KitVerdict.NO, Why.HOURS)
    assert answer.ways[0].what is Frees.OTHER_DAY
    assert answer.ways[0].at is not None


def test_what_the_sheet_forbids_is_a_no_with_its_figure() -> None:
    log = shed()
    log.add(-5, Reading(air_c=20.0, rh_pct=97.0, slab_c=20.0))
    answer = ask(log, 0)
    assert (answer.verdict, answer.why) == (KitVerdict.NO, Why.CONDITIONS)
    assert "humidity" in kit_lines(answer, log.standing(0).site, instant(0))[1]


def test_when_what_was_bought_is_used_up_no_kit_is_promised() -> None:
    log = shed(KITS)
    plan = Plan("Boat shed", instant(0), (), ())
    log.add(0, Planned(plan_text(plan)))
    for number, minutes in enumerate((0, 30, 60), start=1):
        log.add(minutes, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0), by="mixer")
        log.add(minutes + 4, Poured(number, covered_m2=3.0))
        log.add(minutes + 10, Did(BACK_ROLL, number))
        log.add(minutes + 14, Did(BROADCAST, number))
        log.add(minutes + 15, Did(TAPE, number, ("bay 1",)))
    answer = ask(log, 80)
    assert (answer.verdict, answer.why) == (KitVerdict.NO, Why.MATERIAL)
    assert answer.ways[0].what is Frees.FETCH


def test_a_crew_that_is_slower_today_is_reckoned_with_as_it_is() -> None:
    """The roller cuts in 10.4 m, rolls and flakes 12 m² in 39.4 min by the rates: 56 min are 1.4 times that."""
    log = bay_1_poured(shed())
    log.add(44, Did(BACK_ROLL, 1), by="roller")
    log.add(60, Did(BROADCAST, 1), by="roller")
    pace = pace_of(log.standing(62), instant(62))
    assert pace.batches == 1
    assert pace.factor == pytest.approx(1.42, abs=0.02)
    log.add(61, Did(TAPE, 1, ("bay 1",)))
    quick = bay_1_poured(shed())
    quick.add(13, Did(BACK_ROLL, 1), by="roller")
    quick.add(17, Did(BROADCAST, 1), by="roller")
    quick.add(18, Did(TAPE, 1, ("bay 1",)))
    slow, fast = ask(log, 62), ask(quick, 62)
    assert slow.volume_l is not None
    assert fast.volume_l is not None
    assert slow.volume_l <= fast.volume_l
    assert "42 % longer than by its stated rates" in "\n".join(kit_lines(slow, log.standing(62).site, instant(62)))


def test_the_next_bucket_goes_by_yesterday_and_by_past_jobs_as_a_plan_does() -> None:
    """A bay half as long again as stated yesterday: this morning's bucket is no larger than that crew lays."""
    log = shed(PLAIN_SITE)
    log.add(0, Combined("Shed base", ("bay 1",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(4, Poured(1))
    log.add(4 + 1.5 * 27.4, Did(BACK_ROLL, 1))
    morning = 24 * 60.0
    log.add(morning, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    answer = ask(log, morning + 1)
    assert answer.pace.factor == pytest.approx(1.5, abs=0.02)
    (line,) = (line for line in kit_lines(answer, log.standing().site, instant(morning + 1)) if "the crew" in line)
    assert line == "On its last day here the crew took 50 % longer than its stated rates (1 bucket): planned so"
    past, fresh = DayPace(1.4, 8), shed(PLAIN_SITE)
    desk = KitDesk(lambda: MODEL, past=lambda _: past)
    answer = desk.answer(fresh.standing(1), fresh.tracks(1), instant(1))
    assert answer.pace == past
    assert any("on its past jobs this crew took 40 % longer" in said for said in answer.paced)


def test_a_finished_job_and_a_floor_that_has_every_coat_open_nothing() -> None:
    log = shed()
    log.add(1, JobFinished())
    assert ask(log, 2).why is Why.FINISHED


def test_every_no_says_in_words_what_would_make_it_a_yes() -> None:
    log = shed()
    site, at = log.standing(0).site, instant(0)
    for why in Why:
        for way in Frees:
            answer = KitAnswer(KitVerdict.NO, why, "base", "Shed base", ("bay 1",), edge="bay 1", batch=2,
                               ways=(replace(ask_way(), what=way),), left_l=0.2, said=BACK_ROLL)  # fmt: skip
            lines = kit_lines(answer, site, at)
            assert any("yes" in line.casefold() for line in lines[1:]), (why, way, lines)
            assert kit_said(answer, site, at)
            assert "`" not in kit_said(answer, site, at), "nobody hears a backtick"
            assert kit_json(answer, site, at)["answer"] == "no"


def ask_way():
    from mixclock.decide.kitshapes import Way

    return Way(Frees.TAPE, instant(5), 3.0)


def test_a_yes_that_becomes_a_no_before_part_b_is_in_is_called_until_it_is_heard() -> None:
    log = shed()
    desk = KitDesk(lambda: MODEL)
    answer = ask(log, 0)
    asked = log.add(0, kit_entry(answer, log.standing(0), instant(0)), by="mixer")
    assert calls(desk, log, 1) == []
    log.add(1.5, Reading(air_c=20.0, rh_pct=97.0, slab_c=20.0))
    (call,) = calls(desk, log, 2)
    assert (call.id, call.rank, call.stage) == (f"kit.{asked.number}", Rank.CRITICAL, Stage.LATE)
    log.add(2, Raised(call.id, "late", "critical", "", instant(2).isoformat()))
    assert len(calls(desk, log, 10)) == 1, "silence overrules nothing"
    log.add(11, Heard((call.id,)))
    assert calls(desk, log, 12) == []


def test_a_wait_that_became_a_yes_is_said_once_it_is_one_and_part_b_ends_the_question() -> None:
    log = shed()
    log.add(-1, Reading(air_c=20.0, rh_pct=97.0, slab_c=20.0))
    desk = KitDesk(lambda: MODEL)
    log.add(0, kit_entry(ask(log, 0), log.standing(0), instant(0)), by="mixer")
    assert calls(desk, log, 1) == []
    log.add(2, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    (call,) = calls(desk, log, 3)
    assert (call.stage, call.rank) == (Stage.NOW, Rank.TIMELY)
    log.add(4, Combined("Shed base", ("bay 1",), volume_l=1.0, material_c=20.0))
    assert calls(desk, log, 5) == []
    assert OpenQuestions().open(log.standing(5), instant(5)) is None


def calls(desk: KitDesk, log: Log, minutes: float):
    from mixclock.decide.alerting.dayends import PlanSays

    standing = log.standing(minutes)
    return list(desk.says(standing, log.tracks(minutes), instant(minutes), (), PlanSays()).advice)


# the plan's own model


QUICK = Ways(Effort(300, 150), exact=False)
"""Searched shortly, but laid as a plan lays it: a rough look leaves out strips that join a wet edge."""


def by_the_plan(log: Log, minutes: float, answer: KitAnswer) -> Plan:
    """What the planner itself makes of the same floor at the same instant, for the areas of the answer alone."""
    standing = log.standing(minutes)
    timing = SheetTiming(standing, MODEL)
    bench = Bench(standing.site, standing.profiles, timing, timing, timing, instant(minutes))
    stood = standpoint_of(standing, log.tracks(minutes), bench, instant(minutes)).standpoint
    share = 1.0
    if answer.volume_l is not None:
        whole = sum(area.size_m2 for area in standing.site.areas if area.name in answer.areas)
        share = min(1.0, answer.volume_l * 0.95 / 0.3 / whole)
    left = {key: share * size if key == (answer.coat, answer.areas[0]) else 0.0 for key, size in stood.left_m2.items()}
    return make_plan(bench, QUICK, replace(stood, left_m2=left))


def random_standing(seed: int) -> tuple[Log, float]:
    """A morning with a bucket or two, states and hours drawn at random."""
    dice = random.Random(seed)
    log = shed(SITE if dice.random() < 0.6 else SOLO)
    minutes = dice.uniform(0.0, 20.0)
    for number in range(1, dice.randint(1, 2) + 1):
        log.add(minutes, Combined("Shed base", (f"bay {number}",), volume_l=3.8, material_c=20.0), by="mixer")
        steps = (Poured(number), Did(BACK_ROLL, number), Did(BROADCAST, number))
        after = minutes
        for facts in steps[: dice.randint(0, 3)] if number > 1 else steps[: dice.randint(1, 3)]:
            after += dice.uniform(3.5, 8.0)
            log.add(after, facts, by="roller")
        minutes = after
    return log, minutes + dice.uniform(0.2, 12.0)


def agrees(seed: int) -> str:
    """Nothing, or how the answer differs from the plan's."""
    log, minutes = random_standing(seed)
    answer = ask(log, minutes)
    if (
        answer.why in (Why.EDGE_GONE, Why.HOT, Why.GONE, Why.DONE)
        or pace_of(log.standing(minutes), instant(minutes)).batches
    ):
        return ""  # said before any plan is asked, or asked of a crew of another pace
    plan = by_the_plan(log, minutes, answer)
    if plan.batches and plan.batches[0].volume_l < LEAST_BUCKET_L:
        return ""  # a plan that mixes by the cup is not asked for
    soon = instant(minutes) + MEASURING + 2 * AT_ONCE + timedelta(seconds=30)
    starts = plan.batches[0].mixed_at if plan.feasible and plan.batches else None
    if answer.verdict is KitVerdict.YES and (starts is None or starts > soon):
        return f"{seed}: yes, but the plan mixes it at {starts}: {plan.obstacle}"
    if answer.verdict is KitVerdict.NO and starts is not None and starts <= soon:
        smaller = Frees.SMALLER in [way.what for way in answer.ways]
        return "" if smaller else f"{seed}: no, but the plan mixes at {starts}"
    if answer.verdict is KitVerdict.WAIT and starts is None:
        return f"{seed}: wait, but the plan never does"
    return ""


def test_one_person_alone_is_another_floor_than_two() -> None:
    assert SOLO != SITE
    alone = bay_1_poured(shed(SOLO))
    alone.add(14, Did(BACK_ROLL, 1), by="mixer")
    answer = ask(alone, 15)
    assert answer.verdict is not KitVerdict.YES, "nobody mixes while the flake is still to be thrown"


@pytest.mark.parametrize("seed", [0, pytest.param(1, marks=pytest.mark.long), 2, 3, 4])
def test_the_answer_agrees_with_the_planner_on_a_random_standing(seed: int) -> None:
    assert agrees(seed) == ""


@pytest.mark.long
def test_the_answer_agrees_with_the_planner_on_sixty_random_standings() -> None:
    assert [found for seed in range(100, 160) if (found := agrees(seed))] == []
