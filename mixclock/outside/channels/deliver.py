"""Sends a message through every channel of its rank at once. A hung channel holds up no other."""

import threading
from collections.abc import Callable, Sequence
from queue import SimpleQueue

from mixclock.outside.channels.message import Channel, Message, Outcome, Receipt

WITHDRAW_S = 2.0

_Work = Callable[[Channel], Receipt]


def _wants(channel: Channel, message: Message) -> bool:
    """Whether a channel wants this message at all: one for a named contact wants few."""
    wants = getattr(channel, "wants", None)
    return wants is None or bool(wants(message))


def _announce(channel: Channel, message: Message) -> None:
    """Tell a channel what is coming before any is asked to send: a busy machine may start the threads in any order."""
    announce = getattr(channel, "announce", None)
    if announce is not None:
        announce(message)


class Sender:
    """Sends through a fixed set of channels, each try in a thread of its own with the channel's own time limit.

    A channel that has overrun its limit counts as stuck until that try ends; meanwhile it answers RETRY at once, so
    that tries do not pile up behind it.
    """

    def __init__(self, channels: Sequence[Channel]) -> None:
        names = [channel.name for channel in channels]
        if len(set(names)) < len(names):
            raise ValueError(f"two channels have the same name: {', '.join(names)}")
        self.channels = tuple(channels)
        self._lock = threading.Lock()
        self._stuck: dict[str, threading.Thread] = {}

    def deliver(
        self,
        message: Message,
        on_receipt: Callable[[Receipt], None] | None = None,
        only: frozenset[str] | None = None,
    ) -> list[Receipt]:
        """Send it. Gives the receipts in order of arrival.

        It calls `on_receipt` in the calling thread the moment each one arrives, so the desktop's answer is recorded
        before the voice has finished its sentence. `only` names the channels to ask, where it is not all of them.
        """
        asked = [channel for channel in self.channels if only is None or channel.name in only]
        wanted = [channel for channel in asked if message.rank in channel.ranks and _wants(channel, message)]
        for channel in wanted:
            if not self._is_stuck(channel):
                _announce(channel, message)
        return self._ask_all(wanted, lambda channel: channel.send(message), None, on_receipt)

    def withdraw(self, alert_id: str, on_receipt: Callable[[Receipt], None] | None = None) -> list[Receipt]:
        """Take this alert away from every channel."""
        return self._ask_all(self.channels, lambda channel: channel.withdraw(alert_id), WITHDRAW_S, on_receipt)

    def probe(self, on_receipt: Callable[[Receipt], None] | None = None) -> list[Receipt]:
        """Try every channel with something harmless."""
        return self._ask_all(self.channels, lambda channel: channel.probe(), None, on_receipt)

    def _ask_all(
        self,
        channels: Sequence[Channel],
        work: _Work,
        limit_s: float | None,
        on_receipt: Callable[[Receipt], None] | None,
    ) -> list[Receipt]:
        answers: SimpleQueue[Receipt] = SimpleQueue()
        for channel in channels:
            self._ask(channel, work, channel.limit_s if limit_s is None else limit_s, answers)
        receipts = []
        for _ in channels:
            receipts.append(answers.get())
            if on_receipt is not None:
                on_receipt(receipts[-1])
        return receipts

    def _ask(self, channel: Channel, work: _Work, limit_s: float, answers: "SimpleQueue[Receipt]") -> None:
        """Begin to ask one channel. Its answer comes within its limit, whatever the channel does.

        The channel's own thread begins first, and then the one that waits for it: to begin a thread takes a while on a
        busy machine, and the alert must not wait for that twice.
        """
        if self._is_stuck(channel):
            answers.put(Receipt(channel.name, Outcome.RETRY, "still stuck in an earlier try", False))
            return
        answer: list[Receipt] = []
        worker = threading.Thread(target=lambda: answer.append(_answer(channel, work)), name=channel.name, daemon=True)
        worker.start()
        args = (channel, worker, answer, limit_s, answers)
        threading.Thread(target=self._await, args=args, name=f"{channel.name} channel", daemon=True).start()

    def _await(
        self,
        channel: Channel,
        worker: threading.Thread,
        answer: list[Receipt],
        limit_s: float,
        answers: "SimpleQueue[Receipt]",
    ) -> None:
        worker.join(limit_s)
        if not answer:
            with self._lock:
                self._stuck[channel.name] = worker
            answer = [Receipt(channel.name, Outcome.RETRY, f"no answer within {limit_s:g} s", None)]
        answers.put(answer[0])

    def _is_stuck(self, channel: Channel) -> bool:
        with self._lock:
            stuck = self._stuck.get(channel.name)
        return stuck is not None and stuck.is_alive()


def _answer(channel: Channel, work: _Work) -> Receipt:
    try:
        said: object = work(channel)
        if isinstance(said, Receipt):
            return said
        return Receipt(channel.name, Outcome.RETRY, f"the channel answered nonsense: {said!r:.60}", False)
    except Exception as error:  # a channel relies on foreign code: its fault must become a receipt, not a lost alert
        return Receipt(channel.name, Outcome.RETRY, f"the channel broke: {type(error).__name__}: {error}", None)
