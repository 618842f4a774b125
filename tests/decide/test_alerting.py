"""Which alerts stand over a small floor, and which are raised when."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from mixclock.decide.alerting import Raise, alerts, to_raise
from mixclock.decide.alerting.raising import SAY_TOGETHER, is_cleared
from mixclock.decide.shapes import Alert, EarlierStep, Rank, Stage, State
from mixclock.job.entry import (
    Began,
    Combined,
    Delivered,
    Did,
    Dumped,
    Facts,
    Heard,
    JobStarted,
    MixingEnded,
    Poured,
    ProfileUsed,
    Raised,
    Reading,
    Saw,
    Withdrawn,
)
from tests.decide.worlds import BASE, SITE, Log, instant, minutes_of


def shed(slab_c: float = 20.0) -> Log:
    """One batch mixed for bay 1 at eight on a mild day."""
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=slab_c))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0, vessel="pail"), by="mixer")
    return log


def standing_at(log: Log, minutes: float) -> dict[str, Alert]:
    """The alerts that stand, by name."""
    now = instant(minutes)
    standing = log.standing(minutes)
    return {alert.id: alert for alert in alerts(standing, log.tracks(minutes), now)}


def raised_at(log: Log, minutes: float) -> tuple[Raise, ...]:
    """What would be raised at an instant."""
    now, standing, tracks = instant(minutes), log.standing(minutes), log.tracks(minutes)
    soon = alerts(standing, tracks, now + SAY_TOGETHER)
    return to_raise(standing, alerts(standing, tracks, now), now, soon)


def tell(log: Log, minutes: float, outcome: str = "sent") -> list[str]:
    """Raise what is to be raised, as the daemon does, and give their names."""
    told = []
    for wanted in raised_at(log, minutes):
        alert = wanted.alert
        raised = Raised(
            alert.id,
            alert.stage,
            alert.rank,
            "words",
            alert.due.isoformat(),
            repeat=wanted.repeat,
            late_s=wanted.late_s,
        )
        entry = log.add(minutes, raised)
        if outcome:
            log.add(minutes, Delivered(entry.number, "desktop", outcome))
        told.append(f"{alert.id} {alert.stage}")
    return told


def early(log: Log, name: str, **at: str) -> float:
    """The early closing edge of a window in minutes."""
    closes = log.window(name, 5, **at).closes
    assert closes is not None
    return minutes_of(closes.early)


def test_the_voice_leads_through_mixing_scrape_clean_pail_pour() -> None:
    log = shed()
    steps = [standing_at(log, minutes).get("b1.mixing") for minutes in (1.0, 1.6, 2.6, 3.05)]
    assert [step.step if step else None for step in steps] == [None, "scrape-sides", "clean-pail", "pour-it-all"]
    assert steps[1] is not None
    assert (steps[1].who, steps[1].rank) == ("mixer", Rank.TIMELY)


def test_the_led_steps_are_one_alert_that_goes_on_not_three_new_ones() -> None:
    log = shed()
    repeats = []
    for minutes in (1.55, 2.55, 3.05):
        repeats += [wanted.repeat for wanted in raised_at(log, minutes) if wanted.alert.id == "b1.mixing"]
        tell(log, minutes)
    assert repeats == [0, 1, 2]


def test_a_step_of_mixing_that_somebody_was_told_stands_for_three_quarters_of_a_minute() -> None:
    log = shed()
    tell(log, 3.05)
    assert "b1.mixing" in standing_at(log, 3.79)
    assert "b1.mixing" not in standing_at(log, 3.81)


def test_a_step_of_mixing_that_was_told_late_stands_as_long_as_one_in_time() -> None:
    log = shed()
    tell(log, 6.0)
    assert "b1.mixing" in standing_at(log, 6.74)
    assert "b1.mixing" not in standing_at(log, 6.76)


@pytest.mark.parametrize("outcome", ["", "retry", "give_up"])
def test_a_step_of_mixing_that_nobody_can_have_received_stays_due_until_it_is_heard(outcome: str) -> None:
    log = shed()
    tell(log, 3.05, outcome)
    assert standing_at(log, 6.0)["b1.mixing"].step == "pour-it-all"
    log.add(6.1, Heard(("b1.mixing",)))
    assert "b1.mixing" not in standing_at(log, 6.2)


def test_a_step_of_mixing_that_passed_by_is_overtaken_by_the_call_to_pour() -> None:
    log = shed()
    due = early(log, "pour-out")
    before, after = standing_at(log, due - 7), standing_at(log, due + 0.1)
    assert "b1.mixing" in before
    assert "b1.pour-out" not in before
    assert "b1.pour-out" in after
    assert "b1.mixing" not in after
    assert after["b1.pour-out"].detail == EarlierStep(before["b1.mixing"])


def test_a_step_of_mixing_that_was_met_is_not_told_once_more_by_the_call_to_pour() -> None:
    log = shed()
    tell(log, 3.05)
    assert standing_at(log, early(log, "pour-out") + 0.1)["b1.pour-out"].detail is None


def test_mixing_that_was_stated_as_over_is_led_no_further() -> None:
    log = shed()
    log.add(2.0, MixingEnded(1))
    assert "b1.mixing" not in standing_at(log, 2.6)


def test_pour_out_is_announced_then_due_then_late_then_lost() -> None:
    log = shed()
    window = log.window("pour-out", 1)
    assert window.closes is not None
    assert window.closes.late is not None
    edge = window.closes
    seen = []
    for at in (edge.early - timedelta(seconds=20), edge.early, edge.early + timedelta(minutes=5), edge.late):
        alert = standing_at(log, minutes_of(at) + 0.001)["b1.pour-out"]
        assert alert.rank is Rank.CRITICAL
        seen.append(alert.stage)
    assert seen == [Stage.HEADS_UP, Stage.NOW, Stage.LATE, Stage.LOST]


def test_stating_the_pour_ends_its_alert_and_withdrawing_it_brings_it_back() -> None:
    log = shed()
    due = early(log, "pour-out") + 0.1
    poured = log.add(due - 1, Poured(1))
    assert "b1.pour-out" not in standing_at(log, due)
    log.add(due, Withdrawn(poured.number))
    assert "b1.pour-out" in standing_at(log, due)


def test_a_step_with_a_rate_is_due_so_early_that_the_crew_can_finish() -> None:
    log = shed()
    log.add(5, Poured(1))
    window = log.window("back-roll", 6)
    assert window.closes is not None
    assert window.latest_start is not None
    needed = window.closes.early - window.latest_start
    assert abs(needed.total_seconds() - 12.0 / 75.0 * 3600.0) < 1.0  # 12 m² at 75 m²/h
    alert = standing_at(log, minutes_of(window.latest_start) + 0.01)["b1.bay-1.back-roll"]
    assert (alert.stage, alert.who, alert.rank) == (Stage.NOW, "roller", Rank.TIMELY)


def test_on_it_quiets_a_step_until_its_early_edge() -> None:
    log = shed()
    log.add(5, Poured(1))
    window = log.window("back-roll", 6)
    assert window.closes is not None
    assert window.latest_start is not None
    begun = minutes_of(window.latest_start) - 0.5
    log.add(begun, Began("back-roll", 1))
    assert "b1.bay-1.back-roll" not in standing_at(log, begun + 1)
    assert standing_at(log, minutes_of(window.closes.early) + 0.01)["b1.bay-1.back-roll"].stage is Stage.LATE


def test_late_is_told_to_everybody_after_a_while() -> None:
    log = shed()
    log.add(5, Poured(1))
    edge = early(log, "back-roll", area="bay 1")
    assert standing_at(log, edge + 0.5)["b1.bay-1.back-roll"].who == "roller"
    assert standing_at(log, edge + 1.5)["b1.bay-1.back-roll"].who is None


def test_a_critical_alert_repeats_every_twenty_seconds_until_it_is_stated() -> None:
    log = shed()
    due = early(log, "pour-out") + 0.01
    assert tell(log, due) == ["b1.pour-out now"]
    assert tell(log, due + 10 / 60) == []
    assert tell(log, due + 20 / 60) == ["b1.pour-out now"]
    log.add(due + 30 / 60, Poured(1))
    assert [name for name in tell(log, due + 41 / 60) if "pour-out" in name] == []


def test_heard_pauses_the_repeats_for_a_quarter_of_what_is_left_at_most() -> None:
    log = shed()
    window = log.window("pour-out", 1)
    assert window.closes is not None
    assert window.closes.late is not None
    due = minutes_of(window.closes.early) + 0.01
    tell(log, due)
    tell(log, due + 6)  # late by then
    log.add(due + 6.1, Heard())
    left = minutes_of(window.closes.late) - (due + 6.1)
    assert "b1.pour-out late" not in tell(log, due + 6.1 + left / 4 - 0.1)
    assert "b1.pour-out late" in tell(log, due + 6.1 + left / 4 + 0.1)


def test_a_new_stage_is_raised_although_the_one_before_was_heard() -> None:
    log = shed()
    window = log.window("pour-out", 1)
    assert window.closes is not None
    assert window.closes.late is not None
    due = minutes_of(window.closes.early) + 0.01
    tell(log, due)
    log.add(due + 0.1, Heard(("b1.pour-out",)))
    assert "b1.pour-out lost" in tell(log, minutes_of(window.closes.late) + 0.01)


def test_what_is_lost_is_said_once_and_stands_until_somebody_clears_it() -> None:
    log = shed()
    window = log.window("pour-out", 1)
    assert window.closes is not None
    assert window.closes.late is not None
    lost = minutes_of(window.closes.late) + 0.01
    assert "b1.pour-out lost" in tell(log, lost)
    assert "b1.pour-out lost" not in tell(log, lost + 1)
    alert = standing_at(log, lost + 1)["b1.pour-out"]
    assert alert.standing
    assert not is_cleared(log.standing(lost + 1), alert)
    log.add(lost + 2, Heard(("b1.pour-out",)))
    assert is_cleared(log.standing(lost + 2), alert)


def test_after_a_gap_only_the_highest_stage_is_raised_and_says_how_late() -> None:
    log = shed()
    edge = early(log, "pour-out")
    wanted = [one for one in raised_at(log, edge + 8) if one.alert.step == "pour-out"]
    assert [one.alert.stage for one in wanted] in ([Stage.LATE], [Stage.LOST])
    assert wanted[0].late_s is not None
    assert wanted[0].late_s > 60.0


def test_what_was_raised_without_any_answer_is_raised_again_and_marked() -> None:
    log = shed()
    due = early(log, "pour-out") + 0.01
    assert tell(log, due, outcome="") == ["b1.pour-out now"]
    assert raised_at(log, due + 3 / 60) == ()
    again = raised_at(log, due + 7 / 60)
    assert [(one.alert.id, one.again_after_crash, one.repeat) for one in again] == [("b1.pour-out", True, 1)]


def test_an_alert_that_no_channel_took_is_tried_again_soon() -> None:
    log = shed()
    due = early(log, "pour-out") + 0.01
    tell(log, due, outcome="retry")
    assert raised_at(log, due + 4 / 60) == ()
    assert [one.alert.id for one in raised_at(log, due + 6 / 60)] == ["b1.pour-out"]


def test_the_wet_edge_says_start_the_next_batch_then_dont_open_the_kit() -> None:
    log = shed()
    log.add(5, Poured(1))
    edge = early(log, "wet-edge", area="bay 1")
    latest = edge - 3 - 2  # three minutes of mixing, two to the joint
    assert standing_at(log, latest - 0.5)["b1.bay-1.wet-edge"].stage is Stage.HEADS_UP
    assert standing_at(log, latest + 0.01)["b1.bay-1.wet-edge"].stage is Stage.NOW
    gone = standing_at(log, latest + 1)["b1.bay-1.wet-edge"]
    assert (gone.stage, gone.rank) == (Stage.LATE, Rank.CRITICAL)


def test_a_batch_in_the_bucket_for_the_neighbour_leaves_time_until_the_pour() -> None:
    log = shed()
    log.add(5, Poured(1))
    edge = early(log, "wet-edge", area="bay 1")
    log.add(edge - 6, Combined("Shed base", ("bay 2",), volume_l=4.0, material_c=20.0))
    alert = standing_at(log, edge - 4).get("b1.bay-1.wet-edge")
    assert alert is None or alert.stage is Stage.HEADS_UP
    log.add(edge - 3, Poured(2))
    assert "b1.bay-1.wet-edge" not in standing_at(log, edge - 2)


def test_the_last_bay_has_no_wet_edge_to_keep() -> None:
    log = shed()
    log.add(5, Poured(1))
    log.add(8, Combined("Shed base", ("bay 2",), volume_l=4.0, material_c=20.0))
    log.add(12, Poured(2))
    log.add(15, Combined("Shed base", ("bay 3",), volume_l=4.0, material_c=20.0))
    log.add(19, Poured(3))
    assert not [name for name in standing_at(log, 60) if "wet-edge" in name]


def test_flake_is_not_asked_for_on_a_coat_without_flake() -> None:
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed top", ("bay 1",), volume_l=1.5))
    log.add(2, Poured(1))
    assert not [name for name in standing_at(log, 100) if "broadcast" in name]


def test_a_bucket_that_reads_fifteen_kelvin_over_the_mix_is_critical_at_once() -> None:
    log = shed()
    log.add(6, Reading(bucket_c=34.0, batch=1))
    assert "b1.hot" not in standing_at(log, 6)
    log.add(7, Reading(bucket_c=35.5, batch=1))
    alert = standing_at(log, 7)["b1.hot"]
    assert (alert.rank, alert.stage) == (Rank.CRITICAL, Stage.NOW)
    assert "b1.hot now" in tell(log, 7)


def test_from_a_warm_mix_the_alarm_comes_at_forty_four_and_not_at_forty_seven() -> None:
    log = Log()
    log.add(-10, Reading(air_c=31.0, rh_pct=50.0, slab_c=28.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=32.0, vessel="pail"))
    log.add(3, Reading(bucket_c=43.5, batch=1))
    assert "b1.hot" not in standing_at(log, 3)
    log.add(4, Reading(bucket_c=44.0, batch=1))
    assert standing_at(log, 4)["b1.hot"].due == instant(4)


def test_a_bucket_that_somebody_saw_to_be_hot_is_critical_at_once_and_stops_when_heard() -> None:
    log = shed()
    log.add(6, Saw("hot", 1))
    assert "b1.hot now" in tell(log, 6.01)
    assert "b1.hot now" in tell(log, 6.4)
    log.add(6.5, Heard(("b1.hot",)))
    assert "b1.hot now" not in tell(log, 9)
    assert standing_at(log, 9)["b1.hot"].standing


def test_a_hot_bucket_that_smokes_is_called_anew_and_is_over_once_it_was_dumped() -> None:
    log = shed()
    log.add(6, Saw("hot", 1))
    log.add(6.5, Heard(("b1.hot",)))
    log.add(7, Saw("smoking", 1))
    stands = standing_at(log, 8)
    assert "b1.hot" not in stands
    assert stands["b1.smoking"].due == instant(7)
    assert "b1.smoking now" in tell(log, 8)
    log.add(9, Dumped(1))
    assert not {"b1.hot", "b1.smoking"} & set(standing_at(log, 10))
    log.add(11, Saw("smoking", 1))
    assert "b1.smoking" not in standing_at(log, 10)


def test_forty_degrees_count_as_hot_from_a_cool_mix_only() -> None:
    for mixed_c, hot in ((26.0, True), (30.0, False)):
        log = Log()
        log.add(-10, Reading(air_c=22.0, rh_pct=50.0, slab_c=20.0))
        log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=mixed_c))
        log.add(5, Reading(bucket_c=40.5, batch=1))
        assert ("b1.hot" in standing_at(log, 5)) is hot


def test_a_dew_margin_that_falls_over_wet_film_asks_to_shut_the_door() -> None:
    log = shed()
    log.add(5, Poured(1))
    assert "bay-1.dew-margin" not in standing_at(log, 30)
    log.add(60, Reading(air_c=20.0, rh_pct=88.0, slab_c=20.0))
    alert = standing_at(log, 61)["bay-1.dew-margin"]
    assert (alert.rank, alert.due) == (Rank.TIMELY, instant(60))


def test_a_slab_that_jumped_up_over_wet_film_hushes_no_dew_alert_until_it_is_confirmed() -> None:
    log = shed()
    log.add(5, Poured(1))
    log.add(60, Reading(air_c=20.0, rh_pct=88.0, slab_c=20.0))
    log.add(70, Reading(slab_c=37.0))
    assert "bay-1.dew-margin" in standing_at(log, 71)
    log.add(75, Reading(slab_c=36.5))
    assert "bay-1.dew-margin" not in standing_at(log, 76)


def test_a_dry_film_needs_no_dew_alert() -> None:
    log = shed()
    log.add(5, Poured(1))
    log.add(600, Reading(air_c=20.0, rh_pct=88.0, slab_c=20.0))
    log.add(590, Saw("tack free", 1))
    assert "bay-1.dew-margin" not in standing_at(log, 601)


def test_nobody_is_called_for_a_coat_on_a_bay_where_none_goes_on() -> None:
    log = Log()
    text = SITE.replace('after = "base"', 'after = "base"\nareas = ["bay 2"]')
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", text))
    assert [coat.areas for coat in log.standing().site.coats] == [(), ("bay 2",)]
    for place, area in enumerate(("bay 1", "bay 2"), start=1):
        log.add(10 * place, Combined("Shed base", (area,), volume_l=4.0, coat="base", material_c=20.0))
        log.add(10 * place + 5, Poured(place))
    days = 6 * 24 * 60
    called = {name for name in standing_at(log, days) if ".recoat" in name}
    assert called == {"bay-2.base.recoat"}


def test_recoat_opened_is_a_notice_that_waits_for_working_hours() -> None:
    log = shed()
    log.add(5, Poured(1))
    log.add(15, Did("back-roll", 1))
    log.add(20, Did("broadcast", 1))
    opens = log.window("recoat", 30).opens
    assert opens is not None
    assert opens.late is not None
    at_night = minutes_of(opens.late) + 1
    tell(log, at_night - 60)
    assert standing_at(log, at_night)["bay-1.base.recoat.open"].rank is Rank.NOTICE
    assert "bay-1.base.recoat.open opened" not in tell(log, at_night)
    morning = (datetime.fromisoformat("2026-04-14T06:31:00+00:00") - instant(0)).total_seconds() / 60
    assert "bay-1.base.recoat.open opened" in tell(log, morning)


def test_recoat_closing_is_told_the_evening_before_and_an_hour_before_never_at_two_at_night() -> None:
    log = shed()
    log.add(5, Poured(1))
    told: list[float] = []
    for quarter in range(4 * 60):
        minutes = 60 + quarter * 15.0
        if "bay-1.base.recoat heads-up" in tell(log, minutes):
            told.append(minutes)
    hours = [instant(minutes).hour for minutes in told]
    assert len(told) == 2
    assert all(6 <= hour <= 17 for hour in hours)


def test_the_coat_on_top_ends_the_questions_about_the_coat_below() -> None:
    log = shed()
    log.add(5, Poured(1))
    log.add(60 * 20, Combined("Shed top", ("bay 1",), volume_l=1.5))
    log.add(60 * 20 + 2, Poured(2))
    assert not [name for name in standing_at(log, 60 * 80) if name.startswith("bay-1.base")]


def test_a_warning_that_falls_due_within_a_minute_is_said_along() -> None:
    log = shed()
    log.add(5, Poured(1))
    window = log.window("back-roll", 6)
    assert window.latest_start is not None
    names = [one.alert.id for one in raised_at(log, minutes_of(window.latest_start) + 0.001)]
    assert "b1.bay-1.back-roll" in names


def test_a_finished_job_is_silent() -> None:
    from mixclock.job.entry import JobFinished

    log = shed()
    log.add(5, JobFinished())
    assert standing_at(log, 30) == {}


def test_a_floor_window_that_only_rests_on_a_guess_is_told_once_and_quietly() -> None:
    log = shed()
    window = log.window("back-roll", 1)
    assert window.provisional
    assert window.latest_start is not None
    assert window.closes is not None
    now = standing_at(log, minutes_of(window.latest_start) + 0.1)["b1.bay-1.back-roll"]
    assert (now.rank, now.stage) == (Rank.TIMELY, Stage.NOW)
    assert "b1.bay-1.back-roll" not in standing_at(log, minutes_of(window.closes.early) + 0.1)


def test_facts_of_every_kind_leave_the_alerts_standing() -> None:
    log = shed()
    quiet: list[Facts] = [Reading(air_c=20.0), Heard()]
    for facts in quiet:
        log.add(2, facts)
    assert "b1.pour-out" in standing_at(log, early(log, "pour-out") + 0.1)


def night_shed() -> Log:
    """A base whose recoat window opens after the crew went home and shuts before it comes back."""
    sheet = BASE.replace('"12 h", "30', '"10 h", "30').replace('"48 h"', '"24 h"')
    log = shed()
    log.entries[1] = replace(log.entries[1], facts=ProfileUsed("Shed base", sheet))
    log.add(5, Poured(1))
    return log


def test_a_recoat_that_opens_and_shuts_overnight_is_never_asked_for_before_it_opens() -> None:
    log = night_shed()
    window = log.window("recoat", 30)
    assert window.opens is not None
    assert window.closes is not None
    opens, shuts = minutes_of(window.opens.safe_open), minutes_of(window.closes.early)
    for minutes in range(30, int(opens), 15):
        stood = standing_at(log, minutes).get("bay-1.base.recoat")
        assert stood is None or stood.stage is Stage.HEADS_UP
        assert log.window("recoat", minutes).state is State.WAITING
    assert standing_at(log, opens - 60)["bay-1.base.recoat"].stage is Stage.HEADS_UP  # said before the crew goes home
    assert standing_at(log, shuts - 1)["bay-1.base.recoat"].stage is Stage.NOW


def test_a_recoat_window_that_shut_overnight_is_not_called_open_in_the_morning() -> None:
    log = night_shed()
    closes = log.window("recoat", 30).closes
    assert closes is not None
    stood = standing_at(log, minutes_of(closes.early) + 5)
    assert "bay-1.base.recoat.open" not in stood
    assert stood["bay-1.base.recoat"].stage is Stage.LATE
