"""Days in which faults happen: a crew that states nothing, so that every deadline of every batch is called out."""

from __future__ import annotations

import random
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any, NamedTuple

from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.shapes import Stage
from mixclock.job.drafts import Draft
from mixclock.job.entry import Delivered
from mixclock.job.steps import AREA_WINDOWS
from mixclock.outside.channels.message import Message, Outcome, Receipt
from mixclock.watch.bulletins import INTERRUPTED
from mixclock.watch.delivery import Delivery
from mixclock.watch.jobwatch import Reckoning
from mixclock.watch.tick import Ticker
from tests.days.clockwork import Day, RecordingChannel
from tests.days.memorybook import MemoryBook
from tests.days.shed import BASE, TOP, site

MODEL = bucket_model()
CLOCK_SET_FROM_S = 60.0
MIXING_OVER = "Its mixing was over at"
REPEATS_FROM_S, ANOTHER_DAY_S = 19.5, 1800.0
"""Written down apart from the product: a critical alert repeats every 20 s, a warning may come on two days."""


class KilledError(BaseException):
    """The process is gone: nothing may catch it."""


class Fused:
    """What is written passes a fuse: when it has burnt down the process is killed, before or after a write."""

    fuse: int | None = None

    def append_within(self, *args: Any, **how: Any) -> Any:
        self.burn()
        written = super().append_within(*args, **how)  # type: ignore[misc]
        self.burn()
        return written

    def burn(self) -> None:
        """One more chance to be killed."""
        if self.fuse is not None:
            self.fuse -= 1
            if self.fuse < 0:
                self.fuse = None
                raise KilledError


class FusedBook(Fused, MemoryBook):
    """A book in memory."""


class Taking(NamedTuple):
    """A message that a channel took: when, in elapsed seconds, and what it tells."""

    at_s: float
    message: Message
    stages: tuple[tuple[str, str], ...]
    wall: datetime

    @property
    def is_marked(self) -> bool:
        """Whether it says of itself that it is perhaps a repeat."""
        return INTERRUPTED in self.message.body

    @property
    def is_put_right(self) -> bool:
        """Whether it only takes what is over out of a message that stands: that calls nobody."""
        return len(self.message.alert_id.split("+")) > len(self.stages)

    def is_in_turn(self, before: Taking, name: str, stage: str) -> bool:
        """Whether the same stage may be told again without a mark: the next step of mixing, a warning of another day,
        and a critical one after 20 s. A warning of days names hours of the wall clock: where that was set meanwhile,
        the hours that the crew was told were wrong, and it is told the right ones."""
        if stage == Stage.STEP:
            return self.message.body != before.message.body
        if stage == Stage.HEADS_UP and name.rpartition(".")[2] in AREA_WINDOWS and self.is_on_another_clock(before):
            return True
        waited_s = self.at_s - before.at_s
        return waited_s >= (ANOTHER_DAY_S if stage == Stage.HEADS_UP else REPEATS_FROM_S) and (
            stage == Stage.HEADS_UP or self.message.rank == "critical"
        )

    def is_on_another_clock(self, before: Taking) -> bool:
        """Whether the wall clock was set between the two, by what matters to an hour that is said."""
        return abs((self.wall - before.wall).total_seconds() - (self.at_s - before.at_s)) >= CLOCK_SET_FROM_S


def unmarked(takings: Iterable[Taking]) -> list[str]:
    """What was told twice, and not in its turn, without saying so."""
    found, before = [], dict[tuple[str, str], Taking]()
    for taking in (one for one in takings if not one.is_put_right):
        for told in taking.stages:
            last = before.get(told)
            if last is not None and not taking.is_marked and not taking.is_in_turn(last, *told):
                found.append(f"{told[0]} ({told[1]}) was told again after {taking.at_s - last.at_s:.1f} s, not marked")
            before[told] = taking
    return found


class FusedChannel(RecordingChannel):
    """A desktop; the process may be killed before or after a message is shown."""

    book: Fused | None = None
    stages_of: Callable[[str], Collection[tuple[str, str]]] = staticmethod(lambda _: ())
    passed_of: Callable[[str], Collection[str]] = staticmethod(lambda _: ())

    @cached_property
    def first_s(self) -> dict[str, float]:
        """When each alert was first taken at its deadline or after, and not as a warning, in elapsed seconds."""
        return {}

    @cached_property
    def takings(self) -> list[Taking]:
        """Each message that was taken."""
        return []

    @property
    def taken(self) -> list[list[str]]:
        """The alerts of each message that was taken."""
        return [taking.message.alert_id.split("+") for taking in self.takings]

    def send(self, message: Message) -> Receipt:
        if self.book is not None:
            self.book.burn()
        receipt = super().send(message)
        if receipt.outcome is Outcome.SENT:
            stages = self.stages_of(message.alert_id)
            self.takings.append(Taking(self.clock.boot_s(), message, tuple(stages), self.clock.now()))
            for name, stage in stages:
                if stage != Stage.HEADS_UP:
                    self.first_s.setdefault(name, self.clock.boot_s())
            for name in self.passed_of(message.alert_id):
                self.first_s.setdefault(name, self.clock.boot_s())
        if self.book is not None:
            self.book.burn()
        return receipt


class InlineSender:
    """Asks the channels in the thread of the tick, so that a kill takes both."""

    def __init__(self, channels: Any) -> None:
        self.channels = channels

    def deliver(self, message: Message, on_receipt: Any, only: Any = None) -> list[Receipt]:
        receipts = [each.send(message) for each in self.channels if only is None or each.name in only]
        for receipt in receipts:
            on_receipt(receipt)
        return receipts

    def withdraw(self, alert_id: str) -> list[Receipt]:
        return [each.withdraw(alert_id) for each in self.channels]


class JobDay(Day):
    """A day whose channels are asked in the thread of the tick."""

    def start(self) -> None:
        """Start anew, from the book alone, and look once."""
        self.delivery = Delivery(InlineSender(self.every), self.book, self.clock, self.faults.append, self.run)  # type: ignore[arg-type]
        reckoning = Reckoning(self.model or MODEL, lambda: self.shelf)
        self.ticker = Ticker(self.book, self.clock, self.delivery, reckoning, self.faults.append)
        self.ticker.eye.stall_from_s = float("inf")
        if isinstance(self.desktop, FusedChannel):
            self.desktop.stages_of, self.desktop.passed_of = self._stages_of, self._passed_of
        self.look()

    def _stages_of(self, message_id: str) -> Collection[tuple[str, str]]:
        bulletin = self.delivery.bulletin(message_id)
        return bulletin.stages if bulletin is not None else ()

    def _passed_of(self, message_id: str) -> Collection[str]:
        """The mixings that a message tells to have ended untold, by the words that the crew reads."""
        bulletin = self.delivery.bulletin(message_id)
        told = bulletin.sentences if bulletin is not None else ()
        return [f"b{one.raises[0].alert.batch}.mixing" for one in told if MIXING_OVER in one.said.body]


def job_day(bays: int = 3, book_of: Callable[[Any], Any] = FusedBook) -> Day:
    """A day with a desktop of its own, before anything is mixed."""
    day = JobDay(site(bays=bays), [BASE, TOP], book_of=book_of, model=MODEL)
    day.desktop = FusedChannel(day.clock)
    day.every = (day.desktop,)
    day.start()
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    return day


def mix(day: Day, bay: int) -> None:
    """A bucket for a bay."""
    day.say("mixing", product="Shed base", areas=[f"bay {bay}"], volume_l=3.45)


def deadlines(day: Day) -> dict[str, datetime]:
    """Each alert and when it was first put before the crew."""
    found: dict[str, datetime] = {}
    for at, message in day.desktop.sent:
        for name in message.alert_id.split("+"):
            found.setdefault(name, at)
    return found


@contextmanager
def receipt_before_sending(broken: bool) -> Iterator[None]:
    """The deliberate break: an alert is written down as delivered before anybody has it."""
    if not broken:
        yield
        return
    honest = Delivery._deliver

    def deliver(self: Delivery, sent: Any) -> None:
        drafts = [Draft(Delivered(number, "desktop", "sent", "as good as", True)) for number in sent.raised]
        self._owe([(sent.bulletin.job, drafts)])
        honest(self, sent)

    Delivery._deliver = deliver  # type: ignore[method-assign]
    try:
        yield
    finally:
        Delivery._deliver = honest  # type: ignore[method-assign]


def dice(seed: int) -> random.Random:
    """The same throws every time."""
    return random.Random(seed)


def minutes(count: float) -> timedelta:
    """So many minutes."""
    return timedelta(minutes=count)
