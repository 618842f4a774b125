"""The channels to which a crew may send a rank: a row for each, with its usual ranks and how a watch builds it.

A new channel is a file of its own and a row here. Whoever reads the settings loads this table, so a channel's own
module is loaded only when it is built.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING

from mixclock.outside.channels.message import RANKS, Channel, Rank
from mixclock.values import dataclass, field

if TYPE_CHECKING:
    from mixclock.outside.channels.quiet import QuietHours
    from mixclock.outside.channels.soundqueue import SoundQueue


@dataclass(frozen=True)
class ChannelWishes:
    """What the person who starts the daemon wants of the channels."""

    sound: bool = True
    quiet: QuietHours | None = None
    phones: Mapping[str, str] = field(default_factory=dict)
    phone_timely: bool = False
    contact: str | None = None
    heard_button: bool = True
    ranks: Callable[[str], frozenset[Rank] | None] = lambda _: None
    """The ranks that the settings give a channel, by its name; None where nobody chose."""


@dataclass(frozen=True)
class ChannelRow:
    """One channel. `build` gets its ranks, and gives no channel if nobody wants it or nobody is named to be reached.

    `audible`: it is silent in quiet hours. `outward`: it reaches a person who is not looking.
    """

    usual: tuple[Rank, ...]
    build: Callable[[frozenset[Rank], ChannelWishes, SoundQueue], Sequence[Channel]]
    audible: bool = False
    outward: bool = True

    def built(self, name: str, wishes: ChannelWishes, queue: SoundQueue) -> Sequence[Channel]:
        """The channel with the ranks that the settings give it, or else with its usual ones."""
        chosen = wishes.ranks(name)
        return self.build(frozenset(self.usual) if chosen is None else chosen, wishes, queue)


def _desktop(ranks: frozenset[Rank], wishes: ChannelWishes, _: SoundQueue) -> Sequence[Channel]:
    from mixclock.outside.channels.desktop import DesktopChannel

    return [DesktopChannel(ranks, wishes.heard_button)]


def _sound(ranks: frozenset[Rank], wishes: ChannelWishes, queue: SoundQueue) -> Sequence[Channel]:
    from mixclock.outside.channels.sound import SoundChannel

    return [SoundChannel(queue, ranks)] if wishes.sound else []


def _voice(ranks: frozenset[Rank], wishes: ChannelWishes, queue: SoundQueue) -> Sequence[Channel]:
    from mixclock.outside.channels.voice import VoiceChannel

    return [VoiceChannel(queue, ranks)] if wishes.sound else []


def _phones(ranks: frozenset[Rank], wishes: ChannelWishes, _: SoundQueue) -> Sequence[Channel]:
    from mixclock.outside.channels.phone import phone_channels

    timely: frozenset[Rank] = frozenset({"timely"} if wishes.phone_timely and wishes.ranks("phone") is None else ())
    return phone_channels(wishes.phones, ranks | timely, wishes.contact)


CHANNEL_ROWS: Mapping[str, ChannelRow] = MappingProxyType(
    {
        "desktop": ChannelRow(RANKS, _desktop),
        "sound": ChannelRow(("critical", "timely"), _sound, audible=True),
        "voice": ChannelRow(("critical", "timely"), _voice, audible=True),
        "phone": ChannelRow(("critical",), _phones, outward=False),  # it may be in the van
    }
)
