"""What a coat drinks over flake, where the job file counts on far less."""

from __future__ import annotations

from mixclock.job.progress import Batch, Standing

OVER_FLAKE_UM = (272.0, 314.0)
"""The film that a top coat takes over flake: 130 to 150 ft²/gal (a flake installer's polyaspartic sheet, read as an
excerpt)."""


def over_flake(standing: Standing, batch: Batch) -> str | None:
    """The gauge reading that is worth taking with the first bucket over flake; None where the film allows for it."""
    coat = standing.site.coat(batch.coat) if batch.coat else None
    below = standing.site.coat(coat.after) if coat is not None and coat.after else None
    first = not any(one.coat == batch.coat and one.id < batch.id for one in standing.batches)
    if coat is None or below is None or not below.flake_kg_m2 or not first:
        return None
    film_um = coat.wet_film_um or (1000.0 / coat.spread_m2_l if coat.spread_m2_l else None)
    if film_um is None or film_um >= OVER_FLAKE_UM[0]:
        return None
    units = standing.site.units
    most, least = (units.write_spread(1000.0 / film) for film in OVER_FLAKE_UM)
    counted = units.write_spread(1000.0 / film_um)
    return f"the wet film, by a gauge: over flake {least} to {most} is usual, the job file counts on {counted}"
