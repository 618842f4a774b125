"""Keeps silence in quiet hours, except for a bucket that runs hot: that can set the house on fire."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, time
from zoneinfo import ZoneInfo

from mixclock.job.steps import HOT
from mixclock.outside.channels.message import Channel, Message, Outcome, Receipt
from mixclock.units import write_time_of_day
from mixclock.values import dataclass


@dataclass(frozen=True)
class QuietHours:
    """From `start` to `end` by the crew's clock; past midnight where the end comes before the start."""

    start: time
    end: time
    zone: str = "UTC"

    def is_quiet(self, now: datetime) -> bool:
        """Whether nothing should sound.

        >>> from datetime import UTC
        >>> QuietHours(time(22), time(6)).is_quiet(datetime(2026, 4, 13, 23, tzinfo=UTC))
        True
        """
        there = now.astimezone(ZoneInfo(self.zone)).time()
        if self.start <= self.end:
            return self.start <= there < self.end
        return there >= self.start or there < self.end

    def __str__(self) -> str:
        return f"{write_time_of_day(self.start)} to {write_time_of_day(self.end)}"


def read_quiet_hours(text: str, zone: str = "UTC") -> QuietHours:
    """Quiet hours as typed; raises `ValueError`, one line.

    >>> str(read_quiet_hours("22:00-06:00"))
    '22:00 to 6:00'
    """
    first, dash, last = text.partition("-")
    try:
        start, end = time.fromisoformat(first.strip()), time.fromisoformat(last.strip())
    except ValueError:
        dash = ""
    if not dash or start == end:
        raise ValueError(f"quiet hours '{text}' can't be read; say them as 22:00-06:00")
    return QuietHours(start, end, zone)


def may_sound(message_id: str) -> bool:
    """Whether an alert sounds at any hour: it tells of a hot bucket, perhaps along with others."""
    return any(alert.endswith(f".{HOT}") for alert in message_id.split("+"))


class WrappedChannel:
    """A channel that stands in front of another and keeps its name, ranks and limit."""

    def __init__(self, channel: Channel) -> None:
        self._channel = channel
        self.name, self.ranks, self.limit_s = channel.name, channel.ranks, channel.limit_s

    def send(self, message: Message) -> Receipt:
        """Send it, unless something keeps it back."""
        why = self.keeps_back(message)
        return self._channel.send(message) if why is None else Receipt(self.name, Outcome.GIVE_UP, why, False)

    def announce(self, message: Message) -> None:
        """Let it know what it will be asked to send, unless something keeps it back."""
        announce = getattr(self._channel, "announce", None)
        if announce is not None and self.keeps_back(message) is None:
            announce(message)

    def keeps_back(self, message: Message) -> str | None:
        """Why a message is not sent; None where it is."""
        raise NotImplementedError

    def withdraw(self, alert_id: str) -> Receipt:
        """Take it away."""
        return self._channel.withdraw(alert_id)

    def probe(self) -> Receipt:
        """Try it, even if messages are kept back: somebody asked for the test."""
        return self._channel.probe()


class QuietChannel(WrappedChannel):
    """A channel that is silent in quiet hours, and says so in its receipt."""

    def __init__(self, channel: Channel, hours: QuietHours, now: Callable[[], datetime]) -> None:
        super().__init__(channel)
        self._hours, self._now = hours, now

    def keeps_back(self, message: Message) -> str | None:
        """Quiet hours do, unless a bucket runs hot."""
        quiet = self._hours.is_quiet(self._now()) and not may_sound(message.alert_id)
        return f"quiet hours, {self._hours}: not sounded" if quiet else None
