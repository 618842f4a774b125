"""Which raising somebody heard: of two calls about one bucket, the other is still put before the crew."""

from __future__ import annotations

from datetime import datetime, timedelta

from mixclock.outside.channels.message import Outcome
from mixclock.outside.clock import FakeClock
from tests.days.clockwork import MORNING, Day, RecordingChannel
from tests.days.shed import BASE, site


def bucket_edge(day: Day) -> datetime:
    """Until when the bucket should be out."""
    track = next(one for one in day.ticker.watched[day.job].tracks if one.name == "pour-out")
    assert track.bucket is not None
    return track.bucket.edge.early


def test_whoever_heard_the_warning_has_not_heard_that_it_is_time_and_a_busy_voice_is_asked_again() -> None:
    clock = FakeClock(MORNING)
    voice = RecordingChannel(clock, "voice", frozenset({"critical", "timely"}), outcome=Outcome.RETRY)
    day = Day(site(), [BASE], channels=(RecordingChannel(clock), voice))
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.look()
    early = bucket_edge(day)
    day.until(early - timedelta(seconds=90))
    assert day.raised("b1.pour-out", "heads-up")
    day.say("heard", alerts=["b1.pour-out"])
    day.until(early + timedelta(seconds=1))
    assert len(day.raised("b1.pour-out", "now")) == 1
    asked = len(voice.of("b1.pour-out"))
    voice.outcome = Outcome.SENT
    day.until(early + timedelta(seconds=15))  # tried again after 5 s; the call itself comes again after 20 s only
    assert len(day.raised("b1.pour-out", "now")) == 1
    assert len(voice.of("b1.pour-out")) == asked + 1
