"""The daemon of a rehearsal: the real one, on the fast clock, with its channels spared the repeats."""

from __future__ import annotations

from collections.abc import Sequence

from mixclock.outside.channels.message import Channel
from mixclock.watch.channels import Channels, ChannelWishes, channels_here
from mixclock.watch.daemon import Daemon
from mixclock.watch.rehearsing.narrator import FirstSendChannel, NarratedTerminal, Narrator
from mixclock.watch.setup import daemon_for
from mixclock.wiring import House

LOOK_EVERY_S = 1.2
"""How much of the job's time lies between two looks."""

LEAST_TICK_S = 0.02


def daemon_for_rehearsal(
    house: House, narrator: Narrator, speed: float, sound: bool, extra_channels: Sequence[Channel] = ()
) -> Daemon:
    """The real daemon, told of the fast clock. What a channel lacks is said once, at the end, and not on the way."""
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
    daemon.ticker.eye.stall_from_s = float("inf")  # a skip is no stall
    return daemon
