"""What a search has cost so far, counted in steps of work and not in seconds: so every machine gives up at the same
place.

One unit is one step of a network timed once, with what a walk does around that: some two millionths of a second. What
else a search does is weighed by how much longer it took, fitted over 74 searches of six floors.
"""

from __future__ import annotations

from mixclock.values import dataclass

A_BUCKET = 3000
"""The clock of one bucket, worked out from its heat."""

A_BATCH = 50
"""The windows and the times of one batch, read off clocks that are known."""

A_STEP_BUILT = 2
"""One step of a network, with its links."""

A_SOLVER_SECOND = 1_600_000
"""One second in an installed solver's own time, which counts its steps, too."""

A_COLUMN, COLUMN_ROWS = 12, 6
"""One step timed for a column of ways of working at once, and for how many of them that is one unit more."""

WORK_A_SECOND = 400_000
"""The work of a second on an idle core: what a bound is stated by. Where a core is slower, the same answer takes
longer."""


@dataclass
class Meter:
    """How much work was done by all who share it."""

    work: int = 0

    def spend(self, work: float) -> None:
        """Count work that was just done."""
        self.work += round(work)
