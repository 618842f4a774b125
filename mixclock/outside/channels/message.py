"""What a channel is sent, and its honest answer."""

from enum import Enum
from typing import Literal, Protocol

from mixclock.values import dataclass

Rank = Literal["critical", "timely", "notice"]

RANKS: tuple[Rank, ...] = ("critical", "timely", "notice")
"""Most urgent first."""

LATE_WORTH_SAYING_S = 5.0
"""Judgement: the tick and the channel take up to 2 s, so a smaller lateness is ordinary."""


@dataclass(frozen=True)
class Message:
    """One alert in words. `repeat` is 0 the first time; `late_s` is None when it was raised in time.

    `louder` tells that the step itself is overdue: its sound is longer and as loud as can be. `kind` is what the call
    is about ("bucket", "floor", "slab"), which its rhythm tells.
    """

    alert_id: str
    rank: Rank
    title: str
    body: str
    speech: str
    repeat: int = 0
    late_s: float | None = None
    louder: bool = False
    kind: str = ""
    job: str = ""
    """The job that it is about; empty where it is about none."""


class Outcome(Enum):
    """What the caller should do next.

    SENT: the channel's far end took it. Nothing to do but to wait for the step or for "heard".
    RETRY: it did not get out, or nobody can have met it, for a reason that may pass by itself (a busy speaker, a server
    that did not answer, a phone without a network): send the same message again soon.
    GIVE_UP: it can't get out on this channel until a person mends something (nothing installed, a wrong address), or
    it is no longer wanted (withdrawn, replaced by newer words): don't send this message here again.
    """

    SENT = "sent"
    RETRY = "retry"
    GIVE_UP = "give_up"


@dataclass(frozen=True)
class Receipt:
    """A channel's answer. `shown`: True confirmed by the far end, False certainly not, None not known."""

    channel: str
    outcome: Outcome
    detail: str
    shown: bool | None


class Channel(Protocol):
    """One way to reach the crew. Several threads may call any method at once; each must end by itself."""

    @property
    def name(self) -> str:
        """The name in receipts and settings."""

    @property
    def ranks(self) -> frozenset[Rank]:
        """The ranks it takes."""

    @property
    def limit_s(self) -> float:
        """The longest time that an honest `send` takes. After that it counts as hung."""

    def send(self, message: Message) -> Receipt:
        """Send, check, and say what truly happened."""

    def withdraw(self, alert_id: str) -> Receipt:
        """Take away what still shows or sounds for this alert."""

    def probe(self) -> Receipt:
        """Send something harmless the whole way, for `selfcheck`."""


def marks(message: Message) -> str:
    """How late and how often, in words: "2 min late, said 3 times before"; empty for a first one in time."""
    said = []
    if message.late_s is not None and message.late_s >= LATE_WORTH_SAYING_S:
        said.append(f"{span_words(message.late_s)} late")
    if message.repeat:
        said.append("said once before" if message.repeat == 1 else f"said {message.repeat} times before")
    return ", ".join(said)


def span_words(span_s: float) -> str:
    """A span as a person says it.

    >>> span_words(42.3), span_words(130), span_words(5400), span_words(200_000)
    ('42 s', '2 min', '1 h 30 min', '2 days')
    """
    if span_s < 90:
        return f"{span_s:.0f} s"
    whole_min = round(span_s / 60)
    if whole_min < 60:
        return f"{whole_min} min"
    if whole_min < 48 * 60:
        hours, left_min = divmod(whole_min, 60)
        return f"{hours} h {left_min} min" if left_min else f"{hours} h"
    return f"{round(span_s / 86_400)} days"
