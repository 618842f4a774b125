"""The board of windows in a terminal that can redraw itself."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from datetime import datetime

from rich.console import Console, Group, RenderableType
from rich.live import Live
from rich.table import Table
from rich.text import Text

from mixclock.decide.hours import is_working
from mixclock.decide.shapes import State
from mixclock.formulas.past import ForgottenError
from mixclock.job.jumps import open_jumps
from mixclock.outside.channels.message import Outcome
from mixclock.outside.clock import Clock
from mixclock.units import METRIC_CREW, write_clock
from mixclock.watch.daemon import Daemon
from mixclock.watch.jobwatch import JobWatch
from mixclock.watch.rows import STATE_WORDS, WindowRow, alert_lines, rows
from mixclock.watch.screen import PlainScreen
from mixclock.words.jumpwords import asked_of
from mixclock.words.nextkit import kit_short

STYLES = {"critical": "bold red", "timely": "bold yellow", "notice": ""}
STATE_STYLES = {State.CLOSING: "bold yellow", State.CLOSED: "bold red"}
MOST_ROWS = 24


class LiveScreen(PlainScreen):
    """A board that redraws itself, with the lines running above it."""

    redraws = True

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
