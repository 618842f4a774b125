"""What becomes of a film under the next coat: when that went on, and whether the film was sanded for it."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from mixclock.job.entry import Noted
from mixclock.job.progress import Batch, Standing, StatedFact
from mixclock.job.tradefacts import ABRADED

YES = "yes"
SANDED_SAID = "it was sanded, so it does not shut"


def next_pour(standing: Standing, batch: Batch, area: str, after: datetime) -> StatedFact | None:
    """The first pour of another coat on the area."""
    later = [
        poured
        for coat, pours in standing.pours.get(area, {}).items()
        if coat != batch.coat
        for poured in pours
        if poured.at > after
    ]
    return min(later, key=lambda stated: stated.at, default=None)


def is_sanded(standing: Standing, batch: int, areas: Collection[str], poured: datetime) -> bool:
    """Whether the last word on a film that was noted after its pour says that it was sanded. The next coat then bonds
    however late it comes."""
    notes = sorted(
        (entry.happened, answer)
        for entry in standing.live()
        if isinstance(entry.facts, Noted)
        and entry.facts.area in (*areas, None)
        and entry.facts.batch in (batch, None)
        and entry.happened > poured
        and (answer := ABRADED.answered(entry.facts.text)) is not None
    )
    return bool(notes) and notes[-1][1] == YES


def waits_sanded(standing: Standing, batch: Batch, area: str, poured: datetime) -> bool:
    """Whether a film was sanded and no other coat lies on it yet: its recoat does not shut."""
    return is_sanded(standing, batch.id, (area,), poured) and next_pour(standing, batch, area, poured) is None
