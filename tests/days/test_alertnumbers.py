"""Instants and counts of calls that follow from the rules by hand, so that no rearrangement moves them unseen.

Every number below is worked out in its comment from the stated rule and the sheet's figures, never from the code.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from mixclock.decide.alerting.closing import closing_alert
from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.crewsteps import due_of
from mixclock.decide.shapes import Edge
from mixclock.job.entry import Combined, Entry, Poured, Reading
from mixclock.outside.channels.message import Outcome
from mixclock.outside.clock import FakeClock
from tests.days.clockwork import Day, RecordingChannel
from tests.days.shed import BASE, site
from tests.decide.worlds import Log

MODEL = bucket_model()


def a_day(channels: tuple[RecordingChannel, ...] = ()) -> Day:
    """A morning with the air and the slab read."""
    day = Day(site(), [BASE], model=MODEL, channels=channels)
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    return day


def mix(day: Day, area: str) -> None:
    """Part B goes in."""
    day.say("mixing", product="Shed base", areas=[area], volume_l=3.45)
    day.look()


def seconds(entries: list[Entry], since: datetime) -> list[int]:
    """When something was raised, in whole seconds after an instant."""
    return [round((entry.happened - since).total_seconds()) for entry in entries]


def edge(day: Day, name: str, batch: int = 1) -> tuple[datetime, datetime]:
    """Early and late of a window."""
    job = day.ticker.watched[day.job]
    track = next(one for one in job.tracks if one.name == name and one.batch.id == batch)
    found = track.bucket.edge if track.bucket else track.closes.edge  # type: ignore[union-attr]
    return found.early, found.late or found.likely


def stages_without_doubt(name: str, needed: timedelta) -> dict[str, float]:
    """When each stage of a step falls due, in seconds after a window of ten minutes began that knows no doubt."""
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0), by="mixer")
    log.add(5, Poured(1))
    standing = log.standing()
    found = next(track for track in log.tracks() if track.name == name)
    assert found.closes is not None
    shut = found.starts + timedelta(minutes=10)
    due = due_of(standing.site, name, found.starts, shut, needed)
    track = replace(found, closes=replace(found.closes, edge=Edge(shut, shut, shut)), due=due)
    told: dict[str, float] = {}
    for second in range(1200):
        alert = closing_alert(standing, track, found.starts + timedelta(seconds=second))
        if alert is not None:
            told.setdefault(alert.stage, (alert.due - found.starts).total_seconds())
    return told


def test_a_window_without_doubt_still_has_four_stages_that_a_crew_can_tell_apart() -> None:
    # a warning a fifth of ten minutes ahead; now at the edge; late 20 s after it, the least there is, for a quarter of
    # no doubt is nothing; gone no sooner than a minute after the edge, as long as a bucket takes to pour out
    told = stages_without_doubt("back-roll", timedelta())
    assert told == {"heads-up": 480.0, "now": 600.0, "late": 620.0, "lost": 660.0}


def test_a_step_with_a_rate_is_late_at_the_edge_and_gone_a_minute_after_it_where_there_is_no_doubt() -> None:
    # begun by 10 - 5 minutes, announced a fifth of ten minutes before that
    told = stages_without_doubt("broadcast", timedelta(minutes=5))
    assert told == {"heads-up": 180.0, "now": 300.0, "late": 600.0, "lost": 660.0}


def test_a_wet_edge_that_a_mixed_batch_waits_for_names_the_batch_and_leaves_it_two_minutes() -> None:
    day = a_day()
    mix(day, "bay 1")
    day.until(day.clock.now() + timedelta(minutes=5))
    day.say("poured")
    day.look()
    early, _ = edge(day, "wet-edge")
    day.until(early - timedelta(minutes=6))
    mix(day, "bay 2")
    day.until(early)
    now = next(entry for entry in day.raised("b1.bay-1.wet-edge", "now") if entry.facts.repeat == 0)
    assert early - datetime.fromisoformat(now.facts.due) == timedelta(minutes=2)  # to pour it and draw it to the joint
    assert "batch 2" in now.facts.text
    late = next(entry for entry in day.raised("b1.bay-1.wet-edge", "late") if entry.facts.repeat == 0)
    assert datetime.fromisoformat(late.facts.due) - datetime.fromisoformat(now.facts.due) == timedelta(seconds=30)
    assert "batch 2" in late.facts.text
    assert "kit" not in late.facts.text  # it is open already


def test_a_second_heard_pauses_again_by_a_quarter_of_what_is_left_then() -> None:
    day = a_day()
    mix(day, "bay 1")
    early, late = edge(day, "pour-out")
    # late begins a quarter of the doubt after the edge, within 20 s and 5 minutes, and repeats until the bucket is lost
    begins = early + min(timedelta(minutes=5), max(timedelta(seconds=20), (late - early) / 4))
    day.until(begins + timedelta(seconds=1))
    heard = []
    for _ in range(2):
        day.say("heard", alerts=["b1.pour-out"])
        at = day.clock.now()
        quarter = (late - at) / 4
        day.until(at + quarter - timedelta(seconds=1))
        assert [entry for entry in day.raised("b1.pour-out") if entry.happened > at] == []
        day.until(at + quarter + timedelta(seconds=1))
        (again,) = [entry for entry in day.raised("b1.pour-out") if entry.happened > at]
        heard.append(quarter)
        assert again.facts.stage == "late"
    assert heard[1] < heard[0]


def test_a_channel_that_was_busy_is_not_asked_again_for_what_somebody_heard_meanwhile() -> None:
    clock = FakeClock(datetime.fromisoformat("2026-04-13T07:00:00+00:00"))
    busy = RecordingChannel(clock, "voice", frozenset({"critical", "timely"}), outcome=Outcome.RETRY)
    day = a_day(channels=(RecordingChannel(clock), busy))
    mix(day, "bay 1")
    early, _ = edge(day, "pour-out")
    day.until(early + timedelta(seconds=1))
    asked = len(busy.of("b1.pour-out"))
    assert asked
    day.say("heard", alerts=["b1.pour-out"])
    busy.outcome = Outcome.SENT
    day.until(early + timedelta(seconds=18))  # it would have been asked again after 5 s
    assert len(busy.of("b1.pour-out")) == asked


@pytest.mark.parametrize("outcome", [Outcome.RETRY, Outcome.GIVE_UP])
def test_a_critical_call_that_every_channel_refuses_for_three_minutes_is_tried_eleven_times(outcome: Outcome) -> None:
    day = a_day()
    day.desktop.outcome = outcome
    mix(day, "bay 1")
    early, late = edge(day, "pour-out")
    doubt = min(timedelta(minutes=5), max(timedelta(seconds=20), (late - early) / 4))
    assert doubt >= timedelta(minutes=3)
    for second in range(186):  # the daemon looks twice a second; once is enough here
        day.until(early + timedelta(seconds=second))
    # at once, after 5 s, then every 20 s as any critical one: 0, 5, 25, 45 … 185
    tried = seconds(day.raised("b1.pour-out", "now"), early)
    expected = [0, *range(5, 186, 20)]
    assert len(tried) == len(expected)
    assert all(0 <= at - wanted <= 4 for at, wanted in zip(tried, expected, strict=True)), tried
    day.desktop.outcome = Outcome.SENT
    asked = len(day.desktop.of("b1.pour-out"))
    day.until(early + timedelta(seconds=210))
    assert len(day.desktop.of("b1.pour-out")) > asked
