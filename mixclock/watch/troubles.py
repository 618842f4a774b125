"""Tells what is wrong with the watch itself: every channel says it, and it is shown until it is over.

An alert is about a bucket and stands in the log. A trouble is about the alarm clock: its book is gone, its clock is
wrong, its terminal was shut. It cannot count on the log, so it is kept here.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from mixclock.outside.channels.deliver import Sender
from mixclock.outside.channels.message import Message, Outcome, Rank
from mixclock.outside.clock import Clock
from mixclock.values import dataclass

TRY_AGAIN_S = 5.0
"""What no channel took is said again after this long."""

SAY_AGAIN_S = (60.0, 300.0, 900.0)
"""What stands is said again after this long, the last one for good (judgement)."""

Run = Callable[[Callable[[], None]], None]


@dataclass
class _Trouble:
    message: Message
    due_s: float
    said: int = 0
    heard: bool = False


class Troubles:
    """The troubles that stand, by a name for each kind."""

    def __init__(self, sender: Sender, clock: Clock, say: Callable[[str], None], run: Run) -> None:
        """`say` takes each new line. `run` begins a piece of work without waiting for it."""
        self._sender, self._clock, self._say, self._run = sender, clock, say, run
        self._lock = threading.Lock()
        self._standing: dict[str, _Trouble] = {}
        self.changed: Callable[[], None] = lambda: None
        """Called whenever a trouble came or went, on whatever thread found it."""

    def stands(self, name: str, line: str, rank: Rank = "critical") -> None:
        """Note that something is wrong, in one line. The same line again changes nothing."""
        with self._lock:
            known = self._standing.get(name)
            if known is not None and known.message.body == line:
                return
            message = Message(f"watch.{name}", rank, "mixclock itself", line, line)
            self._standing[name] = _Trouble(message, self._clock.boot_s())
        self.changed()
        self._say(line)
        self.tend()

    def over(self, name: str, line: str = "") -> None:
        """Note that it is mended; `line` says so."""
        if name not in self._standing:  # so it is at nearly every look
            return
        with self._lock:
            known = self._standing.pop(name, None)
        if known is not None:
            self.changed()
            if line:
                self._say(line)
            self._run(lambda: self._take_away(known.message.alert_id))

    def heard(self, message_id: str) -> bool:
        """Somebody pressed "heard": it stays shown and is said no more. False where it is no trouble."""
        with self._lock:
            found = [one for one in self._standing.values() if one.message.alert_id == message_id]
            for one in found:
                one.heard = True
        return bool(found)

    def lines(self) -> list[str]:
        """What stands, the latest last."""
        with self._lock:
            return [one.message.body for one in self._standing.values()]

    def tend(self) -> None:
        """Say what is due."""
        now_s = self._clock.boot_s()
        with self._lock:
            due = [one for one in self._standing.values() if now_s >= one.due_s and not one.heard]
            for one in due:
                one.due_s = now_s + SAY_AGAIN_S[min(one.said, len(SAY_AGAIN_S) - 1)]
        for one in due:
            self._run(lambda one=one: self._send(one))  # type: ignore[misc]

    def _send(self, trouble: _Trouble) -> None:
        message = trouble.message
        taken: list[str] = []

        def note(channel: str, outcome: Outcome) -> None:
            if outcome is Outcome.SENT:
                taken.append(channel)
                trouble.said = max(trouble.said, 1)

        self._sender.deliver(message, lambda receipt: note(receipt.channel, receipt.outcome))
        with self._lock:
            if taken:
                trouble.said += 1
            else:
                trouble.due_s = min(trouble.due_s, self._clock.boot_s() + TRY_AGAIN_S)

    def _take_away(self, message_id: str) -> None:
        self._sender.withdraw(message_id)
