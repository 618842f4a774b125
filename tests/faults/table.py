"""What a row of the harness counts, and how the table is printed."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field

from mixclock.outside.clock import SystemClock

CLOCK = SystemClock()
_UNTIL_S: ContextVar[float] = ContextVar("until_s", default=math.inf)


@contextmanager
def bounded(seconds: float | None) -> Iterator[None]:
    """In here a row stops when so many seconds have passed, and counts what it has tried by then."""
    token = _UNTIL_S.set(math.inf if seconds is None else CLOCK.monotonic_s() + seconds)
    try:
        yield
    finally:
        _UNTIL_S.reset(token)


def time_is_up() -> bool:
    """Whether the row has used up its time."""
    return CLOCK.monotonic_s() >= _UNTIL_S.get()


def each(trials: int) -> Iterator[int]:
    """The numbers of the trials until the time is up; there is always a first."""
    for trial in range(trials):
        if trial and time_is_up():
            return
        yield trial


@dataclass
class Counted:
    """What became of a row's trials. `wrong` holds what was found, a line each."""

    trials: int = 0
    missed: int = 0
    lost: int = 0
    repeated: int = 0
    worst_s: float = 0.0
    wrong: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    """What was measured besides, and what this machine could not try."""

    def late(self, span_s: float, limit_s: float, what: str) -> None:
        """How late something came; later than the limit is wrong."""
        self.worst_s = max(self.worst_s, span_s)
        if span_s > limit_s:
            self.wrong.append(f"{what}: {span_s:.1f} s, not {limit_s:g} s")

    def fail(self, line: str) -> None:
        """Something that must hold does not."""
        self.wrong.append(line)

    def miss(self, line: str) -> None:
        """A deadline was never called out."""
        self.missed += 1
        self.wrong.append(line)

    def add(self, other: Counted) -> None:
        """Count what another part of the same row found."""
        self.trials += other.trials
        self.missed += other.missed
        self.lost += other.lost
        self.repeated += other.repeated
        self.worst_s = max(self.worst_s, other.worst_s)
        self.wrong += other.wrong
        self.notes += other.notes

    @property
    def holds(self) -> bool:
        """Whether the promise was kept in every trial."""
        return self.trials > 0 and not (self.missed or self.lost or self.wrong)


@dataclass(frozen=True)
class Row:
    """A fault. `run` is given how many trials are wanted and whether the product is to be broken on purpose.

    `short` is what the gate runs, `full` what the promise asks for.
    """

    name: str
    fault: str
    must_hold: str
    broken_by: str
    run: Callable[[int, bool], Counted]
    short: int
    full: int


HEAD = ("fault", "trials", "missed", "lost", "repeated", "worst lateness", "")


def line_of(row: Row, counted: Counted, wanted: int) -> tuple[str, ...]:
    """One line of the table."""
    verdict = "holds" if counted.holds else f"BROKEN: {(counted.wrong or ['nothing was tried'])[0][:90]}"
    worst = f"{counted.worst_s:.1f} s" if counted.worst_s else "–"
    made = f"{counted.trials:,}" if counted.trials >= wanted else f"{counted.trials:,} of {wanted:,}"
    return (row.name, made, str(counted.missed), str(counted.lost), str(counted.repeated), worst, verdict)


def printed(lines: Iterable[tuple[str, ...]]) -> str:
    """The table as text."""
    every = [HEAD, *lines]
    widths = [max(len(line[place]) for line in every) for place in range(len(HEAD))]
    rows = ("  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)) for line in every)
    return "\n".join(row.rstrip() for row in rows)
