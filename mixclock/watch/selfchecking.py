"""Tests each channel here: sends a harmless message through it, and tells what truly became of it."""

from __future__ import annotations

from collections.abc import Callable

from mixclock.outside.channels.deliver import Sender
from mixclock.outside.channels.message import Outcome, Receipt
from mixclock.values import dataclass
from mixclock.watch.channels import OUTWARD, Channels
from mixclock.words.enumeration import list_words

VERDICTS = {
    (Outcome.SENT, True): "works",
    (Outcome.SENT, None): "took it, look or listen for it",
    (Outcome.SENT, False): "took it, but shows nothing",
    (Outcome.RETRY, None): "did not answer in time",
    (Outcome.RETRY, False): "does not work now",
    (Outcome.RETRY, True): "works, but needs another try",
    (Outcome.GIVE_UP, None): "does not work",
    (Outcome.GIVE_UP, False): "does not work",
    (Outcome.GIVE_UP, True): "does not work",
}


@dataclass(frozen=True)
class ChannelCheck:
    """What a channel answered, and whether a critical alert would reach somebody through it."""

    receipt: Receipt
    reaches: bool

    @property
    def line(self) -> str:
        """The answer as a person reads it."""
        verdict = VERDICTS[self.receipt.outcome, self.receipt.shown]
        return f"{self.receipt.channel}: {verdict}. {self.receipt.detail[:1].upper()}{self.receipt.detail[1:]}"


def check(channels: Channels, on_checked: Callable[[ChannelCheck], None]) -> list[ChannelCheck]:
    """Try every channel; each answer is told the moment it comes."""
    critical = {
        channel.name for channel in channels.every if "critical" in channel.ranks and channel.name != "terminal"
    }
    found: list[ChannelCheck] = []

    def take(receipt: Receipt) -> None:
        reaches = receipt.channel in critical and receipt.outcome is Outcome.SENT and receipt.shown is not False
        found.append(ChannelCheck(receipt, reaches))
        on_checked(found[-1])

    Sender(channels.every).probe(take)
    return found


def volume_test(channels: Channels, found: list[ChannelCheck]) -> ChannelCheck | None:
    """Play five pulses to be counted from the far corner, if sound works at all."""
    works = any(one.receipt.channel == "sound" and one.receipt.outcome is Outcome.SENT for one in found)
    if channels.sound is None or not works:
        return None
    return ChannelCheck(channels.sound.volume_test(), False)


def verdict(found: list[ChannelCheck]) -> str:
    """The last line: whether the crew would be reached."""
    reaching = [one.receipt.channel for one in found if one.reaches]
    if reaching:
        return f"A critical alert reaches you here by {list_words(reaching)}."
    tried = list_words([one.receipt.channel for one in found if one.receipt.channel in OUTWARD]) or "none"
    return f"Nothing here would reach somebody who is not looking at the terminal ({tried} tried): mend one of them."
