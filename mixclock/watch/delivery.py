"""Delivers messages: it sends them, waits for no channel, and writes down every answer.

Nothing is delivered without a receipt in the log. A message that is on its way is known by the entries of its alerts,
so that the next tick does not take a slow channel for a crash.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from queue import SimpleQueue

from mixclock.decide.alerting.raising import TRY_AGAIN
from mixclock.job.drafts import Draft
from mixclock.job.entry import KINDS, Delivered, Entry, Facts
from mixclock.outside.book import Book, BookError
from mixclock.outside.channels.deliver import Sender
from mixclock.outside.channels.message import Outcome, Receipt
from mixclock.outside.clock import Clock
from mixclock.values import dataclass, replace
from mixclock.watch.bulletins import Bulletin

TRY_AGAIN_S = tuple(after.total_seconds() for after in TRY_AGAIN)

Run = Callable[[Callable[[], None]], None]
Fault = Callable[[str], None]


@dataclass(frozen=True)
class SentMessage:
    """A message on its way, with the log entries that announced it."""

    bulletin: Bulletin
    raised: tuple[int, ...]
    tries: int = 0
    only: str | None = None


@dataclass(frozen=True)
class _Answer:
    sent: SentMessage
    receipt: Receipt
    at: datetime


@dataclass(frozen=True)
class Numbering:
    """The numbers of intents that went out first and were written later."""


@dataclass(frozen=True)
class Retry:
    """A message that one channel is to be asked to take again."""

    sent: SentMessage
    due_s: float


def in_a_thread(work: Callable[[], None]) -> None:
    """Run something without waiting for it."""
    threading.Thread(target=work, name="sending", daemon=True).start()


def write_all(book: Book, job: str, facts: Sequence[Facts]) -> tuple[Entry, ...]:
    """Write facts in one transaction, without reading the job's log for it."""
    return write_drafts(book, job, [Draft(fact) for fact in facts])


def write_drafts(book: Book, job: str, drafts: Sequence[Draft]) -> tuple[Entry, ...]:
    """The same for facts that happened earlier."""
    return book.append_within(job, lambda _: drafts, skip=KINDS)


class Delivery:
    """Messages out, receipts in."""

    def __init__(self, sender: Sender, book: Book, clock: Clock, fault: Fault, run: Run = in_a_thread) -> None:
        """`fault` takes a line that says what could not be written. `run` begins a piece of work without waiting."""
        self._sender, self._book, self._clock, self._fault, self._run = sender, book, clock, fault, run
        self._lock = threading.Lock()
        self._under_way: dict[int, SentMessage] = {}
        self._shown: dict[str, SentMessage] = {}
        self._retries: list[Retry] = []
        self._owed: list[tuple[str, list[Draft]]] = []
        self._numbers: dict[int, int] = {}
        self._inbox: SimpleQueue[_Answer | SentMessage | Numbering | None] = SimpleQueue()
        self._writer: threading.Thread | None = None
        self.answered: dict[str, Receipt] = {}
        self._outcomes: dict[tuple[str, str], Outcome] = {}
        self.told_by: dict[str, Receipt] = {}

    def start(self) -> None:
        """Let a thread of its own write the receipts from now on. Until then whoever gets one writes it."""
        self._writer = threading.Thread(target=self._write_on, name="receipts", daemon=True)
        self._writer.start()

    def stop(self, wait_s: float) -> None:
        """Write the receipts that have come in. A message still under way gets none, and the next start repeats it."""
        if self._writer is not None:
            self._inbox.put(None)
            self._writer.join(wait_s)

    def in_flight(self) -> frozenset[int]:
        """The raisings whose messages are still being sent."""
        with self._lock:
            numbers = {number for sent in self._under_way.values() for number in sent.raised}
            return frozenset(map(self._number, numbers))

    @property
    def is_idle(self) -> bool:
        """Whether nothing is being sent, to be sent again, or to be written."""
        with self._lock:
            return not (self._under_way or self._retries or self._owed)

    def owed(self, job: str) -> tuple[Delivered, ...]:
        """The receipts of a job that could not be written yet."""
        with self._lock:
            owed = (draft.facts for name, drafts in self._owed if name == job for draft in drafts)
            return tuple(self._to_entry(fact) for fact in owed if isinstance(fact, Delivered))

    def send(self, sent: SentMessage) -> None:
        """Send a message through every channel of its rank, or through one."""
        with self._lock:
            self._under_way[id(sent)] = sent
            self._shown[sent.bulletin.message.alert_id] = sent
        self._run(lambda: self._deliver(sent))

    def numbered(self, numbers: Mapping[int, int]) -> None:
        """Take the numbers of messages that went out first and are in the book now; their receipts follow."""
        with self._lock:
            self._numbers.update(numbers)
            self._shown = {name: self._renumbered(sent) for name, sent in self._shown.items()}
            self._retries = [replace(one, sent=self._renumbered(one.sent)) for one in self._retries]
        self._take(Numbering())

    def _number(self, number: int) -> int:
        return self._numbers.get(number, number)

    def _renumbered(self, sent: SentMessage) -> SentMessage:
        return replace(sent, raised=tuple(map(self._number, sent.raised)))

    def withdraw(self, message_id: str) -> None:
        """Take a message away from every channel."""
        with self._lock:
            self._shown.pop(message_id, None)
        self._run(lambda: self._take_away(message_id))

    def shown(self, job: str) -> list[SentMessage]:
        """The messages that were sent and not yet withdrawn."""
        with self._lock:
            return [sent for sent in self._shown.values() if sent.bulletin.job == job]

    def bulletin(self, message_id: str) -> Bulletin | None:
        """The message of that name, while it is shown."""
        with self._lock:
            sent = self._shown.get(message_id)
        return sent.bulletin if sent else None

    def due_retries(self, job: str) -> list[SentMessage]:
        """Messages that a channel is to be asked to take again now; each is given once."""
        now_s = self._clock.monotonic_s()
        with self._lock:
            due = [one for one in self._retries if one.sent.bulletin.job == job and now_s >= one.due_s]
            self._retries = [one for one in self._retries if one not in due]
        return [one.sent for one in due]

    def _deliver(self, sent: SentMessage) -> None:
        only = None if sent.only is None else frozenset((sent.only,))

        def answered(receipt: Receipt) -> None:
            self._take(_Answer(sent, receipt, self._clock.now()))

        self._sender.deliver(sent.bulletin.message, answered, only)
        self._take(sent)
        if self.bulletin(sent.bulletin.message.alert_id) is None:
            self._take_away(sent.bulletin.message.alert_id)  # the alert ended before the last channel had the message

    def _take_away(self, message_id: str) -> None:
        for receipt in self._sender.withdraw(message_id):
            if receipt.outcome is Outcome.RETRY:
                self._fault(f"{receipt.channel}: {message_id} could not be taken away: {receipt.detail}")

    def _take(self, answer: _Answer | SentMessage | Numbering) -> None:
        if self._writer is None:
            self._write([answer])
        else:
            self._inbox.put(answer)

    def _write_on(self) -> None:
        while True:
            answers = [self._inbox.get()]
            while not self._inbox.empty():
                answers.append(self._inbox.get())
            self._write([answer for answer in answers if answer is not None])
            if None in answers:
                return

    def _write(self, answers: Sequence[_Answer | SentMessage | Numbering]) -> None:
        """Write all waiting receipts at once. Only then does a message count as delivered."""
        receipts = [self._note(answer) for answer in answers if isinstance(answer, _Answer)]
        if receipts or any(isinstance(answer, Numbering) for answer in answers):
            self._owe(receipts)
        with self._lock:
            for answer in answers:
                if isinstance(answer, SentMessage):
                    self._under_way.pop(id(answer), None)

    def _note(self, answer: _Answer) -> tuple[str, list[Draft]]:
        """Take note of an answer; gives its receipts, each with the instant at which the channel gave it."""
        sent, receipt = answer.sent, answer.receipt
        about = receipt.channel, sent.bulletin.job  # a page may show one floor and not the other
        if receipt.outcome is not Outcome.SENT and self._outcomes.get(about) is not receipt.outcome:
            self._fault(f"{receipt.channel} did not take it: {receipt.detail}")
        self._outcomes[about] = receipt.outcome
        self.answered[receipt.channel] = receipt
        if receipt.outcome is Outcome.SENT or receipt.channel not in self.told_by:
            self.told_by[receipt.channel] = receipt
        again = receipt.outcome is Outcome.RETRY and sent.tries < len(TRY_AGAIN_S)
        if again:
            due_s = self._clock.monotonic_s() + TRY_AGAIN_S[sent.tries]
            later = replace(sent, tries=sent.tries + 1, only=receipt.channel)
            with self._lock:
                self._retries.append(Retry(later, due_s))
        detail = f"try {sent.tries + 1}: {receipt.detail}" if sent.tries else receipt.detail
        outcome = receipt.outcome.value
        facts = [Delivered(number, receipt.channel, outcome, detail, receipt.shown) for number in sent.raised]
        return sent.bulletin.job, [Draft(fact, answer.at) for fact in facts]

    def _owe(self, more: list[tuple[str, list[Draft]]]) -> None:
        """Write receipts, those that could not be written before first, and all of a job in one transaction.

        A message that went out before it was written has no entry for a receipt to point at: that receipt waits.
        """
        with self._lock:
            owed = [(job, list(map(self._numbered_draft, drafts))) for job, drafts in (*self._owed, *more)]
        waiting = [one for one in owed if any(_is_unnumbered(draft) for draft in one[1])]
        ready: dict[str, list[Draft]] = {}
        for job, drafts in (one for one in owed if one not in waiting):
            ready.setdefault(job, []).extend(drafts)
        try:
            for job in tuple(ready):
                write_drafts(self._book, job, ready[job])
                del ready[job]
        except BookError as error:
            self._fault(f"receipts could not be written: {error}")
        with self._lock:
            self._owed = [*waiting, *ready.items()]

    def _numbered_draft(self, draft: Draft) -> Draft:
        assert isinstance(draft.facts, Delivered)
        return replace(draft, facts=self._to_entry(draft.facts))

    def _to_entry(self, fact: Delivered) -> Delivered:
        return fact.but(raised=self._number(fact.raised))


def _is_unnumbered(draft: Draft) -> bool:
    return isinstance(draft.facts, Delivered) and draft.facts.raised < 0
