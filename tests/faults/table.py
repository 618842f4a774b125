"""What a row of the harness counts, and how the table is printed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field


@dataclass
class Counted:
    """What became of a row's trials. `wrong` holds what was found, a line each."""

    trials: int = 0
    missed: int = 0
    lost: int = 0
    repeated: int = 0
    worst_s: float = 0.0
    wrong: list[str] = field(default_factory=list)

    def late(self, span_s: float, limit_s: float, what: str) -> None:
        """How late something came; later than the limit is wrong."""
        self.worst_s = max(self.worst_s, span_s)
        if span_s > limit_s:
            self.wrong.append(f"{what}: {span_s:.1f} s, not {limit_s:g} s")

    def fail(self, line: str) -> None:
        """Something that must hold does not."""
        self.wrong.append(line)

    @property
    def holds(self) -> bool:
        """Whether the promise was kept in every trial."""
        return self.trials > 0 and not (self.missed or self.lost or self.wrong)


@dataclass(frozen=True)
class Row:
    """A fault. `run` is given how many trials are wanted and whether the product is to be broken on purpose."""

    name: str
    fault: str
    must_hold: str
    broken_by: str
    run: Callable[[int, bool], Counted]
    short: int
    long: int


HEAD = ("fault", "trials", "missed", "lost", "repeated", "worst lateness", "")


def line_of(row: Row, counted: Counted) -> tuple[str, ...]:
    """One line of the table."""
    verdict = "holds" if counted.holds else f"BROKEN: {(counted.wrong or ['nothing was tried'])[0][:90]}"
    worst = f"{counted.worst_s:.1f} s" if counted.worst_s else "–"
    return (
        row.name,
        str(counted.trials),
        str(counted.missed),
        str(counted.lost),
        str(counted.repeated),
        worst,
        verdict,
    )


def printed(lines: Iterable[tuple[str, ...]]) -> str:
    """The table as text."""
    every = [HEAD, *lines]
    widths = [max(len(line[place]) for line in every) for place in range(len(HEAD))]
    return "\n".join("  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)) for line in every)
