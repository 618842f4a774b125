"""What the crew hears: each alert says what to do, which batch, where, who and how long."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from mixclock.decide.alerting import alerts
from mixclock.decide.shapes import Alert, Stage
from mixclock.job.entry import Combined, Poured, ProfileUsed, Reading, Saw
from mixclock.words.alerting import Wording, alert_words, together
from tests.decide.worlds import BASE, Log, instant


def shed() -> Log:
    """One batch mixed for bay 1 at eight on a mild day."""
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0, vessel="pail"), by="mixer")
    return log


def standing(log: Log, minutes: float, name: str) -> tuple[Alert, Wording]:
    """An alert that stands, with its words."""
    job = log.standing(minutes)
    found = {alert.id: alert for alert in alerts(job, log.tracks(minutes), instant(minutes))}
    return found[name], alert_words(found[name], job, instant(minutes))


def minutes(log: Log, name: str, stage: Stage) -> float:
    """When an alert first stands at a stage."""
    for tenth in range(60 * 60 * 10):
        at = tenth / 10
        for alert in alerts(log.standing(at), log.tracks(at), instant(at)):
            if alert.id == name and alert.stage is stage:
                return at
    raise AssertionError(f"{name} never comes to {stage}")


def test_a_pour_that_falls_due_says_batch_bay_who_and_how_long() -> None:
    log = shed()
    _, said = standing(log, minutes(log, "b1.pour-out", Stage.HEADS_UP), "b1.pour-out")
    assert said.speech.startswith("mixer, batch 1, bay 1: pour it out now. ")
    assert said.speech.endswith("minutes left.")


def test_a_lost_bucket_is_kept_off_the_floor_and_never_gets_a_lid() -> None:
    log = shed()
    _, said = standing(log, minutes(log, "b1.pour-out", Stage.LOST), "b1.pour-out")
    assert "keep it off the floor" in said.call
    assert "never a lid" in said.caution
    assert "use it up" in said.body


def test_a_bucket_that_smokes_is_carried_nowhere() -> None:
    log = shed()
    log.add(6, Saw("hot", 1))
    log.add(7, Saw("smoking", 1))
    _, said = standing(log, 7.1, "b1.smoking")
    assert "It smokes: leave it, get out" in said.title
    assert "Don't lift, stir or cap it" in said.body
    assert "call the fire service" in said.body
    assert "outside if you can hold it" not in f"{said.title} {said.body} {said.call} {said.caution}".casefold()


def test_a_hot_bucket_says_outside_and_thin_and_out_when_it_smokes() -> None:
    log = shed()
    log.add(6, Saw("hot", 1))
    _, said = standing(log, 6.1, "b1.hot")
    for words in ("outside", "away from anything that burns", "spread it thin", "smokes", "fire service"):
        assert words in said.body
    assert said.caution == "If it smokes, don't touch it: get out, call the fire service."


def test_a_recoat_is_asked_for_with_time_to_prepare_it() -> None:
    log = shed()
    log.add(5, Poured(1))
    alert, said = standing(log, 60 * 25, "bay-1.base.recoat")
    assert alert.stage is Stage.HEADS_UP
    assert alert.window is not None
    assert alert.window.closes is not None
    assert "start the next coat by 17:00" in said.body  # it shuts at night: half an hour before the day's end


def test_a_recoat_that_shuts_at_night_is_asked_for_in_working_hours() -> None:
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(270, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0))
    log.add(275, Poured(1))
    _, said = standing(log, 60 * 31, "bay-1.base.recoat")  # the window shuts in the evening of the second day
    assert "start the next coat by 17:00" in said.body


def test_a_recoat_window_that_nobody_is_at_work_for_is_told_with_both_its_ends() -> None:
    sheet = BASE.replace('"12 h", "30', '"10 h", "30').replace('"48 h"', '"24 h"')
    log = shed()
    log.entries[1] = replace(log.entries[1], facts=ProfileUsed("Shed base", sheet))
    log.add(5, Poured(1))
    _, said = standing(log, 8.6 * 60, "bay-1.base.recoat")
    assert "the next coat may go on from " in said.body
    assert "when nobody is at work. After that sand it first." in said.body
    assert "start the next coat" not in said.body


def test_a_slab_under_the_dew_point_is_never_said_to_be_over_it() -> None:
    log = shed()
    log.add(5, Poured(1))
    log.add(20, Reading(air_c=20.0, rh_pct=90.0, slab_c=12.0))
    _, said = standing(log, 21, "bay-1.dew-margin")
    assert "The slab is under the dew point, dew falls on the film" in said.body
    assert "-" not in said.body.replace("back-roll", "")


def test_the_same_step_on_two_bays_is_said_once() -> None:
    log = shed()
    log.add(5, Poured(1, ("bay 1", "bay 2")))
    at = minutes(log, "b1.bay-1.back-roll", Stage.NOW)
    job = log.standing(at)
    alert = next(one for one in alerts(job, log.tracks(at), instant(at)) if one.id == "b1.bay-1.back-roll")
    said = alert_words(alert, job, instant(at), areas=("bay 1", "bay 2"))
    assert "Batch 1, bay 1 and bay 2: start back-rolling now" in said.body


def test_alerts_that_fall_together_are_said_as_one_the_first_in_front() -> None:
    one, two = Wording("A", "first", "first.", caution="Mind."), Wording("B", "second", "second.")
    said = together((one, two))
    assert (said.title, said.body) == ("A and 1 more", "first\nsecond")
    assert said.speech == "first. And 1 more on the board. Mind."
    assert together((one,)) is one


def test_so_many_alerts_at_once_that_no_notification_holds_them_are_each_named() -> None:
    many = [Wording(f"Do {number}: batch {number}", "x" * 200, f"Call {number}.") for number in range(1, 9)]
    said = together(many)
    assert said.body.splitlines() == ["x" * 200, *(each.title for each in many[1:])]
    assert said.speech == "Call 1. And 7 more on the board."


@pytest.mark.parametrize("stage", list(Stage))
def test_every_stage_of_a_window_nobody_has_words_for_still_says_what_and_where(stage: Stage) -> None:
    log = shed()
    log.add(5, Poured(1))
    alert = next(one for one in alerts(log.standing(60), log.tracks(60), instant(60)) if one.step == "back-roll")
    from dataclasses import replace

    odd = replace(alert, step="second-sanding", stage=stage, due=instant(60) - timedelta(seconds=1))
    said = alert_words(odd, log.standing(60), instant(60))
    assert "second sanding" in said.speech
    assert "bay 1" in said.body
