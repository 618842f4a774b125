"""Which batch a statement means if it names none. If only one can be meant, it is that one; else all are listed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from mixclock.job.entry import Combined
from mixclock.job.profile import SheetSpan
from mixclock.job.progress import Batch, Standing, StatedFact
from mixclock.job.saying import CannotTellError, clock
from mixclock.job.steps import FILM_ORDER, POUR_OUT, comes_after

LONG_PAST = 3.0
"""After this many times the longest span that the sheet allows for a step, nobody means that batch any more
(judgement)."""


def described(standing: Standing, batch: Batch) -> str:
    """A batch, with what tells it from the others."""
    units = standing.site.units
    amount = units.write_volume(batch.volume_l)
    places = ", ".join(batch.areas)
    return f"batch {batch.said} ({batch.product}, {amount}, {places}, mixed {clock(standing, batch.combined.at)})"


def the_one(standing: Standing, found: Sequence[Batch], nothing: str) -> Batch:
    """The only batch that can be meant."""
    if not found:
        raise CannotTellError(nothing)
    if len(found) > 1:
        listed = "; ".join(described(standing, batch) for batch in found)
        raise CannotTellError(f"{len(found)} batches can be meant, say which number: {listed}")
    return found[0]


def being_mixed(standing: Standing, when: datetime) -> list[Batch]:
    """Batches whose mixing nobody has ended."""
    ended = {entry.number for entry in standing.entries if isinstance(entry.facts, Combined) and entry.facts.ended}
    started = [batch for batch in standing.batches if batch.combined.at <= when and batch.combined.entry not in ended]
    found = [batch for batch in started if not batch.mixing_stated and not batch.portions]
    return _not_long_past(standing, found, POUR_OUT, when)


def in_the_bucket(standing: Standing, when: datetime, areas: Sequence[str] = ()) -> list[Batch]:
    """Batches that nobody has stated to be out of the bucket. If any of them are for these areas, only those."""
    held = [batch for batch in standing.batches if batch.combined.at <= when and not batch.is_out]
    there = [batch for batch in held if set(batch.areas) & set(areas)]
    return _not_long_past(standing, there or held, POUR_OUT, when)


def waiting_for(standing: Standing, step: str, when: datetime, areas: Sequence[str] = ()) -> list[Batch]:
    """Batches on which a step is still to be done. Those on the floor come before those in a bucket."""
    started = [batch for batch in standing.batches if batch.combined.at <= when and batch.spot is None]
    open_still = [batch for batch in started if not _settled(batch, step, areas) and _lies_on(batch, areas)]
    with_window = [batch for batch in open_still if _has_window(standing, batch, step)] or open_still
    recent = _not_long_past(standing, with_window, step, when)
    return [batch for batch in recent if batch.portions] or recent


def step_done(batch: Batch, step: str, areas: Sequence[str] = ()) -> StatedFact | None:
    """When a step was stated on all of the areas; on all of the batch's if none are named."""
    if step == POUR_OUT:
        return batch.emptied if batch.is_out else None
    places = [(portion, area) for portion in batch.portions for area in portion.areas if not areas or area in areas]
    if not places:
        return None if areas else batch.done.get(step)
    found = [portion.step(step, area) for portion, area in places]
    return found[-1] if all(found) else None


def where_it_lies(batch: Batch) -> tuple[str, ...]:
    """The areas on which a batch was poured, or is meant to be."""
    return tuple(dict.fromkeys(area for portion in batch.portions for area in portion.areas)) or batch.areas


def _settled(batch: Batch, step: str, areas: Sequence[str]) -> bool:
    if step_done(batch, step, areas) is not None:
        return True
    later = [name for name in FILM_ORDER if step in comes_after(name)]
    return any(step_done(batch, each, areas) is not None for each in later)


def _lies_on(batch: Batch, areas: Sequence[str]) -> bool:
    return not areas or bool(set(where_it_lies(batch)) & set(areas))


def _has_window(standing: Standing, batch: Batch, step: str) -> bool:
    profile = standing.profile(batch.product)
    return profile is not None and (step == POUR_OUT or profile.window(step) is not None)


def _not_long_past(standing: Standing, found: Sequence[Batch], step: str, when: datetime) -> list[Batch]:
    recent = [batch for batch in found if not _long_past(standing, batch, step, when)]
    return recent or list(found)


def _long_past(standing: Standing, batch: Batch, step: str, when: datetime) -> bool:
    profile = standing.profile(batch.product)
    span: SheetSpan | None = None
    if profile is not None and step == POUR_OUT:
        span = profile.pot_life.span if profile.pot_life else None
    elif profile is not None:
        rule = profile.window(step)
        span = rule.closes if rule else None
    if span is None:
        return False
    start = batch.portions[-1].poured.at if batch.portions else batch.combined.at
    return (when - start).total_seconds() > LONG_PAST * max(point.span_s for point in span.points)
