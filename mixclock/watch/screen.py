"""The terminal of the daemon: plain lines, and on a terminal that can redraw itself the board of `livescreen`."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Iterator
from datetime import datetime
from queue import SimpleQueue

from mixclock.job.entry import Delivered, Entry, FactorUsed, ProfileUsed, Raised, WatchEvent
from mixclock.outside.clock import Clock
from mixclock.watch.daemon import Daemon
from mixclock.watch.jobwatch import JobWatch
from mixclock.watch.tick import TickResult
from mixclock.words.saidback import said_back


class Printer:
    """Prints on a thread of its own: a terminal that is paused (Ctrl-S) must not hold up the alarm clock."""

    def __init__(self) -> None:
        self._lines: SimpleQueue[str | threading.Event] = SimpleQueue()
        threading.Thread(target=self._print_on, name="printer", daemon=True).start()

    def say(self, line: str) -> None:
        """Print a line soon."""
        self._lines.put(line)

    def wait(self, span_s: float) -> None:
        """Wait until everything is printed, so long at most."""
        printed = threading.Event()
        self._lines.put(printed)
        printed.wait(span_s)

    def _print_on(self) -> None:
        while True:
            line = self._lines.get()
            if isinstance(line, threading.Event):
                line.set()
            else:
                say(line)


class PlainScreen:
    """Lines, one below the other: what is stated, what is alerted (by the terminal channel), what goes wrong."""

    redraws = False
    """Whether it is drawn anew all the time."""

    gone = False
    """Whether the terminal went away while it was drawn on."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._told: dict[str, int] = {}
        self._left = False
        self.printer = Printer()

    def leave(self) -> bool:
        """Write nowhere from now on: the terminal was shut. False where this was called before."""
        if self._left:
            return False
        self._left = True
        leave_terminal()
        return True

    def follow(self, daemon: Daemon) -> None:
        """Take earlier statements as told, and print each new one."""
        for job in daemon.ticker.watched.values():
            self._told[job.job] = job.last_number
        daemon.followers.append(lambda ticked: self._tell(daemon, ticked))

    @contextlib.contextmanager
    def shown(self) -> Iterator[None]:
        """Nothing to set up."""
        yield

    def refresh(self, daemon: Daemon) -> None:
        """Nothing to redraw."""

    def _tell(self, daemon: Daemon, ticked: TickResult) -> None:
        for event in ticked.events:
            self.printer.say(f"-- {event.detail}")
        if not ticked.changed:
            return
        for job in tuple(daemon.ticker.watched.values()):
            for line in self._new_lines(job, ticked.at):
                self.printer.say(line)

    def _new_lines(self, job: JobWatch, now: datetime) -> list[str]:
        told = self._told.get(job.job, 0)
        self._told[job.job] = job.last_number
        standing = job.standing
        if standing is None:
            return []
        new = [entry for entry in standing.entries if entry.number > told and _is_statement(entry)]
        return [f"   {said_back(entry, standing, now)}" for entry in new]


def say(line: str) -> None:
    """Print a line at once, also into a pipe. A terminal that went away must not end the alarm clock."""
    with contextlib.suppress(OSError, ValueError):
        print(line, file=sys.stdout, flush=True)


def close_quietly() -> None:
    """Close the output at the end. A terminal that went away must not change the exit code of the watch."""
    try:
        sys.stdout.flush()
    except (OSError, ValueError):
        leave_terminal()


def leave_terminal() -> None:
    """Let whatever is printed from now on go nowhere."""
    nowhere = os.open(os.devnull, os.O_RDWR)
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):
            os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


def _is_statement(entry: Entry) -> bool:
    """Whether a person stated it. The machine's own entries are not printed."""
    return not isinstance(entry.facts, Raised | Delivered | WatchEvent | ProfileUsed | FactorUsed)
