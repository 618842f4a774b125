"""What changed since the last plan, in words."""

from __future__ import annotations

from mixclock.decide.plan.floor.plans import Plan
from mixclock.units import METRIC_CREW, CrewUnits, write_span


def changes_since(before: Plan | None, plan: Plan, units: CrewUnits = METRIC_CREW) -> tuple[str, ...]:
    """What changed since the last plan, in words; nothing where there was none."""
    if before is None or before.finish is None:
        return ()
    if plan.finish is None or not plan.feasible:
        return ("the last plan does not hold any more",)
    said = []
    minutes = round((plan.finish - before.finish).total_seconds() / 60.0)
    if minutes:
        said.append(f"done {_moved_by(minutes)} than planned before")
    was, now = (len(each.batches) + len(each.kept) for each in (before, plan))
    if was != now:
        said.append(f"{now} batches in all, {was} were planned before")
    said += _moved(before, plan, units)
    return tuple(said) or ("nothing has changed",)


def _moved_by(minutes: int) -> str:
    """By how much something comes later or sooner, as a person says it.

    >>> _moved_by(12), _moved_by(-1362)
    ('12 min later', '22 h 30 min sooner')
    """
    return f"{write_span(abs(minutes) * 60.0)} {'later' if minutes > 0 else 'sooner'}"


def _moved(before: Plan, plan: Plan, units: CrewUnits) -> list[str]:
    """The next batch, if its hour, its size or its areas changed."""
    nearest = min(plan.batches, key=lambda batch: batch.mixed_at, default=None)
    old = next((batch for batch in before.batches if nearest is not None and batch.number == nearest.number), None)
    if nearest is None or old is None:
        return []
    said = []
    minutes = round((nearest.mixed_at - old.mixed_at).total_seconds() / 60.0)
    if minutes:
        said.append(f"batch {nearest.number} is mixed {_moved_by(minutes)}")
    if old.areas != nearest.areas:
        said.append(f"batch {nearest.number} goes on {', '.join(nearest.areas)} instead of {', '.join(old.areas)}")
    elif abs(nearest.volume_l - old.volume_l) > 0.05 * old.volume_l:
        is_now, was_before = (units.write_volume(each.volume_l) for each in (nearest, old))
        said.append(f"batch {nearest.number} is {is_now} instead of {was_before}")
    return said
