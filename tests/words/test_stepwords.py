"""What a phone shows and what the voice says are the same words, and no stage of any step is without them."""

from __future__ import annotations

import string
from dataclasses import fields, replace

import pytest

from mixclock.board.house import Floor
from mixclock.board.view import ViewParts, build_view
from mixclock.decide.kitshapes import KitAnswer, KitVerdict, Why
from mixclock.decide.shapes import Alert, Detail, JointBatch, MarginState, NextBatch, Quiet, Shortage, Trouble
from mixclock.job.entry import Combined, Poured, Reading
from mixclock.job.progress import Standing
from mixclock.job.steps import STEPS, Stage
from mixclock.words.alerting import alert_words, plain_words
from mixclock.words.nowjson import alert_json
from mixclock.words.stepwords import STEP_WORDS, Occasion, stage_words
from tests.decide.worlds import Log, instant

REACHED = [(row.name, stage) for row in STEPS.values() for stage in row.stages]
DETAILS: dict[str, Detail] = {
    "dew-margin": MarginState(2.4, 3.0, falling=True),
    "next-batch": NextBatch(2, 3.5, "base"),
    "short": Shortage(1.5),
    "next-kit": KitAnswer(KitVerdict.NO, Why.EDGE, "base", "Shed base", ("bay 2",), edge="bay 1", edge_by=instant(20)),
    "check-in": Quiet(900.0, "site office"),
    "trouble": Trouble("batch 1", "ValueError"),
}


def a_job() -> tuple[Standing, Alert]:
    """A batch poured on bay 1, with an alert on one of its windows to be made into any other."""
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0, vessel="pail"), by="mixer")
    log.add(5, Poured(1))
    window = log.window("back-roll", 15)
    alert = Alert("b1.bay-1.x", "x", STEPS["back-roll"].rank, Stage.NOW, instant(15), 1, "bay 1", window=window)
    return log.standing(), alert


def test_every_row_of_the_table_has_words() -> None:
    assert set(STEP_WORDS) == set(STEPS)


@pytest.mark.parametrize(("step", "stage"), REACHED)
def test_every_step_has_words_for_every_stage_that_it_can_reach(step: str, stage: Stage) -> None:
    assert stage in STEP_WORDS[step].stages
    words = stage_words(step, stage)
    assert words.short
    assert len(words.short.split()) <= 8, "a phone across the room has room for a few words"
    assert not words.short.endswith(".")


@pytest.mark.parametrize(("step", "stage"), REACHED)
def test_what_a_phone_shows_large_is_what_the_voice_says_first(step: str, stage: Stage) -> None:
    standing, blank = a_job()
    alert = replace(blank, step=step, stage=stage, detail=DETAILS.get(step))
    said = alert_words(alert, standing, instant(15))
    assert said.trouble is None
    told = {"alerts": [alert_json(standing, alert, instant(15))], "batches": []}
    [shown] = build_view(ViewParts(told, Floor("shed"), (), ()), instant(15))["alerts"]
    assert shown["do"] == said.do
    assert shown["text"] == said.body
    assert shown["speech"] == said.speech
    assert said.body.casefold().startswith(f"batch 1, bay 1: {said.do.casefold()}")
    assert said.do.casefold() in said.call.casefold()
    assert said.title.startswith(said.do)
    assert "{" not in said.speech + said.body


@pytest.mark.parametrize("name", ["base|grey", "{by}", "{", "%s", "a+b", "bay/1", "<b>", "\\"])
@pytest.mark.parametrize(("step", "stage"), [each for each in REACHED if each[0] in DETAILS])
def test_no_name_in_a_detail_costs_an_alert_its_words(step: str, stage: Stage, name: str) -> None:
    standing, blank = a_job()
    detail = DETAILS[step]
    held = {field.name: getattr(detail, field.name) for field in fields(detail)}
    named = {key: name for key, value in held.items() if type(value) is str}
    said = alert_words(replace(blank, step=step, stage=stage, detail=replace(detail, **named)), standing, instant(15))
    assert said.trouble is None


@pytest.mark.parametrize("stage", list(STEP_WORDS["wet-edge"].cases[Occasion.BATCH_COMES]))
def test_a_joint_that_a_batch_comes_to_names_the_batch_at_every_stage(stage: Stage) -> None:
    standing, blank = a_job()
    alert = replace(blank, step="wet-edge", stage=stage, detail=JointBatch(7))
    assert "batch 7" in alert_words(alert, standing, instant(15)).speech


def test_too_late_has_words_of_its_own_for_every_step() -> None:
    lost = {step: STEP_WORDS[step].stages[Stage.LOST].short for step, stage in REACHED if stage is Stage.LOST}
    for step, short in lost.items():
        others = [words.short for stage, words in STEP_WORDS[step].stages.items() if stage < Stage.LATE]
        assert short != STEP_WORDS[step].do
        assert short not in others
    assert lost["pour-out"] == "Keep it off the floor"
    assert lost["broadcast"] == "No more flake"


def test_an_alert_whose_words_fail_is_said_in_its_plainest_form_and_says_why() -> None:
    standing, blank = a_job()
    broken = replace(blank, id="plan.next-batch-2", step="next-batch", stage=Stage.NOW, detail=Shortage(1.0))
    said = alert_words(broken, standing, instant(15))
    assert said.speech == "Batch 1, bay 1: next batch, now."
    assert said.trouble is not None
    assert "plan.next-batch-2" in said.trouble
    assert plain_words(broken).body == said.body


def test_words_only_ask_for_what_can_be_filled_in() -> None:
    from mixclock.words.alerting import FILLINGS

    asked = {
        name
        for words in STEP_WORDS.values()
        for stages in (words.stages, *words.cases.values())
        for each in stages.values()
        for text in (each.short, each.more, each.ear or "")
        for _, name, _, _ in string.Formatter().parse(text)
        if name
    }
    assert asked <= set(FILLINGS)
    assert set(FILLINGS) <= asked, "what nobody asks for goes"
