"""Whether a coat in strips keeps a reserve at all, asked before the coats below it are laid for that.

With more in reserve it is mostly such a coat that does not fit, and to lay the floor below it takes longer than to see
that. What does not fit alone, on a floor that is open from the start, fits on no other.
"""

from __future__ import annotations

from mixclock.decide.plan.days.coattask import CoatRefusal, CoatTask
from mixclock.decide.plan.days.hands import lay_coat
from mixclock.decide.plan.floor.conditions import Stretch, from_then_on
from mixclock.decide.plan.floor.films import Ground
from mixclock.decide.plan.search.schedule import Ways
from mixclock.values import replace


def refused_alone(task: CoatTask, stretches: list[Stretch], ways: Ways) -> CoatRefusal | None:
    """Why a coat does not fit even alone; None if it does, or was never laid in strips. It is asked from the hour on at
    which it was laid before: the clocks of its buckets are known there."""
    begun = ways.laid.begun_in_strips(task.setting.coat)
    if begun is None or task.setting.reserve >= 1.0 or not ways.rough:
        return None
    found = lay_coat(replace(task, below=Ground()), from_then_on(stretches, begun), ways)
    return found if isinstance(found, CoatRefusal) else None
