"""Channels that hang, die, answer nonsense and come back."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator
from typing import Any

from mixclock.job.entry import Delivered
from mixclock.outside.channels import deliver
from mixclock.outside.channels.deliver import Sender
from mixclock.outside.channels.message import RANKS, Message, Outcome, Receipt
from tests.days.clockwork import Day
from tests.days.shed import BASE, TOP, site
from tests.faults.jobdays import MODEL, minutes
from tests.faults.starving import Stopwatch, Took
from tests.faults.table import CLOCK, Counted, each

NEXT_WITHIN_S = 5.0
KINDS = ("hangs", "dies", "talks nonsense", "answers nothing", "all gone", "comes back")


class Bad:
    """A channel that does what a broken one does."""

    name = "bad"
    ranks = frozenset(RANKS)
    limit_s = 0.3

    def __init__(self, kind: str) -> None:
        self.kind, self.let_go, self.asked = kind, threading.Event(), 0

    def send(self, message: Message) -> Any:
        self.asked += 1
        if self.kind == "hangs" or (self.kind == "comes back" and self.asked == 1):
            self.let_go.wait(30)
        if self.kind in ("dies", "all gone"):
            raise OSError("the bus is gone")
        if self.kind == "talks nonsense":
            return "ok"
        if self.kind == "answers nothing":
            return None
        return Receipt(self.name, Outcome.SENT, "taken", True)

    def withdraw(self, alert_id: str) -> Receipt:
        return Receipt(self.name, Outcome.SENT, "gone", None)

    def probe(self) -> Receipt:
        return Receipt(self.name, Outcome.SENT, "taken", True)


class Good(Bad):
    """One that works, and says when it was asked."""

    name = "good"

    def __init__(self) -> None:
        super().__init__("works")
        self.took: list[Took] = []
        self.watch = Stopwatch()

    def send(self, message: Message) -> Receipt:
        self.took.append(self.watch.took())
        return Receipt(self.name, Outcome.SENT, "taken", True)


@contextlib.contextmanager
def silence_is_yes(broken: bool) -> Iterator[None]:
    """The deliberate break: what does not say no counts as delivered."""
    honest = deliver._answer

    def answer(channel: Any, work: Callable[[Any], Any]) -> Receipt:
        said = honest(channel, work)
        return said if isinstance(said, Receipt) and said.outcome is Outcome.SENT else Receipt(
            channel.name, Outcome.SENT, "no complaint", True
        )  # fmt: skip

    if broken:
        deliver._answer = answer
    try:
        yield
    finally:
        deliver._answer = honest


def bad_channels(trials: int, broken: bool) -> Counted:
    """An alert with a bad channel beside a good one, or alone; the truth stands in the log."""
    counted = Counted()
    with silence_is_yes(broken):
        for trial in each(trials):
            _one(counted, KINDS[trial % len(KINDS)])
    return counted


def _one(counted: Counted, kind: str) -> None:
    counted.trials += 1
    bad, good = Bad(kind), Good()
    every = (bad,) if kind == "all gone" else (bad, good)
    day = Day(site(bays=1), [BASE, TOP], channels=every, model=MODEL)
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.clock.advance(minutes(1).total_seconds() + 60)
    good.watch = Stopwatch()
    day.look()
    delivered = [entry.facts for entry in day.book.log if isinstance(entry.facts, Delivered)]
    if kind == "all gone":
        if any(fact.outcome == "sent" for fact in delivered):
            counted.fail(f"{kind}: written down as delivered although nobody took it")
        return
    if not good.took:
        counted.miss(f"{kind}: the next channel was not asked")
    else:
        counted.judge(good.took[0], NEXT_WITHIN_S, f"the next channel after one that {kind}")
    if kind != "comes back" and any(fact.channel == "bad" and fact.outcome == "sent" for fact in delivered):
        counted.fail(f"{kind}: written down as delivered without a receipt")
    if kind == "comes back":
        bad.let_go.set()
        CLOCK.sleep(0.05)
        receipts = Sender([bad]).deliver(Message("x", "critical", "x", "x", "x"))
        if [receipt.outcome for receipt in receipts] != [Outcome.SENT]:
            counted.fail("a channel that came back is not used again")
    bad.let_go.set()
