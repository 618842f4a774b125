"""Where wet film meets the next batch: which neighbours still wait, and when they were joined."""

from __future__ import annotations

from datetime import datetime

from mixclock.job.progress import Batch, Standing, StatedFact
from mixclock.job.site import Site


def neighbours_of(site: Site, area: str) -> tuple[str, ...]:
    """The areas that touch this one: as the job names them, else those before and after it in order."""
    return site.neighbours.get(area, ())


def neighbours_waiting(standing: Standing, batch: Batch, area: str) -> tuple[str, ...]:
    """Neighbours on which this coat has not been poured, among the areas that get it."""
    coat = standing.site.coat(batch.coat) if batch.coat else None
    return tuple(
        name
        for name in neighbours_of(standing.site, area)
        if (name in coat.areas if coat and coat.areas else standing.site.area(name) is not None)
        and batch.coat not in standing.pours.get(name, {})
    )


def joined_at(standing: Standing, batch: Batch, area: str, poured: datetime) -> StatedFact | None:
    """When the last neighbour was poured, once none waits. If all were there before, it is the pour itself."""
    if neighbours_waiting(standing, batch, area):
        return None
    joints = []
    for name in dict.fromkeys((*neighbours_of(standing.site, area), area)):
        pours = [each for each in standing.pours.get(name, {}).get(batch.coat, ()) if each.at >= poured]
        later = [each for each in pours if each.at > poured]
        if pours:  # the first pour beside it made the joint; a later pour there met another edge
            joints.append(min(later or pours, key=lambda stated: stated.at))
    return max(joints, key=lambda stated: stated.at, default=None)
