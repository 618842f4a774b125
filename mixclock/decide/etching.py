"""What ends an acid's time on the slab: the neutraliser, stated as a step or poured as a product of its own."""

from __future__ import annotations

from datetime import datetime

from mixclock.job.profile import Family
from mixclock.job.progress import Batch, Portion, Standing, StatedFact
from mixclock.job.steps import row_of


def treated_at(
    standing: Standing, batch: Batch, portion: Portion, window: str, area: str, after: datetime
) -> StatedFact | None:
    """When the solution's dwell ended, or when it was neutralised; None if nobody said so."""
    found = [portion.step(step, area) for step in row_of(window).ended_by]
    ends = [stated for stated in found if stated is not None]
    profile = standing.profile(batch.product)
    if profile is not None and profile.family is Family.ACID_ETCH:
        ends += _neutraliser_poured(standing, area, after)
    return min(ends, key=lambda stated: stated.at, default=None)


def _neutraliser_poured(standing: Standing, area: str, after: datetime) -> list[StatedFact]:
    pours = []
    for batch in standing.batches:
        profile = standing.profile(batch.product)
        if profile is not None and profile.family is Family.NEUTRALISER:
            pours += [each.poured for each in batch.portions if area in each.areas and each.poured.at >= after]
    return pours
