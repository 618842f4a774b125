"""Flake drinks resin: what the coat over it really takes, where the job file counts on far less."""

from __future__ import annotations

from mixclock.decide.plan.floor.quantities import OVER_FLAKE_UM
from mixclock.job.practice import stated_film_um
from mixclock.job.progress import Batch, Standing


def over_flake(standing: Standing, batch: Batch) -> str | None:
    """The gauge reading to take with the first bucket over flake; None where the planned film is thick enough."""
    coat = standing.site.coat(batch.coat) if batch.coat else None
    first = not any(one.coat == batch.coat and one.id < batch.id for one in standing.batches)
    if coat is None or not coat.over_flake or not first:
        return None
    film_um = stated_film_um(coat, standing.profile(coat.product))
    if film_um is None or film_um >= OVER_FLAKE_UM[0]:
        return None
    units = standing.site.units
    most, least = (units.write_spread(1000.0 / film) for film in OVER_FLAKE_UM)
    counted = units.write_spread(1000.0 / film_um)
    return f"the wet film, by a gauge: over flake {least} to {most} is usual, the plan counts on {counted}"
