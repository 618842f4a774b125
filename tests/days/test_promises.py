"""Scripted days through the real ticker: what is promised of alerts, each promise on its own."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise

import pytest

from mixclock.decide.alerting.raising import is_cleared
from mixclock.decide.bucketmodel import bucket_model
from mixclock.job.entry import Delivered, Heard, JobStarted, ProfileUsed, Raised, WatchEvent
from mixclock.outside.channels.message import Outcome
from mixclock.outside.clock import FakeClock
from tests.days.clockwork import Day, RecordingChannel
from tests.days.shed import BASE, TOP, site

MODEL = bucket_model()
TWO_S, THREE_S = timedelta(seconds=2), timedelta(seconds=3)


def a_day(**kinds: object) -> Day:
    """A day with the air read and nothing mixed yet."""
    day = Day(site(), [BASE, TOP], model=MODEL, **kinds)  # type: ignore[arg-type]
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    return day


def mix(day: Day, area: str = "bay 1") -> int:
    """Part B goes in."""
    day.say("mixing", product="Shed base", areas=[area], volume_l=3.45)
    day.look()
    return len(day.ticker.watched[day.job].seen().batches)


def edge(day: Day, name: str = "pour-out", batch: int = 1) -> tuple[datetime, datetime, datetime]:
    """Early, likely and late of a window."""
    job = day.ticker.watched[day.job]
    track = next(one for one in job.tracks if one.name == name and one.batch.id == batch)
    found = track.bucket.edge if track.bucket else track.closes.edge  # type: ignore[union-attr]
    return found.early, found.likely, found.late or found.likely


def test_every_stage_of_a_bucket_that_is_forgotten_comes_within_two_seconds() -> None:
    day = a_day()
    mix(day)
    early, _, late = edge(day)
    day.until(late + timedelta(minutes=1))
    told = [entry.facts for entry in day.raised("b1.pour-out") if entry.facts.repeat == 0]
    assert [facts.stage for facts in told] == ["heads-up", "now", "late", "lost"]
    for entry in day.raised("b1.pour-out"):
        if entry.facts.repeat == 0:
            assert timedelta(0) <= entry.happened - datetime.fromisoformat(entry.facts.due) <= TWO_S
    assert datetime.fromisoformat(told[1].due) == early
    assert datetime.fromisoformat(told[3].due) == late


def test_a_critical_alert_repeats_every_20_s_until_the_pour_is_stated() -> None:
    day = a_day()
    mix(day)
    early, *_ = edge(day)
    day.until(early + timedelta(minutes=2))
    at = [entry.happened for entry in day.raised("b1.pour-out", "now")]
    assert len(at) == 6
    assert all(timedelta(seconds=20) <= later - sooner <= timedelta(seconds=21) for sooner, later in pairwise(at))
    day.say("poured")
    told = len(day.raised("b1.pour-out"))
    day.until(early + timedelta(minutes=5))
    assert len(day.raised("b1.pour-out")) == told
    assert any(alert == "b1.pour-out" for _, alert in day.desktop.withdrawn)


def test_heard_pauses_for_at_most_a_quarter_of_what_is_left() -> None:
    day = a_day()
    mix(day)
    early, _, late = edge(day)
    heard = early + timedelta(seconds=65)
    day.until(heard)
    day.say("heard", alerts=["b1.pour-out"])
    day.until(late - timedelta(seconds=1))
    after = [entry.happened for entry in day.raised("b1.pour-out") if entry.happened > heard]
    quarter = (late - heard) / 4
    assert after, "heard must not silence a bucket for good"
    assert after[0] - heard <= quarter + TWO_S
    assert after[0] - heard > timedelta(seconds=20)


def test_what_is_lost_is_said_once_and_stands_until_somebody_clears_it() -> None:
    day = a_day()
    mix(day)
    *_, late = edge(day)
    day.until(late + timedelta(hours=2))
    assert len(day.raised("b1.pour-out", "lost")) == 1
    job = day.ticker.watched[day.job]
    (lost,) = [alert for alert in job.alerts(day.clock.now()) if alert.id == "b1.pour-out"]
    assert lost.standing
    assert not is_cleared(job.seen(), lost)
    day.say("heard", alerts=["b1.pour-out"])
    day.look()
    assert is_cleared(job.seen(), lost)


def test_late_goes_to_the_second_person_after_a_minute() -> None:
    day = a_day()
    mix(day)
    *_, late = edge(day)
    day.until(late)
    whose = {entry.facts.who for entry in day.raised("b1.pour-out", "now")}
    lates = day.raised("b1.pour-out", "late")
    assert whose == {"mixer"}
    assert lates[0].facts.who == "mixer"
    assert lates[-1].facts.who is None


def test_on_it_quiets_a_step_until_its_early_edge() -> None:
    day = a_day()
    mix(day)
    day.until(day.clock.now() + timedelta(minutes=4))
    day.say("poured")
    day.look()
    early, *_ = edge(day, "back-roll")
    day.say("began", step="back-roll", batch=1)
    day.until(early + TWO_S)
    assert [entry.facts.stage for entry in day.raised("b1.bay-1.back-roll")] == ["late"]


def test_after_a_lid_was_shut_only_the_highest_stage_comes_within_three_seconds_and_says_how_late() -> None:
    day = a_day()
    mix(day)
    early, _, late = edge(day)
    day.until(early - timedelta(minutes=10))
    day.clock.suspend((early - day.clock.now()).total_seconds() + 90.0)
    woken = day.clock.now()
    day.clock.advance(0.5)
    day.look()
    told = [entry for entry in day.raised("b1.pour-out") if entry.happened >= woken]
    assert [entry.facts.stage for entry in told] == ["now"]
    assert told[0].happened - woken <= THREE_S
    assert told[0].facts.late_s == pytest.approx(90.5, abs=0.2)
    assert [event.event for event in day.events()] == ["slept"]
    assert late > woken


def test_what_fell_due_while_the_daemon_was_dead_is_raised_on_its_first_look() -> None:
    day = a_day()
    mix(day)
    *_, late = edge(day)
    day.clock.set(late + timedelta(minutes=7))
    day.start()
    (lost,) = day.raised("b1.pour-out")
    assert lost.facts.stage == "lost"
    assert lost.facts.late_s == pytest.approx(420.0, abs=1.0)
    assert day.desktop.of("b1.pour-out")[0][1].late_s == pytest.approx(420.0, abs=1.0)


def test_a_crash_between_intent_and_receipt_repeats_the_alert_and_marks_it() -> None:
    died: list[object] = []
    day = a_day(run=died.append)  # begun and never done: the process ends here
    mix(day)
    day.clock.set(edge(day)[0] + TWO_S)
    day.look()
    (cut,) = day.raised("b1.pour-out")
    assert day.delivered(cut) == []
    day.run = lambda work: work()
    day.clock.advance(1.0)
    day.start()
    again = day.raised("b1.pour-out")[-1]
    assert again is not cut
    assert again.happened - cut.happened <= THREE_S
    assert again.facts.again_after_crash
    assert again.facts.repeat == 1
    assert [facts.outcome for facts in day.delivered(again)] == ["sent"]
    assert "perhaps for the second time" in day.desktop.of("b1.pour-out")[-1][1].body


def test_a_message_on_its_way_is_not_taken_for_a_crash() -> None:
    slow: list[object] = []
    day = a_day(run=slow.append)
    mix(day)
    day.clock.set(edge(day)[0] + TWO_S)
    for _ in range(20):
        day.look()
        day.clock.advance(0.5)
    raised = day.raised("b1.pour-out")
    assert len(raised) == 1, "10 s on its way are no reason to say it again"
    slow[-1]()  # type: ignore[operator]
    assert [facts.outcome for facts in day.delivered(raised[0])] == ["sent"]


def test_nothing_is_recorded_as_delivered_without_a_receipt() -> None:
    clock = FakeClock(datetime.fromisoformat("2026-04-13T07:00:00+00:00"))
    dead = RecordingChannel(clock, "desktop", outcome=Outcome.GIVE_UP)
    day = a_day(channels=[dead])
    mix(day)
    day.until(edge(day)[0] + TWO_S)
    raised = day.raised("b1.pour-out")
    assert raised
    outcomes = {facts.outcome for entry in raised for facts in day.delivered(entry)}
    assert outcomes == {"give_up"}


def test_where_one_channel_fails_the_others_take_it_and_the_failure_is_recorded() -> None:
    clock = FakeClock(datetime.fromisoformat("2026-04-13T07:00:00+00:00"))
    dead = RecordingChannel(clock, "desktop", outcome=Outcome.GIVE_UP)
    alive = RecordingChannel(clock, "sound", frozenset({"critical", "timely"}))
    day = a_day(channels=[dead, alive])
    mix(day)
    day.until(edge(day)[0] + TWO_S)
    (entry,) = day.raised("b1.pour-out", "now")
    answered = {facts.channel: facts.outcome for facts in day.delivered(entry)}
    assert answered == {"desktop": "give_up", "sound": "sent"}


def test_a_channel_that_was_busy_is_asked_again_while_the_alert_stands() -> None:
    clock = FakeClock(datetime.fromisoformat("2026-04-13T07:00:00+00:00"))
    busy = RecordingChannel(clock, "voice", frozenset({"critical", "timely"}), outcome=Outcome.RETRY)
    day = a_day(channels=[RecordingChannel(clock), busy])
    mix(day)
    assert day.raised("b1.mixing") == []
    day.until(day.clock.now() + timedelta(seconds=92))
    assert len(busy.of("b1.mixing")) == 1
    busy.outcome = Outcome.SENT
    day.until(day.clock.now() + timedelta(seconds=6))
    (entry,) = day.raised("b1.mixing")
    answers = day.delivered(entry)  # in order of arrival: between channels that are asked at once there is none
    assert [facts.outcome for facts in answers if facts.channel == "desktop"] == ["sent"]
    assert [facts.outcome for facts in answers if facts.channel == "voice"] == ["retry", "sent"]
    assert len(answers) == 3


def test_notices_wait_for_working_hours() -> None:
    day = a_day()
    mix(day)
    day.until(day.clock.now() + timedelta(minutes=4))
    day.say("poured")
    day.look()
    day.until(day.begins + timedelta(hours=30))
    notices = [entry for entry in day.raised() if entry.facts.rank == "notice"]
    assert notices
    for entry in notices:
        there = entry.happened + timedelta(hours=1)  # Lisbon in April
        assert (7, 30) <= (there.hour, there.minute) < (17, 30)


def test_alerts_that_fall_together_are_said_as_one_the_critical_first() -> None:
    day = a_day()
    mix(day, "bay 1")
    mix(day, "bay 2")
    early, *_ = edge(day)
    day.until(early + TWO_S)
    message = day.desktop.of("b2.pour-out")[-1][1]
    assert message.alert_id == "b1.pour-out+b2.pour-out"
    assert message.body.count("pour it all out now") == 2
    told = [entry.facts.together_with for entry in day.raised("b2.pour-out", "now")]
    assert told[0] == ("b1.pour-out",)


def test_a_warning_that_falls_due_half_a_minute_later_is_said_along_with_the_first() -> None:
    day = a_day()
    mix(day, "bay 1")
    day.until(day.clock.now() + timedelta(seconds=30))
    mix(day, "bay 2")
    early, *_ = edge(day)
    while not day.raised("b2.pour-out"):
        day.until(day.next_look(early))
    sent, gone = len(day.desktop.sent), len(day.desktop.withdrawn)
    day.clock.advance(1.0)
    day.look()
    kept = "what was said ahead of its time stays to be read"
    assert (len(day.desktop.sent), len(day.desktop.withdrawn)) == (sent, gone), kept
    day.until(early + TWO_S)
    told = [message.alert_id for _, message in day.desktop.of("b2.pour-out") if message.repeat == 0]
    assert told[0] == "b1.pour-out+b2.pour-out"
    assert len(day.raised("b2.pour-out", "heads-up")) == 1


def test_of_a_message_that_told_two_the_rest_stays_when_one_is_done() -> None:
    day = a_day()
    mix(day, "bay 1")
    mix(day, "bay 2")
    early, *_ = edge(day)
    day.until(early + TWO_S)
    day.say("poured", batch=1)
    day.look()
    rewritten = day.desktop.sent[-1][1]
    assert rewritten.alert_id == "b1.pour-out+b2.pour-out"
    assert "Batch 1" not in rewritten.body
    assert "Batch 2, bay 2" in rewritten.body


def test_a_clock_that_somebody_sets_moves_no_deadline() -> None:
    day = a_day()
    mix(day)
    early, *_ = edge(day)
    day.until(early - timedelta(minutes=8))
    day.clock.step(-3600.0)
    day.look()
    day.until(early - timedelta(hours=1, seconds=-2))
    (entry,) = day.raised("b1.pour-out", "now")
    assert entry.happened - (early - timedelta(hours=1)) <= TWO_S
    assert [event.event for event in day.events()] == ["stepped"]


def test_after_a_clock_set_forward_nothing_is_called_lost_that_is_not() -> None:
    day = a_day()
    mix(day)
    day.until(day.clock.now() + timedelta(minutes=5))
    day.clock.step(7200.0)
    day.look()
    assert [entry.facts.stage for entry in day.raised("b1.pour-out")] == []
    early, *_ = edge(day)
    day.until(early + TWO_S)
    assert day.raised("b1.pour-out", "now")[0].facts.late_s is None


def test_a_book_that_cannot_be_written_silences_nothing() -> None:
    day = a_day()
    mix(day)
    early, *_ = edge(day)
    day.until(early - timedelta(minutes=1))
    day.book.broken = True
    before = len(day.desktop.sent)
    day.until(early + timedelta(seconds=50))
    sent = [message for _, message in day.desktop.sent[before:] if message.alert_id == "b1.pour-out"]
    assert [message.repeat for message in sent] == [0, 1, 2]
    assert any("is written later" in fault for fault in day.faults)
    day.book.broken = False
    day.clock.advance(0.4)
    day.look()
    day.clock.advance(0.4)
    day.look()
    written = day.raised("b1.pour-out", "now")
    assert [entry.facts.repeat for entry in written] == [0, 1, 2]
    assert all(entry.happened < entry.written for entry in written)
    assert [[receipt.outcome for receipt in day.delivered(entry)] for entry in written] == [["sent"]] * 3


def test_the_steps_of_mixing_are_led_and_count_as_one_call() -> None:
    day = a_day()
    mix(day)
    day.until(day.clock.now() + timedelta(minutes=4))
    led = [entry.facts for entry in day.raised("b1.mixing")]
    assert [facts.repeat for facts in led] == [0, 1, 2]
    assert "scrape the sides" in led[0].text
    assert "clean pail" in led[1].text
    assert "pour it all out" in led[2].text


def test_a_hot_bucket_comes_at_once_whatever_else_stands() -> None:
    day = a_day()
    mix(day)
    day.say("saw", sign="hot", batch=1)
    said = day.clock.now()
    day.clock.advance(0.4)
    day.look()
    (entry,) = day.raised("b1.hot")
    assert entry.happened - said <= TWO_S
    assert entry.facts.rank == "critical"
    assert "don't lift" in entry.facts.text.casefold()


def test_a_finished_job_is_quiet_and_a_second_live_one_is_not_forgotten() -> None:
    day = a_day()
    mix(day)
    other = site(name="Second shed")
    day.book.append("Second shed", JobStarted("Second shed", other))
    day.book.append("Second shed", ProfileUsed("Shed base", BASE))
    from mixclock.job.entry import Combined, JobFinished

    day.book.append("Second shed", Combined("Shed base", ("bay 1",), volume_l=3.45))
    day.clock.advance(2.0)
    day.look()
    day.book.append(day.job, JobFinished())
    day.clock.advance(1800.0)
    day.look()
    told = {(entry.job, entry.facts.alert) for entry in day.raised() if entry.facts.alert == "b1.pour-out"}
    assert told == {("Second shed", "b1.pour-out")}
    assert day.desktop.sent[-1][1].alert_id.startswith("Second shed: ")
    assert set(day.ticker.watched) == {day.job, "Second shed"}, "the job in use is on the screen, finished or not"


def test_the_log_holds_intents_receipts_and_hearing_as_entries() -> None:
    day = a_day()
    mix(day)
    day.until(edge(day)[0] + TWO_S)
    day.say("heard")
    kinds = [type(entry.facts) for entry in day.book.log]
    first = kinds.index(Raised)
    assert kinds.index(Delivered) > first
    assert Heard in kinds
    assert WatchEvent not in kinds
