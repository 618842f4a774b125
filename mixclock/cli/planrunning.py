"""Runs a search that may take long: progress on stderr, Ctrl-C for the best so far."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import TYPE_CHECKING

import typer

from mixclock.values import dataclass, field

if TYPE_CHECKING:
    from pathlib import Path

    from mixclock.cli.planasking import PlanQuestion
    from mixclock.cli.plantyped import Wish
    from mixclock.outside.clock import Clock
    from mixclock.words.plan import PlanSheet

QUIET_S = 2.0
EVERY_S, EVERY_S_IN_A_FILE = 0.5, 10.0


@dataclass
class SearchWatch:
    """Reports how a search goes once it takes longer than a moment, and passes on Ctrl-C."""

    clock: Clock
    begun_s: float = field(init=False)
    said_s: float = field(init=False)
    stopped: bool = False
    shown: bool = False

    def __post_init__(self) -> None:
        """Begin to count."""
        self.begun_s = self.clock.monotonic_s()
        self.said_s = self.begun_s - EVERY_S_IN_A_FILE

    def stop(self) -> bool:
        """Whether the search is to end."""
        return self.stopped

    def progress(self, what: str, share: float) -> None:
        """One line on stderr: on a terminal it writes over itself."""
        now_s = self.clock.monotonic_s()
        on_screen = sys.stderr.isatty()
        every_s = EVERY_S if on_screen else EVERY_S_IN_A_FILE
        if now_s - self.begun_s < QUIET_S or now_s - self.said_s < every_s:
            return
        self.said_s, self.shown = now_s, True
        line = f"planning, {share * 100:.0f} %: {what} (Ctrl-C: the best so far)"
        typer.echo(f"\r{line[:78]:<78}" if on_screen else line, nl=not on_screen, err=True)

    def done(self) -> None:
        """Take the line away."""
        if self.shown and sys.stderr.isatty():
            typer.echo(f"\r{'':<78}\r", nl=False, err=True)


@contextmanager
def _stoppable(watching: SearchWatch) -> Iterator[None]:
    """The first Ctrl-C asks for the best so far, the second ends at once."""

    def stop(_: int, __: FrameType | None) -> None:
        if watching.stopped:
            raise KeyboardInterrupt
        watching.stopped = True

    before = signal.signal(signal.SIGINT, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
        watching.done()


def planned(file: Path | None, job: str | None, wished: Wish) -> PlanSheet:
    """Make the wanted plan: for the job file if one is named, else for a job in the book."""
    from mixclock.cli.planasking import keep_plan, sheet_for
    from mixclock.decide.plan.search.schedule import Ways
    from mixclock.outside.clock import SystemClock

    with _asked(file, job, wished) as asked:
        watching = SearchWatch(asked.house.clock if asked.house is not None else SystemClock())
        ways = Ways(seed=wished.seed, stop=watching.stop, progress=watching.progress)
        with _stoppable(watching):
            sheet = sheet_for(asked, wished, ways)
        keep_plan(asked, sheet.plan)
    return sheet


@contextmanager
def _asked(file: Path | None, job: str | None, wished: Wish) -> Iterator[PlanQuestion]:
    """What is to be planned. A job file writes to no book, but may read what a book has learned."""
    from mixclock.cli.planreading import of_file, of_job
    from mixclock.wiring import house_if_any, open_house

    if file is not None:
        with house_if_any() as house:
            yield of_file(file, house, wished)
    else:
        with open_house(job=job) as house:
            yield of_job(house, wished)
