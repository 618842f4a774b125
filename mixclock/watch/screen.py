"""The terminal of the daemon: a board of windows where the terminal can redraw itself, plain lines everywhere else."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Iterator, Sequence
from datetime import datetime
from queue import SimpleQueue

from rich.console import Console, Group, RenderableType
from rich.live import Live
from rich.table import Table
from rich.text import Text

from mixclock.decide.hours import is_working
from mixclock.decide.shapes import State
from mixclock.formulas.past import ForgottenError
from mixclock.job.entry import Delivered, Entry, FactorUsed, ProfileUsed, Raised, WatchEvent
from mixclock.job.jumps import open_jumps
from mixclock.outside.channels.message import Outcome
from mixclock.outside.clock import Clock
from mixclock.units import METRIC_CREW, write_clock
from mixclock.watch.daemon import Daemon
from mixclock.watch.jobwatch import JobWatch
from mixclock.watch.rows import STATE_WORDS, WindowRow, alert_lines, rows
from mixclock.watch.tick import TickResult
from mixclock.words.jumpwords import asked_of
from mixclock.words.nextkit import kit_short
from mixclock.words.saidback import said_back

STYLES = {"critical": "bold red", "timely": "bold yellow", "notice": ""}
STATE_STYLES = {State.CLOSING: "bold yellow", State.CLOSED: "bold red"}
MOST_ROWS = 24


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


class LiveScreen(PlainScreen):
    """A board that redraws itself, with the lines running above it."""

    def __init__(self, clock: Clock) -> None:
        super().__init__(clock)
        self._live = Live(console=Console(), auto_refresh=False, screen=False)

    @contextlib.contextmanager
    def shown(self) -> Iterator[None]:
        """Keep the lower part of the terminal for the board."""
        with contextlib.suppress(OSError, ValueError), self._live:
            yield

    def refresh(self, daemon: Daemon) -> None:
        """Draw it anew."""
        if self._left or self.gone:
            return
        try:
            self._live.update(board_of(daemon, self._clock.now()), refresh=True)
        except (OSError, ValueError):
            self.gone = True


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


def board_of(daemon: Daemon, now: datetime) -> RenderableType:
    """The board as it is to be drawn."""
    parts: list[RenderableType] = []
    units = METRIC_CREW
    for job in tuple(daemon.ticker.watched.values()):
        if job.standing is not None and (job.job == daemon.ticker.current or job.is_live(now)):
            parts.extend(_told_of_job(job, now))
            units = job.standing.site.units
    if not parts:
        parts.append(Text("No job is under way: `mixclock job start FILE` in another terminal begins one."))
    parts += [Text(f"?  {line}", style="bold yellow") for line in daemon.cups.lines(units)]
    parts.append(Text(footer(daemon), style="dim"))
    parts[:0] = [Text(f"!! {line}", style="bold red") for line in daemon.troubles.lines()]
    trouble = [line for line in (daemon.power_words, *daemon.faults.recent()) if line]
    parts += [Text(f"!  {line}", style="bold") for line in trouble]
    return Group(*parts)


def footer(daemon: Daemon) -> str:
    """Which channels answered how, and whether the machine stays awake."""
    words = {Outcome.SENT: "works", Outcome.RETRY: "in trouble", Outcome.GIVE_UP: "out of use"}
    said = ", ".join(f"{name} {words[receipt.outcome]}" for name, receipt in sorted(daemon.delivery.answered.items()))
    return " · ".join(part for part in (said or "no alert was sent yet", daemon.awake_words) if part)


def _told_of_job(job: JobWatch, now: datetime) -> Sequence[RenderableType]:
    """A job as it is drawn. Where that rests on old readings that are not at hand, the next look reads them."""
    try:
        return tuple(_of_job(job, now))
    except ForgottenError:
        job.wants_whole = not job.goes_by_last
        return (Text(f"{job.job}: its old readings are being worked out. What is due is called out.", style="bold"),)


def _of_job(job: JobWatch, now: datetime) -> Iterator[RenderableType]:
    standing = job.seen()
    yield Text(f"{standing.job} · {write_clock(now, standing.site.wall, seconds=True)}", style="bold")
    for rank, line in alert_lines(standing, job.alerts(now), now):
        yield Text(line, style=STYLES[rank])
    for jump in open_jumps(standing):
        yield Text(f"?  {asked_of(jump, standing)}", style="bold yellow")
    yield from _next_kit(job, now)
    found = rows(standing, job.tracks, now)
    if not found:
        yield Text("Nothing runs.")
        return
    yield _table(found[:MOST_ROWS])
    if len(found) > MOST_ROWS:
        yield Text(f"and {len(found) - MOST_ROWS} more: `mixclock now` shows all")


def _next_kit(job: JobWatch, now: datetime) -> Iterator[RenderableType]:
    """Whether the next kit may be opened, while the job is worked on."""
    standing = job.seen()
    if standing.finished is None and (job.is_live(now) or is_working(standing.site, now)):
        yield Text(f"Next kit: {kit_short(job.next_kit(now), standing.site, now)}", style="bold")


def _table(found: list[WindowRow]) -> Table:
    table = Table(box=None, pad_edge=False, show_header=True, header_style="dim")
    for name in ("step", "where", "", "time", "left", "who"):
        table.add_column(name, no_wrap=name != "where")
    for row in found:
        cells = (row.what, row.where, STATE_WORDS[row.state], row.time, row.left, row.who)
        table.add_row(*(Text(cell) for cell in cells), style=STATE_STYLES.get(row.state, ""))
    return table


def _is_statement(entry: Entry) -> bool:
    """Whether a person stated it. The machine's own entries are not printed."""
    return not isinstance(entry.facts, Raised | Delivered | WatchEvent | ProfileUsed | FactorUsed)


def screen_for(plain: bool, clock: Clock) -> PlainScreen:
    """The live board on a terminal; plain lines elsewhere, or where somebody asked for them."""
    if plain or not sys.stdout.isatty():
        return PlainScreen(clock)
    return LiveScreen(clock)
