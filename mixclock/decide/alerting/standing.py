"""All alerts that stand at an instant, the most urgent first."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from mixclock.decide.alerting.closing import closing_alerts
from mixclock.decide.alerting.happenings import dew_alerts, hot_alerts, mixing_alerts
from mixclock.decide.alerting.opening import area_alerts, opening_alerts
from mixclock.decide.shapes import STAGE_ORDER, Alert
from mixclock.decide.tracks import Track
from mixclock.decide.windows import seen_at
from mixclock.job.progress import Standing
from mixclock.job.steps import HOT, RANK_ORDER


def alerts(
    standing: Standing, found: Sequence[Track], now: datetime, advice: Sequence[Alert] = ()
) -> tuple[Alert, ...]:
    """Every alert that stands: closing and opening edges, mixing, heat, dew, and what the plan advises."""
    if standing.finished is not None and standing.finished <= now:
        return ()
    seen = [seen_at(track, now, ripe=False) for track in found]
    every = [
        *hot_alerts(standing, now),
        *closing_alerts(standing, found, now),
        *mixing_alerts(standing, now),
        *opening_alerts(standing, found, now),
        *area_alerts(standing, seen, now),
        *dew_alerts(standing, seen, now),
        *advice,
    ]
    return tuple(sorted(every, key=urgency))


def urgency(alert: Alert) -> tuple[int, bool, int, datetime, str]:
    """Sorts the critical first, a hot bucket before all, then the later stage, then what fell due first."""
    is_calm = alert.step != HOT
    return RANK_ORDER.index(alert.rank), is_calm, -STAGE_ORDER.index(alert.stage), alert.due, alert.id
