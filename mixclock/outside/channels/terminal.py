"""Prints each alert as a line in the terminal, in words, with the bell for a critical one."""

import sys
import threading
from collections.abc import Callable
from typing import TextIO

from mixclock.outside.channels.message import RANKS, Message, Outcome, Rank, Receipt, marks
from mixclock.outside.channels.text import clipped, one_line

BELL = "\a"
LINE_UNITS = 1000

# Words and not colour alone: a screen may have none, and one man in twelve can't tell red from green.
LABELS: dict[Rank, str] = {"critical": "!! CRITICAL", "timely": "->", "notice": "   NOTICE"}


class TerminalChannel:
    """Prints each alert as one line on a stream."""

    name = "terminal"
    limit_s = 2.0

    def __init__(
        self, stream: Callable[[], TextIO] = lambda: sys.stdout, ranks: frozenset[Rank] = frozenset(RANKS)
    ) -> None:
        self.ranks = ranks
        self._stream = stream
        self._lock = threading.Lock()

    def send(self, message: Message) -> Receipt:
        """Print it."""
        return self._print(alert_line(message), ring=message.rank == "critical")

    def withdraw(self, alert_id: str) -> Receipt:
        """A printed line can't be taken away."""
        return Receipt(self.name, Outcome.SENT, f"a printed line stays ({alert_id})", None)

    def probe(self) -> Receipt:
        """Print one line."""
        return self._print("mixclock: alerts are printed here", ring=True)

    def _print(self, line: str, ring: bool) -> Receipt:
        stream = self._stream()
        try:
            with self._lock:
                on_screen = stream.isatty()
                stream.write(_encodable(line, stream) + (BELL if ring and on_screen else "") + "\n")
                stream.flush()
        except (OSError, ValueError) as error:
            return Receipt(self.name, Outcome.GIVE_UP, f"the stream can't be written: {error}", False)
        if not on_screen:
            return Receipt(self.name, Outcome.GIVE_UP, "written to a file or a pipe: that is nobody", False)
        detail = "printed on the terminal with the bell" if ring else "printed on the terminal"
        return Receipt(self.name, Outcome.SENT, detail, True)


def alert_line(message: Message) -> str:
    """The whole alert as one line, without signs that a terminal would obey."""
    title, body = one_line(message.title), one_line(message.body)
    is_said = title.partition(":")[0].casefold() in body.casefold()  # the body repeats the title
    text = f"{title}. {body}" if title and body and not is_said else body or title
    said = marks(message)
    return clipped(f"{LABELS[message.rank]}  {text}" + (f"  ({said})" if said else ""), LINE_UNITS)


def _encodable(line: str, stream: TextIO) -> str:
    encoding = getattr(stream, "encoding", None) or "utf-8"
    return line.encode(encoding, "replace").decode(encoding)
