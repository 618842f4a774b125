"""What is followed from look to look, after each thing that may befall a job, is what would be called if asked anew."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest

from mixclock.decide.alerting import alerts
from mixclock.decide.alerting.agenda import Agenda
from mixclock.decide.alerting.dayends import PlanSays
from mixclock.decide.alerting.raising import to_raise
from mixclock.decide.shapes import Alert, Rank, Stage
from mixclock.decide.tracks import Track, tracks
from mixclock.job.entry import Combined, Did, Dumped, Facts, Heard, JobFinished, Origin, Poured, Raised, Reading
from mixclock.job.entry import Withdrawn as Taken
from mixclock.job.progress import Standing
from tests.decide.worlds import MODEL, Log, instant

MIXED = Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=19.0, vessel="pail")


class Followed:
    """A job that is followed: each look is compared with one that remembers nothing."""

    def __init__(self) -> None:
        self.agenda, self.looks = Agenda(), 0

    def look(
        self, standing: Standing, found: tuple[Track, ...], at: float, plan: Callable[[], PlanSays] = PlanSays
    ) -> set[tuple[str, Stage]]:
        """What stands at an instant, minutes after eight."""
        now = instant(at)
        asked = self.agenda.alerts(standing, found, now, plan)
        assert asked == alerts(standing, found, now, plan)
        self.looks += 1
        return {(alert.id, alert.stage) for alert in asked}


def shed(*facts: tuple[float, Facts]) -> Log:
    """A slab of twenty degrees, and what is stated."""
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    for at, fact in facts:
        log.add(at, fact)
    return log


def built(log: Log) -> tuple[Standing, tuple[Track, ...]]:
    """The job and its windows."""
    standing = log.standing()
    return standing, tracks(standing, MODEL)


def test_from_the_instant_a_job_is_finished_nothing_is_called_of_it() -> None:
    log = shed((0, MIXED))
    log.add(90, JobFinished())
    (standing, found), followed = built(log), Followed()
    assert ("b1.pour-out", Stage.LOST) in followed.look(standing, found, 89.999)
    assert followed.look(standing, found, 90) == set()
    assert followed.look(standing, found, 91) == set()


def test_a_batch_that_was_taken_back_is_called_no_more() -> None:
    log, followed = shed((0, MIXED)), Followed()
    before = followed.look(*built(log), 0.5)
    log.add(1, Taken(5))
    for at in (1.0, 1.6, 3.1, 20.0, 45.0):
        assert followed.look(*built(log), at) == set(), before


def test_a_reading_moves_what_is_called_though_no_batch_changed() -> None:
    """At 20 °C the roll is due 17 minutes after the pour, at 30 °C sooner."""
    log, followed = shed((0, MIXED), (5, Poured(1))), Followed()
    standing, found = built(log)
    rolled = "b1.bay-1.back-roll"
    assert (rolled, Stage.LATE) not in followed.look(standing, found, 15.5)
    log.add(15.6, Reading(slab_c=30.0))
    hot, moved = built(log)
    assert hot.batches == standing.batches
    assert (rolled, Stage.LATE) in followed.look(replace(hot, batches=standing.batches), moved, 16.5)


def test_a_mended_job_file_and_another_reading_leave_nothing_as_it_was() -> None:
    log, followed = shed((0, MIXED), (5, Poured(1))), Followed()
    standing, found = built(log)
    assert ("b1.bay-1.back-roll", Stage.LATE) not in followed.look(standing, found, 15.5)
    log.add(15.6, Reading(slab_c=30.0))
    mended = log.standing()
    mended = replace(mended, site=replace(mended.site, name="Boat shed, mended"))
    assert ("b1.bay-1.back-roll", Stage.LATE) in followed.look(mended, tracks(mended, MODEL), 16.5)


def test_a_bucket_that_was_thrown_away_is_led_through_its_mixing_no_further_by_old_windows_either() -> None:
    log, followed = shed((0, MIXED)), Followed()
    standing, found = built(log)
    assert ("b1.mixing", Stage.STEP) in followed.look(standing, found, 1.6)
    log.add(1.7, Dumped(1))
    assert ("b1.mixing", Stage.STEP) not in followed.look(log.standing(), found, 1.8)


def test_a_step_that_was_heard_by_mistake_is_called_again_once_that_is_taken_back() -> None:
    log, followed = shed((0, MIXED)), Followed()
    stated, found = built(log)

    def called(at: float) -> bool:
        now = log.standing()
        standing = replace(stated, raisings=now.raisings, withdrawn=now.withdrawn)
        return ("b1.mixing", Stage.STEP) in followed.look(standing, found, at)

    assert called(1.55)
    log.add(1.55, Raised("b1.mixing", "step", "timely", "Scrape.", instant(1.5).isoformat(), 1))
    heard = log.add(2.41, Heard(("b1.mixing",)))
    assert not called(2.42)
    log.add(2.43, Taken(heard.number))
    assert called(2.44)


def test_where_today_ends_by_a_new_plan_the_tape_is_called_and_the_joint_is_not() -> None:
    """28 min at 20 °C, a fifth off: the edge goes at 22.3 min; the tape is called five minutes before."""
    log, followed = shed((0, MIXED), (5, Poured(1))), Followed()
    standing, found = built(log)
    ends = PlanSays(ends=frozenset({(1, "bay 1")}))
    assert ("b1.bay-1.wet-edge", Stage.LATE) in followed.look(standing, found, 28.0)
    ended = followed.look(standing, found, 28.1, lambda: ends)
    assert ("b1.bay-1.pull-tape", Stage.LATE) in ended
    assert not any(name.endswith("wet-edge") for name, _ in ended)
    again = followed.look(standing, found, 28.2)
    assert not any(name.endswith("pull-tape") for name, _ in again)
    followed.look(standing, found, 28.3, lambda: ends)
    later = followed.look(standing, found, 28.4, lambda: ends)
    assert ("b1.bay-1.pull-tape", Stage.LATE) in later


def test_a_bucket_of_another_van_is_called_here_as_soon_as_its_calls_are_taken_over() -> None:
    log, followed = shed((0, MIXED)), Followed()
    log.entries[-1] = replace(log.entries[-1], origin=Origin("van 2", "van 2", 4, "", 1))
    standing, found = built(log)
    assert followed.look(standing, found, 40.0) == set()
    taken = replace(standing, also_called=frozenset({"van 2"}))
    assert ("b1.pour-out", Stage.LATE) in followed.look(taken, found, 40.1)
    assert followed.look(standing, found, 40.2) == set()


@pytest.mark.parametrize("hour", ["1 h", None])
def test_who_works_alone_is_called_after_an_hour_without_a_word_where_the_job_asks_for_it(hour: str | None) -> None:
    log, followed = shed((0, MIXED)), Followed()
    standing, found = built(log)
    site = replace(standing.site, crew=standing.site.crew[:1], check_in_s=3600.0 if hour else None)
    alone = replace(standing, site=site)
    asked = {at: any(name.startswith("alone.") for name, _ in followed.look(alone, found, at)) for at in (59.9, 60.0)}
    assert asked == {59.9: False, 60.0: hour is not None}


def test_the_next_call_that_is_named_always_lies_ahead() -> None:
    log = shed((0, MIXED), (5, Poured(1)))
    (standing, found), agenda, now, named = built(log), Agenda(), instant(6), 0
    agenda.alerts(standing, found, now)
    while (ahead := agenda.next_call(now)) is not None and named < 40:
        assert ahead > now
        agenda.alerts(standing, found, ahead)
        now, named = ahead, named + 1
    assert 6 < named < 40


def test_one_window_that_cannot_be_asked_when_it_changes_silences_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is then asked at every look."""
    from mixclock.decide.alerting import agenda as module

    def broken(standing: Standing, track: Track) -> list[object]:
        raise ValueError("an odd one")

    monkeypatch.setattr(module, "track_changes", broken)
    log, followed = shed((0, MIXED)), Followed()
    standing, found = built(log)
    stages = {stage for at in (1.6, 20.0, 45.0) for name, stage in followed.look(standing, found, at)
              if name == "b1.pour-out"}  # fmt: skip
    assert followed.looks == 3
    assert len(stages) >= 2


def test_an_opening_is_told_for_half_a_day_and_after_that_left_to_the_screens() -> None:
    """Due at eight on a working day; raised for the first time within twelve hours, never later; anything else is."""
    due = instant(0) - timedelta(days=1)
    opened = Alert("bay-1.base.recoat", "recoat", Rank.TIMELY, Stage.OPENED, due)
    standing = Log().standing()
    for hours, told in ((11.9, True), (12.0, True), (12.01, False), (30.0, False)):
        now = due + timedelta(hours=hours)
        assert bool(to_raise(standing, [opened], now)) is told
        assert to_raise(standing, [replace(opened, stage=Stage.NOW)], now)


def test_rolling_that_is_done_ends_its_call_at_the_next_look() -> None:
    log, followed = shed((0, MIXED), (5, Poured(1))), Followed()
    assert ("b1.bay-1.back-roll", Stage.LATE) in followed.look(*built(log), 26.0)
    log.add(26.1, Did("back-roll", 1))
    assert not any("back-roll" in name for name, _ in followed.look(*built(log), 26.2))
