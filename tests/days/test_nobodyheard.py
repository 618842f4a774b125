"""What no person can have received stays due."""

from __future__ import annotations

import io
from datetime import timedelta

from mixclock.outside.channels.message import Outcome
from mixclock.outside.channels.terminal import TerminalChannel
from tests.days.clockwork import Day, RecordingChannel
from tests.days.shed import BASE, TOP, site


def rolling(day: Day) -> None:
    """A batch on the floor that must be rolled; nobody rolls it."""
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.clock.advance(240)
    day.say("poured", batch=1)
    day.look()


def test_a_timely_alert_that_no_channel_took_is_tried_until_one_does() -> None:
    day = Day(site(), [BASE, TOP])
    day.desktop.outcome = Outcome.RETRY
    rolling(day)
    begun = day.clock.now()
    day.until(begun + timedelta(minutes=30))
    tried = [at for at, message in day.desktop.sent if "back-roll" in message.alert_id]
    assert len(tried) > 6, "three tries were once the end of it"
    day.desktop.outcome = Outcome.SENT
    day.until(begun + timedelta(minutes=32))
    taken = len(day.desktop.sent)
    day.until(begun + timedelta(minutes=33))
    assert [m for _, m in day.desktop.sent[taken:] if "back-roll" in m.alert_id] == [], "then it is quiet"


def test_a_file_is_not_a_person() -> None:
    paper = io.StringIO()
    day = Day(site(), [BASE, TOP], channels=(TerminalChannel(lambda: paper),))
    rolling(day)
    day.until(day.clock.now() + timedelta(minutes=25))
    assert paper.getvalue().count("oll") > 4
    delivered = [one for raised in day.raised() for one in day.delivered(raised)]
    assert {one.outcome for one in delivered} == {"give_up"}


def test_what_a_channel_took_and_surely_did_not_show_is_not_received() -> None:
    class Unseen(RecordingChannel):
        def send(self, message):  # type: ignore[no-untyped-def]
            from dataclasses import replace

            return replace(super().send(message), shown=False)

    day = Day(site(), [BASE, TOP])
    unseen = Unseen(day.clock)
    day.every = (unseen,)
    day.start()
    rolling(day)
    day.until(day.clock.now() + timedelta(minutes=22))
    first = [m.alert_id for _, m in unseen.sent if "back-roll" in m.alert_id]
    assert len(first) > 2


def test_with_a_full_disk_too_what_no_channel_took_is_told_when_one_comes_back() -> None:
    day = Day(site(), [BASE, TOP])
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.book.broken, day.desktop.outcome = True, Outcome.RETRY
    day.clock.suspend(3 * 3600)
    day.look()
    tried = len(day.desktop.of("b1.pour-out"))
    assert tried == 1
    day.clock.advance(2)
    day.look()
    assert len(day.desktop.of("b1.pour-out")) == tried, "it is tried in its turn, and not at every look"
    day.desktop.outcome = Outcome.SENT
    day.until(day.clock.now() + timedelta(seconds=21))
    taken = len(day.desktop.of("b1.pour-out"))
    assert taken > tried
    day.until(day.clock.now() + timedelta(minutes=3))
    assert len(day.desktop.of("b1.pour-out")) == taken, "a bucket that is gone is told once, when somebody heard"
