"""What a plan says of the job as it stands. The planner is loaded only if the log holds a plan or a question for a
kit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from mixclock.decide.alerting.dayends import PlanSays
from mixclock.decide.tracks import Track
from mixclock.job.dayentries import KitAsked
from mixclock.job.entry import Planned
from mixclock.job.progress import Standing

if TYPE_CHECKING:
    from mixclock.decide.plan.days.kitcalls import KitDesk


def said_by_plan(
    standing: Standing, found: Sequence[Track], now: datetime, desk: Callable[[], KitDesk]
) -> Callable[[], PlanSays]:
    """What the plans in the log and the question of the next kit add to `alerts`; nothing if there is neither."""
    if not any(isinstance(entry.facts, Planned | KitAsked) for entry in standing.entries):
        return PlanSays

    def said() -> PlanSays:
        from mixclock.decide.plan.days.kitcalls import plan_of

        return plan_of(standing, found, now, desk())

    return said
