"""Tells a rehearsal line by line: its progress, the time on the floor, every statement and every call."""

from __future__ import annotations

import textwrap
import threading
from collections.abc import Callable, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from mixclock.outside.channels.choosable import ChannelWishes
from mixclock.outside.channels.message import RANKS, Channel, Message, Outcome, Rank, Receipt
from mixclock.outside.channels.quiet import WrappedChannel
from mixclock.outside.channels.terminal import LABELS
from mixclock.outside.clock import Clock
from mixclock.units import write_date, write_time_of_day
from mixclock.watch.channels import Channels, channels_here
from mixclock.watch.daemon import Daemon
from mixclock.watch.setup import daemon_for
from mixclock.wiring import House


class Narrator:
    """Prints lines with the job's own time, `columns` wide. `left` says how many statements are still to come."""

    def __init__(self, clock: Clock, zone: ZoneInfo, say: Callable[[str], None], columns: int | None = None) -> None:
        self._clock, self._zone, self._say, self._columns = clock, zone, say, columns
        self.left: Callable[[], int] = lambda: 0
        self._lock = threading.Lock()
        self._day: object = None
        self.stated = self._share = 0

    def tell(self, line: str, at: datetime | None = None) -> None:
        """A line at a time of the job."""
        there = (at or self._clock.now()).astimezone(self._zone)
        with self._lock:
            if there.date() != self._day:
                self._day = there.date()
                self._say(f"\n{there:%A}, {write_date(there)}")
            self._share = max(self._share, min(99, 100 * self.stated // max(1, self.stated + self.left())))
            clock = write_time_of_day(there.timetz(), seconds=True)
            for part in self._fitted(f"[{self._share:3d} %] {clock:>8}  {line}", 10 + len(f"{clock:>8}")):
                self._say(part)

    def remark(self, line: str) -> None:
        """A line outside the job's time."""
        with self._lock:
            self._say(line)

    def _fitted(self, line: str, indent: int) -> list[str]:
        """The line, broken where the terminal ends; each further piece begins under the first one's words."""
        if self._columns is None:
            return [line]
        return textwrap.wrap(line, max(self._columns, 40), subsequent_indent=" " * indent, break_on_hyphens=False)


class NarratedTerminal:
    """The terminal of a rehearsal: each alert once in full, its repeats in one line."""

    name = "terminal"
    limit_s = 2.0
    ranks: frozenset[Rank] = frozenset(RANKS)

    def __init__(self, narrator: Narrator) -> None:
        self._narrator = narrator

    def send(self, message: Message) -> Receipt:
        """Print it with the job's time."""
        led = any(alert.endswith(".mixing") for alert in message.alert_id.split("+"))
        if message.repeat == 0 or led:
            lines = message.body.splitlines()
            self._narrator.tell(f"{LABELS[message.rank]}  {lines[0]}")
            for line in lines[1:]:
                self._narrator.tell(f"{LABELS[message.rank]}  and: {line}")
        elif message.repeat == 1:
            self._narrator.tell("             ... and again every 20 s, until it is stated or heard")
        return Receipt(self.name, Outcome.SENT, "told in the rehearsal", True)

    def withdraw(self, alert_id: str) -> Receipt:
        """A printed line stays."""
        return Receipt(self.name, Outcome.SENT, f"a printed line stays ({alert_id})", None)

    def probe(self) -> Receipt:
        """Nothing to try."""
        return Receipt(self.name, Outcome.SENT, "told in the rehearsal", True)


class FirstSendChannel(WrappedChannel):
    """A real channel that gets no repeats: on the fast clock they would run into each other."""

    def keeps_back(self, message: Message) -> str | None:
        """Every repeat is kept back."""
        return "a rehearsal sends only the first of the repeats" if message.repeat > 0 else None


LOOK_EVERY_S = 1.2
"""How much of the job's time lies between two looks."""

LEAST_TICK_S = 0.02


def daemon_for_rehearsal(
    house: House, narrator: Narrator, speed: float, sound: bool, extra_channels: Sequence[Channel] = ()
) -> Daemon:
    """The real daemon on the fast clock. What a channel lacks is said once, at the end."""
    here = channels_here(ChannelWishes(sound=sound), house.clock.now)
    spared: list[Channel] = [FirstSendChannel(channel) for channel in here.every if channel.name != "terminal"]
    channels = Channels((*spared, NarratedTerminal(narrator)), here.desktop, here.sound_queue, here.sound)
    daemon = daemon_for(
        house,
        ChannelWishes(sound=sound),
        lambda line: None if "did not take it" in line else narrator.remark(line),
        channels=channels,
        tick_s=max(LEAST_TICK_S, LOOK_EVERY_S / speed),
        extra_channels=extra_channels,
    )
    daemon.stay_awake = None
    daemon.keeps_copies = False
    daemon.ticker.eye.stall_from_s = float("inf")  # a jump of the clock is no hang
    return daemon
