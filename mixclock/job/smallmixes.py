"""Small mixes outside the plan: where they lie, and which windows they have."""

from __future__ import annotations

from mixclock.job.progress import Batch, Standing
from mixclock.job.steps import FOOT_TRAFFIC, FULL_CURE, RECOAT, TACK_FREE, VEHICLE_TRAFFIC

OF_A_SPOT = (TACK_FREE, RECOAT)
"""When a small mix may be touched, and coated over."""

OF_A_REPAIR = (*OF_A_SPOT, FOOT_TRAFFIC, VEHICLE_TRAFFIC, FULL_CURE)
"""On a finished floor nothing goes over it: people walk and drive on it."""


def spot_areas(standing: Standing, batch: Batch) -> tuple[str, ...]:
    """The areas of the floor on which a small mix lies. Its own place names its use and these areas."""
    if batch.spot is None:
        return ()
    places = f"{', '.join(batch.areas)},"
    return tuple(area.name for area in standing.site.areas if f", {area.name}," in places)


def is_repair(standing: Standing, batch: Batch) -> bool:
    """Whether a small mix went onto a finished floor: every coat of its areas lay there before."""
    areas = spot_areas(standing, batch)
    return bool(areas) and all(_lay_before(standing, area, batch) for area in areas)


def _lay_before(standing: Standing, area: str, batch: Batch) -> bool:
    laid = standing.pours.get(area, {})
    return all(
        any(pour.at < batch.combined.at for pour in laid.get(coat.name, ()))
        for coat in standing.site.coats
        if coat.goes_on(area)
    )


def windows_of_spot(standing: Standing, batch: Batch) -> tuple[str, ...] | None:
    """The windows of a small mix on the floor; None for a batch of a coat, which has all windows of its sheet."""
    if batch.spot is None:
        return None
    return OF_A_REPAIR if is_repair(standing, batch) else OF_A_SPOT
