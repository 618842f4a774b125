"""The rest of an area whose own film is wet goes down first: nothing else meets that edge."""

from __future__ import annotations

from datetime import datetime

from mixclock.decide.plan.days.bench import Standpoint
from mixclock.decide.plan.days.coattask import CoatRefusal, CoatTask, Session
from mixclock.decide.plan.days.hands import lay_coat
from mixclock.decide.plan.floor.conditions import Stretch
from mixclock.decide.plan.floor.pieces import uncut
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import Area
from mixclock.values import replace


def laid_begun_first(
    task: CoatTask, standpoint: Standpoint, stretches: list[Stretch], ways: Ways
) -> list[Session] | CoatRefusal:
    """A coat laid so, wherever the begun area stands in the order of work; where that does not fit, in that order."""
    areas = _begun_first(task, standpoint)
    found = lay_coat(_in_order(task, areas), stretches, ways)
    if areas == task.areas or not isinstance(found, CoatRefusal):
        return found
    as_ordered = lay_coat(task, stretches, ways)
    return found if isinstance(as_ordered, CoatRefusal) else as_ordered


def _begun_first(task: CoatTask, standpoint: Standpoint) -> tuple[Area, ...]:
    """The areas, first those with a live edge of their own, the one that shuts soonest before the others."""
    coat = task.setting.coat.name
    begun: dict[str, datetime] = {name: by for name, by in task.joined_by.items() if (coat, name) in standpoint.edges}
    first = sorted((area for area in task.areas if area.name in begun), key=lambda area: begun[area.name])
    return (*first, *(area for area in task.areas if area.name not in begun))


def _in_order(task: CoatTask, areas: tuple[Area, ...]) -> CoatTask:
    if areas == task.areas:
        return task
    return replace(task, areas=areas, setting=replace(task.setting, pieces=uncut(areas)))
