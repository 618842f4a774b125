"""All areas side by side: which one stands out, and by what."""

from __future__ import annotations

from collections.abc import Sequence

from mixclock.decide.why.case import Case
from mixclock.decide.why.diagnosis import Diagnosis, diagnose
from mixclock.decide.why.suspects import SUGGESTED_FROM, Suspect
from mixclock.values import dataclass

AS_ODD = 0.05
"""Areas whose weights differ by less than this stand out equally (judgement)."""


@dataclass(frozen=True)
class AreaComparison:
    """One area beside the others: what was found on it, and which part of its record is furthest past a limit."""

    area: str
    found: tuple[str, ...]
    diagnosis: Diagnosis

    @property
    def worst(self) -> Suspect | None:
        """The cause that is named first, if any is."""
        return self.diagnosis.named[0] if self.diagnosis.named else None

    @property
    def weight(self) -> float:
        """How far the area stands out."""
        worst = self.worst
        return worst.score if worst is not None else 0.0


def compare(case: Case) -> tuple[AreaComparison, ...]:
    """Every area that has a coat: first the one that stands out, then those with a fault."""
    areas = dict.fromkeys([*(area for area, _ in case.layers), *case.findings])
    rows = [AreaComparison(area, _found(case, area), diagnose(case, area)) for area in areas]
    odd = odd_one(rows)
    return tuple(sorted(rows, key=lambda row: (row is not odd, not row.found, -row.weight, row.area)))


def _found(case: Case, area: str) -> tuple[str, ...]:
    return tuple(str(getattr(entry.facts, "symptom", "")) for entry in case.faults(area))


def odd_one(rows: Sequence[AreaComparison]) -> AreaComparison | None:
    """The area that stands out; None if none does, or if another has as much of the same."""
    ranked = sorted(rows, key=lambda row: -row.weight)
    if not ranked or ranked[0].weight < SUGGESTED_FROM:
        return None
    found = [row for row in ranked if ranked[0].weight - row.weight < AS_ODD and _names(row) & _names(ranked[0])]
    told = [row for row in found if row.found] or found
    return told[0] if len(told) == 1 else None


def _names(row: AreaComparison) -> set[str]:
    return {suspect.cause.name for suspect in row.diagnosis.named}
