"""One table of what mixclock takes: what, ours, before, beside, ratio, goal, and what was warm."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

COLUMNS = ("what", "ours", "before", "beside it", "ratio", "goal", "met", "warm")


@dataclass(frozen=True)
class Figure:
    """One figure with its unit."""

    value: float
    unit: str = "ms"

    def __str__(self) -> str:
        if math.isnan(self.value):
            return "–"
        if math.isinf(self.value):
            return "given up"
        digits = 0 if abs(self.value) >= 100 else 1 if abs(self.value) >= 10 else 2
        return f"{self.value:,.{digits}f} {self.unit}"


@dataclass(frozen=True)
class Goal:
    """What a row is to reach: figures at most (or at least) so much, ratios at most (or at least) so many times."""

    most: float | None = None
    most_ratio: float | None = None
    least_ratio: float | None = None

    def __str__(self) -> str:
        said = [
            f"≤ {self.most:g}" if self.most is not None else "",
            f"≤ {self.most_ratio:g} times" if self.most_ratio is not None else "",
            f"≥ {self.least_ratio:g} times" if self.least_ratio is not None else "",
        ]
        return ", ".join(part for part in said if part) or "told"

    def met(self, value: float, ratio: float | None) -> bool | None:
        """Whether it is reached; None where nothing is asked."""
        if self == TOLD or math.isnan(value):
            return None if self == TOLD else False
        asked = [] if self.most is None else [value <= self.most]
        if self.most_ratio is not None:
            asked.append(ratio is not None and ratio <= self.most_ratio)
        if self.least_ratio is not None:
            asked.append(ratio is not None and ratio >= self.least_ratio)
        return all(asked)


TOLD = Goal()


@dataclass(frozen=True)
class Row:
    """One line. `peer` is what stands beside it in the same run; `before` the same of an earlier commit."""

    what: str
    ours: Figure
    warm: str
    goal: Goal = TOLD
    peer: Figure | None = None
    before: Figure | None = None
    faster_counts: bool = False
    """The ratio is how many times faster than the peer, instead of how many times its cost."""

    @property
    def ratio(self) -> float | None:
        """Ours over the peer, or the peer over ours."""
        if self.peer is None or not self.peer.value or not self.ours.value or math.isnan(self.ours.value):
            return None
        share = self.ours.value / self.peer.value
        return 1.0 / share if self.faster_counts else share

    @property
    def met(self) -> bool | None:
        """Whether its goal is reached."""
        return self.goal.met(self.ours.value, self.ratio)

    def cells(self) -> tuple[str, ...]:
        """As they are printed."""
        ratio = "–" if self.ratio is None else f"{self.ratio:.{0 if self.ratio >= 10 else 1}f}"
        met = {True: "met", False: "missed", None: ""}[self.met]
        peer, before = (str(each) if each is not None else "–" for each in (self.peer, self.before))
        return (self.what, str(self.ours), before, peer, ratio, str(self.goal), met, self.warm)


def as_text(rows: Sequence[Row]) -> str:
    """The table for a terminal."""
    cells = [COLUMNS, *(row.cells() for row in rows)]
    widths = [max(len(line[column]) for line in cells) for column in range(len(COLUMNS))]
    return "\n".join("  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
                     for line in cells)  # fmt: skip


def as_markdown(rows: Iterable[Row]) -> str:
    """The table for the front page."""
    lines = [COLUMNS, tuple("---" for _ in COLUMNS), *(row.cells() for row in rows)]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)
