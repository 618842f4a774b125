"""A process of a few statements or one alert on a real book, to be killed or refused at any of its system calls.

`python -m tests.faults.oneshot state HOME SOCKET COUNT`, `... alert HOME SOCKET`, `... threads HOME SOCKET` (an alert
with the daemon's own threads). What was acknowledged is said on a datagram socket, which no fault of the disk touches.
"""

from __future__ import annotations

import os
import socket
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from mixclock.job.entry import JobStarted, Noted, ProfileUsed
from mixclock.job.profilereading import read_profile
from mixclock.outside import bookmending
from mixclock.outside.book import Book
from mixclock.outside.bookerrors import BookError
from mixclock.outside.channels.deliver import Sender
from mixclock.outside.channels.message import RANKS, Message, Outcome, Receipt
from mixclock.outside.clock import FakeClock, SystemClock
from mixclock.outside.unrecorded import UnrecordedEntries
from mixclock.watch.delivery import Delivery
from mixclock.watch.jobwatch import Reckoning
from mixclock.watch.tick import Ticker
from tests.days.shed import BASE, TOP, site
from tests.faults.jobdays import MODEL, InlineSender, receipt_before_sending
from tests.faults.starving import account, starved_s
from tests.saying import as_said

MORNING = datetime(2026, 4, 13, 7, 0, tzinfo=UTC)
JOB = "Boat shed"
RECEIPTS_WITHIN_S = 3.0


def broken_by(what: str) -> bool:
    """Whether the harness asked for this deliberate break."""
    return os.environ.get("MIXCLOCK_FAULTS_BREAK") == what


class Line:
    """A channel whose far end is the harness."""

    name = "desktop"
    ranks = frozenset(RANKS)
    limit_s = 5.0

    def __init__(self, path: str) -> None:
        self._path = path
        self._wire = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)

    def tell(self, line: str) -> None:
        """Say something to the harness, with the instant, and for how long other work kept this process from it."""
        stamp = f"{SystemClock().monotonic_s():.6f} {starved_s({}, account()):.6f}"
        self._wire.sendto(f"{stamp} {line}".encode(), self._path)

    def send(self, message: Message) -> Receipt:
        again = "again " if "perhaps for the second time" in message.body else ""
        self.tell(f"alert {again}{message.alert_id}")
        return Receipt(self.name, Outcome.SENT, "taken", True)

    def withdraw(self, alert_id: str) -> Receipt:
        return Receipt(self.name, Outcome.SENT, "gone", None)

    def probe(self) -> Receipt:
        return Receipt(self.name, Outcome.SENT, "taken", True)


def prepare(home: Path) -> None:
    """A job with a bucket that is due; what the later runs begin with."""
    with Book(home / "book.sqlite3", FakeClock(MORNING)) as book:
        book.append(JOB, JobStarted(JOB, site(bays=1)))
        for text in (BASE, TOP):
            book.append(JOB, ProfileUsed(read_profile(text).name, text))


def state(home: Path, line: Line, count: int) -> None:
    """Notes, each acknowledged when the book has it."""
    with Book(home / "book.sqlite3", FakeClock(MORNING)) as book:
        if broken_by("sync"):
            book.connection.own().execute("PRAGMA synchronous = OFF")
        for number in range(count if broken_by("ack first") else 0):
            line.tell(f"said {number}")
        for number in range(count):
            book.append(JOB, Noted(f"note {number}"))
            line.tell(f"said {number}")


def alert(home: Path, line: Line, threads: bool = False) -> None:
    """The daemon's inside: starts, looks while a mixed bucket falls due, and sends.

    With `threads` channels are asked and receipts written in threads of their own, as the daemon does it.
    """
    clock = FakeClock(MORNING)
    clock.advance(timedelta(minutes=45).total_seconds())
    if broken_by("no memory"):
        bookmending.read_into_memory = lambda *_: None  # type: ignore[assignment]
    book = Book(home / "book.sqlite3", clock, None if broken_by("no memory") else UnrecordedEntries())
    delivery = Delivery(InlineSender((line,)), book, clock, lambda _: None, lambda work: work())  # type: ignore[arg-type]
    if threads:
        delivery = Delivery(Sender((line,)), book, clock, lambda _: None)
        delivery.start()
    with receipt_before_sending(broken_by("receipt first")):
        ticker = Ticker(book, clock, delivery, Reckoning(MODEL), lambda _: None)
        ticker.tick()
        _let_threads_end(delivery)
    delivery.stop(RECEIPTS_WITHIN_S)
    book.close()
    line.tell("done")


def _let_threads_end(delivery: Delivery) -> None:
    waiting = SystemClock()
    until_s = waiting.monotonic_s() + RECEIPTS_WITHIN_S
    while delivery.in_flight() and waiting.monotonic_s() < until_s:
        waiting.sleep(0.02)


def mix(home: Path) -> None:
    """Part B goes in, twelve minutes before the alert."""
    from mixclock.job.folding import fold
    from mixclock.job.saying import Attribution

    with Book(home / "book.sqlite3", FakeClock(MORNING)) as book:
        said = as_said("mixing", product="Shed base", areas=("bay 1",), volume_l=3.45)
        shelf = {read_profile(text).name.casefold(): read_profile(text) for text in (BASE, TOP)}
        book.append_within(
            JOB, lambda entries: said.drafts(fold(JOB, entries, shelf), Attribution(MORNING, None, None, None))
        )


def main(words: list[str]) -> int:
    """Do what is asked; a refusal is one line."""
    home, line = Path(words[1]), Line(words[2])
    try:
        if words[0] == "state":
            state(home, line, int(words[3]))
        else:
            alert(home, line, threads=words[0] == "threads")
    except BookError as error:
        print(error, file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
