"""Quiet hours: the neighbours sleep, but a bucket that runs hot still sounds."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, time

import pytest

from mixclock.outside.channels.message import Message, Outcome, Receipt
from mixclock.outside.channels.quiet import QuietChannel, QuietHours, read_quiet_hours


class Loud:
    """Sounds whatever it is sent."""

    name = "sound"
    ranks = frozenset({"critical", "timely"})
    limit_s = 1.0

    def __init__(self) -> None:
        self.sounded: list[str] = []

    def send(self, message: Message) -> Receipt:
        self.sounded.append(message.alert_id)
        return Receipt(self.name, Outcome.SENT, "sounded", True)

    def withdraw(self, alert_id: str) -> Receipt:
        return Receipt(self.name, Outcome.SENT, "stopped", None)

    def probe(self) -> Receipt:
        return Receipt(self.name, Outcome.SENT, "sounded", True)


@pytest.mark.parametrize(("hour", "quiet"), [(21, False), (22, True), (2, True), (5, True), (6, False), (12, False)])
def test_quiet_hours_run_past_midnight(hour: int, quiet: bool) -> None:
    hours = read_quiet_hours("22:00-06:00")
    assert hours.is_quiet(datetime(2026, 4, 13, hour, tzinfo=UTC)) is quiet


def test_quiet_hours_are_those_of_the_crew_and_not_of_utc() -> None:
    hours = QuietHours(time(22), time(6), "Europe/Lisbon")
    assert hours.is_quiet(datetime(2026, 4, 13, 21, 30, tzinfo=UTC))  # half past ten there


def test_in_quiet_hours_only_a_hot_bucket_sounds_alone_or_said_with_others(message: Callable[..., Message]) -> None:
    loud = Loud()
    channel = QuietChannel(loud, read_quiet_hours("22:00-06:00"), lambda: datetime(2026, 4, 13, 23, tzinfo=UTC))
    answer = channel.send(message(alert_id="b1.pour-out"))
    assert (answer.outcome, answer.shown) == (Outcome.GIVE_UP, False)
    assert "22:00 to 6:00" in answer.detail
    channel.send(message(alert_id="b1.hot"))
    channel.send(message(alert_id="b2.pour-out+b1.hot"))
    assert loud.sounded == ["b1.hot", "b2.pour-out+b1.hot"]


@pytest.mark.parametrize("text", ["22-6", "", "22:00", "25:00-06:00", "22:00-22:00", "late-early"])
def test_hours_that_cannot_be_read_are_refused_with_an_example(text: str) -> None:
    with pytest.raises(ValueError, match="22:00-06:00"):
        read_quiet_hours(text)
