"""What a row of the harness counts, and how the table is printed."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field

from mixclock.outside.clock import SystemClock
from tests.faults.starving import Took

CLOCK = SystemClock()
TRIES = 3
"""What came late because other work had the processors is tried anew so often, and then left out."""

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
    unmarked: int = 0
    """Repeats that do not say that they are one, where the promise asks for no mark."""

    worst_s: float = 0.0
    left_out: int = 0
    """Trials whose lateness could not be judged: by the system's account this machine's other work was the cause."""
    wrong: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    """What was measured besides, and what this machine could not try."""

    def late(self, span_s: float, limit_s: float, what: str) -> None:
        """How late something came; later than the limit is wrong."""
        self.worst_s = max(self.worst_s, span_s)
        if span_s > limit_s:
            self.wrong.append(f"{what}: {span_s:.1f} s, not {limit_s:g} s")

    def in_time(self, attempt: Callable[[], Took], limit_s: float, what: str) -> None:
        """Judge how long an attempt takes. One that is late through other work on this machine alone tells nothing: it
        is made anew, and left out where that does not help."""
        for _ in range(TRIES):
            took = attempt()
            if not took.starvation_alone_is_over(limit_s):
                self.late(took.span_s, limit_s, what)
                return
        self.left_out += 1

    def judge(self, took: Took, limit_s: float, what: str) -> None:
        """Judge one that cannot be made anew: left out where other work on this machine alone made it late."""
        if took.starvation_alone_is_over(limit_s):
            self.left_out += 1
        else:
            self.late(took.span_s, limit_s, what)

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
        self.unmarked += other.unmarked
        self.left_out += other.left_out
        self.worst_s = max(self.worst_s, other.worst_s)
        self.wrong += other.wrong
        self.notes += other.notes

    @property
    def broken(self) -> bool:
        """Whether the promise was broken in any trial, or nothing was judged at all."""
        return bool(self.missed or self.lost or self.wrong or self.left_out >= self.trials)

    @property
    def holds(self) -> bool:
        """Whether the promise was kept in every trial, and every one could be judged."""
        return not (self.broken or self.left_out)

    @property
    def verdict(self) -> str:
        """In words."""
        if self.missed or self.lost or self.wrong:
            return f"BROKEN: {(self.wrong or ['something was lost'])[0][:90]}"
        if self.left_out >= self.trials:
            return "BROKEN: nothing was judged"
        return "holds" if self.holds else f"machine too busy to judge: {self.left_out:,} trials left out"


@dataclass(frozen=True)
class Row:
    """A fault. `run` is given how many trials are wanted and whether the product is to be broken on purpose.

    `short` is what the gate runs, `full` what the promise asks for. `real` says what of it is no stand-in.
    """

    name: str
    fault: str
    must_hold: str
    broken_by: str
    real: str
    run: Callable[[int, bool], Counted]
    short: int
    full: int


HEAD = ("fault", "trials", "missed", "lost", "repeated", "worst lateness", "")


def line_of(row: Row, counted: Counted, wanted: int) -> tuple[str, ...]:
    """One line of the table."""
    worst = f"{counted.worst_s:.1f} s" if counted.worst_s else "–"
    made = f"{counted.trials:,}" if counted.trials >= wanted else f"{counted.trials:,} of {wanted:,}"
    marked = f"{counted.unmarked:,} unmarked" if counted.unmarked else "each marked"
    repeated = f"{counted.repeated:,}, {marked}" if counted.repeated else "0"
    return (row.name, made, str(counted.missed), str(counted.lost), repeated, worst, counted.verdict)


def printed(lines: Iterable[tuple[str, ...]], rows: Iterable[Row] = ()) -> str:
    """The table as text; below it, what is real in each row."""
    every = [HEAD, *lines]
    widths = [max(len(line[place]) for line in every) for place in range(len(HEAD))]
    table = ("  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)) for line in every)
    legend = (f"{row.name}: {row.real}" for row in rows)
    return "\n".join([*(line.rstrip() for line in table), *legend])
