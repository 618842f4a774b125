"""Joins this machine's channels for the daemon: which ranks each takes, and which are silent in quiet hours."""

from __future__ import annotations

import sys
from collections.abc import Callable, Collection
from datetime import datetime
from typing import TextIO

from mixclock.decide.shapes import Stage
from mixclock.outside.channels.choosable import CHANNEL_ROWS, ChannelWishes
from mixclock.outside.channels.desktop import DesktopChannel
from mixclock.outside.channels.message import RANKS, Channel, Message, Outcome, Rank, Receipt
from mixclock.outside.channels.quiet import QuietChannel
from mixclock.outside.channels.sound import SoundChannel
from mixclock.outside.channels.soundqueue import SoundQueue
from mixclock.outside.channels.terminal import TerminalChannel
from mixclock.values import dataclass

OUTWARD = frozenset({*(name for name, row in CHANNEL_ROWS.items() if row.outward), "board"})
"""Channels that reach somebody who is not looking; the terminal alone does not."""

ShownOn = Callable[[str, str, str], Collection[str]]


@dataclass(frozen=True)
class Channels:
    """The channels, and apart from them those of which the daemon asks more than to send."""

    every: tuple[Channel, ...]
    desktop: DesktopChannel
    sound_queue: SoundQueue
    sound: SoundChannel | None


class BoardChannel:
    """The pages that are open: the server says on which of them an alert is to be seen."""

    name = "board"
    limit_s = 4.0
    ranks: frozenset[Rank] = frozenset(RANKS)

    def __init__(
        self,
        stages_of: Callable[[str], Collection[tuple[str, Stage]]],
        shown_on: ShownOn,
        watched: Callable[[str], bool],
    ) -> None:
        """`stages_of` gives a message's alerts. `shown_on` waits until a page shows one, then names the phones.

        `watched` tells whether a page shows a job, or without a job whether any page is open.
        """
        self._stages_of, self._shown_on, self._watched = stages_of, shown_on, watched

    def send(self, message: Message) -> Receipt:
        """Ask the pages; the server pushed the alert to them already."""
        if not self._watched(""):
            return Receipt(self.name, Outcome.GIVE_UP, "no page is open", False)
        if message.job and not self._watched(message.job):  # asking again would show it no sooner
            return Receipt(self.name, Outcome.GIVE_UP, f"no open page shows {message.job}", False)
        phones: set[str] = set()
        for alert, stage in self._stages_of(message.alert_id):
            phones.update(self._shown_on(alert, stage.value, message.job))
        if not phones:
            return Receipt(self.name, Outcome.RETRY, "no page has answered that it shows it", None)
        return Receipt(self.name, Outcome.SENT, f"on the glass of {', '.join(sorted(phones))}", True)

    def withdraw(self, alert_id: str) -> Receipt:
        """The pages follow the book by themselves."""
        return Receipt(self.name, Outcome.SENT, f"the pages follow the book ({alert_id})", None)

    def probe(self) -> Receipt:
        """Whether anybody has a page open."""
        if self._watched(""):
            return Receipt(self.name, Outcome.SENT, "a page is open", True)
        return Receipt(
            self.name, Outcome.GIVE_UP, "no page is open: start `mixclock watch` and open its address", False
        )


def channels_here(
    wanted: ChannelWishes, now: Callable[[], datetime], stream: Callable[[], TextIO] = lambda: sys.stdout
) -> Channels:
    """This machine's channels. The terminal takes every rank: it is the last resort and disturbs nobody."""
    queue = SoundQueue()
    built = {name: row.built(name, wanted, queue) for name, row in CHANNEL_ROWS.items()}
    outward: list[Channel] = []
    others: list[Channel] = [TerminalChannel(stream)]
    for name, row in CHANNEL_ROWS.items():
        quiet = wanted.quiet if row.audible else None
        kept = [QuietChannel(channel, quiet, now) for channel in built[name]] if quiet is not None else built[name]
        (outward if row.outward else others).extend(kept)
    plain = [channel for channels in built.values() for channel in channels]
    desktop = next(channel for channel in plain if isinstance(channel, DesktopChannel))
    sound = next((channel for channel in plain if isinstance(channel, SoundChannel)), None)
    return Channels((*outward, *others), desktop, queue, sound)
