"""Never a storm of calls: whoever was called enough in the last minutes gets only what cannot wait.

About one call in ten minutes is manageable and two are the most (EEMUA 191 and ISA-18.2, known from secondary sources).
Only a warning of what is not critical and a notice can wait. A deadline never does.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from mixclock.decide.shapes import Alert, Rank, Stage
from mixclock.job.entry import Raised
from mixclock.job.progress import Standing

CALLS_WITHIN = timedelta(minutes=10)
CALLS_ENOUGH = 2

SAME_CALL = timedelta(seconds=1)
"""Alerts raised this close together were said as one call."""


def can_wait(alert: Alert) -> bool:
    """Whether an alert is a warning or a notice rather than a deadline."""
    return alert.rank is Rank.NOTICE or (alert.rank is Rank.TIMELY and alert.stage is Stage.HEADS_UP)


def calls_lately(standing: Standing, now: datetime) -> Mapping[str | None, list[datetime]]:
    """When each person was called for the first time by an alert in the last minutes; None is everybody."""
    calls: dict[str | None, list[datetime]] = {}
    for raising in standing.raised_after(now - CALLS_WITHIN):
        facts, at = raising.entry.facts, raising.entry.happened
        if isinstance(facts, Raised) and facts.repeat == 0 and now - CALLS_WITHIN < at <= now:
            moments = calls.setdefault(facts.who, [])
            if not moments or at - moments[-1] > SAME_CALL:
                moments.append(at)
    return calls


def most_calls(calls: Mapping[str | None, list[datetime]], who: str | None) -> int:
    """How many calls a person had, with those to everybody. For everybody, it is the count of whoever had most."""
    everybody = calls.get(None, [])
    persons = [who] if who is not None else [person for person in calls if person is not None]
    return max((_distinct([*everybody, *calls.get(one, [])]) for one in persons), default=_distinct(everybody))


def _distinct(moments: list[datetime]) -> int:
    ordered = sorted(moments)
    return sum(place == 0 or at - ordered[place - 1] > SAME_CALL for place, at in enumerate(ordered))
