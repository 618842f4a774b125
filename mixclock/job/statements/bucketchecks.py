"""The reasons to refuse a statement about a bucket."""

from __future__ import annotations

from collections.abc import Sequence

from mixclock.job.batchbuilding import EMPTY_ENOUGH
from mixclock.job.candidates import described, where_it_lies
from mixclock.job.progress import Batch, Standing
from mixclock.job.saying import Attribution, CannotTellError, clock
from mixclock.units import Amount

_FILM_IS_PILED = 1.5
"""Nobody covers half as much again as an area has. Whoever says so took the wrong unit (judgement)."""


def refuse_finished(standing: Standing, said: Attribution) -> None:
    """Refuse a new batch on a finished job."""
    if standing.finished is not None and said.when >= standing.finished:
        raise CannotTellError(
            f"the job '{standing.job}' was finished at {clock(standing, standing.finished)}; "
            "choose another with `mixclock job use NAME`, or withdraw its finish"
        )


def refuse_ended(standing: Standing, batch: Batch) -> None:
    """Refuse a second end of a mixing."""
    if batch.mixing_stated:
        raise CannotTellError(f"{described(standing, batch)} is mixed already; state what came next")


def refuse_poured(standing: Standing, batch: Batch) -> None:
    """Refuse to pour a bucket that was poured out already."""
    if batch.emptied is not None and batch.is_out:
        raise CannotTellError(
            f"batch {batch.id} was poured out at {clock(standing, batch.emptied.at)}; "
            f"`withdraw {batch.emptied.entry}` first if that was wrong"
        )


def not_before(standing: Standing, said: Attribution, batch: Batch, what: str) -> None:
    """Refuse whatever is dated before its batch was begun."""
    if said.is_before(batch.combined.at):
        raise CannotTellError(
            f"batch {batch.id} was begun at {clock(standing, batch.combined.at)}, so it cannot have been {what} at "
            f"{clock(standing, said.when)}; mend --at"
        )


def refuse_more_than_left(standing: Standing, batch: Batch, part: Amount | None) -> None:
    """Refuse to pour more than is left in the bucket."""
    if part is None:
        return
    part_l = part.volume_l if part.volume_l is not None else (part.mass_kg or 0.0) * batch.volume_l / batch.mass_kg
    only_implied = any(portion.assumed for portion in batch.portions)
    left_l = batch.volume_l if only_implied else batch.left_l
    if part_l * EMPTY_ENOUGH > left_l:
        units = standing.site.units
        raise CannotTellError(
            f"batch {batch.id} has {units.write_volume(left_l)} left, not {units.write_volume(part_l)}; mend --part"
        )


def refuse_more_than_floor(standing: Standing, batch: Batch, places: Sequence[str], covered_m2: float | None) -> None:
    """Refuse to cover more floor than there is."""
    names = places or where_it_lies(batch)
    sizes = [area.size_m2 for area in standing.site.areas if area.name in names]
    if covered_m2 is not None and covered_m2 > _FILM_IS_PILED * sum(sizes):
        units = standing.site.units
        raise CannotTellError(
            f"{' and '.join(names)} has {units.write_area(sum(sizes))}, so {units.write_area(covered_m2)} cannot "
            "have been covered; mend --covered or say every --on AREA"
        )
