"""All areas side by side: which one is the odd one, and in what."""

from __future__ import annotations

from dataclasses import dataclass

from mixclock.decide.why.case import Case
from mixclock.decide.why.diagnosis import SUGGESTED_FROM, Diagnosis, Suspect, diagnose

WORTH_NAMING = 0.1
"""Below this nothing is said of an area (judgement)."""


@dataclass(frozen=True)
class Compared:
    """One area beside the others: what was found on it, and what in its record is furthest past a limit."""

    area: str
    found: tuple[str, ...]
    diagnosis: Diagnosis

    @property
    def worst(self) -> Suspect | None:
        """The cause for which most speaks, where anything does."""
        known = [suspect for suspect in self.diagnosis.suspects if suspect.evidence and suspect.score >= WORTH_NAMING]
        return known[0] if known else None

    @property
    def weight(self) -> float:
        """How odd it is."""
        worst = self.worst
        return worst.score if worst is not None else 0.0


def compare(case: Case) -> tuple[Compared, ...]:
    """Every area that has a coat, the odd ones first."""
    areas = dict.fromkeys([*(area for area, _ in case.laid), *case.findings])
    rows = [Compared(area, _found(case, area), diagnose(case, area)) for area in areas]
    return tuple(sorted(rows, key=lambda row: (-row.weight, not row.found, row.area)))


def _found(case: Case, area: str) -> tuple[str, ...]:
    return tuple(str(getattr(entry.facts, "symptom", "")) for entry in case.findings.get(area, ()))


def odd_one(rows: tuple[Compared, ...]) -> Compared | None:
    """The area that stands out; None where none does."""
    if not rows or rows[0].weight < SUGGESTED_FROM:
        return None
    return rows[0]
