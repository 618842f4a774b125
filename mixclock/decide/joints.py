"""Where wet film meets the next batch: which neighbours still wait, and when they were joined."""

from __future__ import annotations

from datetime import datetime

from mixclock.job.progress import Batch, Standing, Stated
from mixclock.job.site import Site


def neighbours_of(site: Site, area: str) -> tuple[str, ...]:
    """The areas that touch this one: as the job names them, else those before and after it in order."""
    here = site.area(area)
    if here is None:
        return ()
    if any(other.next_to for other in site.areas):
        back = (other.name for other in site.areas if area in other.next_to)
        return tuple(dict.fromkeys((*here.next_to, *back)))
    names = [other.name for other in sorted(site.areas, key=lambda other: (other.order is None, other.order or 0))]
    at = names.index(area)
    return tuple(names[place] for place in (at - 1, at + 1) if 0 <= place < len(names))


def neighbours_waiting(standing: Standing, batch: Batch, area: str) -> tuple[str, ...]:
    """Neighbours on which this coat has not been poured, among the areas that get it."""
    coat = standing.site.coat(batch.coat) if batch.coat else None
    wanted = set(coat.areas) if coat and coat.areas else {other.name for other in standing.site.areas}
    laid = {name for other in _same_coat(standing, batch) for portion in other.portions for name in portion.areas}
    return tuple(name for name in neighbours_of(standing.site, area) if name in wanted and name not in laid)


def joined_at(standing: Standing, batch: Batch, area: str, poured: datetime) -> Stated | None:
    """When the last neighbour was poured, once none waits; the pour itself where all were there before."""
    if neighbours_waiting(standing, batch, area):
        return None
    around = set(neighbours_of(standing.site, area))
    pours = [
        portion.poured
        for other in _same_coat(standing, batch)
        for portion in other.portions
        if portion.poured.at >= poured and (around & set(portion.areas) or area in portion.areas)
    ]
    return max(pours, key=lambda stated: stated.at, default=None)


def _same_coat(standing: Standing, batch: Batch) -> list[Batch]:
    return [other for other in standing.batches if other.coat == batch.coat]
