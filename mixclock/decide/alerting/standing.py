"""All alerts that stand at an instant, the most urgent first."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from functools import partial

from mixclock.decide.alerting.alone import alone_alert
from mixclock.decide.alerting.closing import closing_alert
from mixclock.decide.alerting.dayends import PlanSays, heard_of_plan, tape_alert
from mixclock.decide.alerting.grit import stir_alert
from mixclock.decide.alerting.happenings import dew_alert, hot_alert, mixing_alert, wet_films, without_overtaken
from mixclock.decide.alerting.naming import slug
from mixclock.decide.alerting.opening import area_alerts, opening_alert
from mixclock.decide.shapes import Alert, Stage, Trouble
from mixclock.decide.tracks import Track
from mixclock.decide.windows import area_windows, seen_at
from mixclock.job.progress import Standing
from mixclock.job.stepkinds import RANK_ORDER, SAVABLE_FIRST
from mixclock.job.steps import HOT, TROUBLE, row_of

Made = Alert | Iterable[Alert] | None
Source = tuple[str, datetime, Callable[[], Made]]
"""What an alert is about, since when, and how it is worked out."""


def alerts(
    standing: Standing, found: Sequence[Track], now: datetime, plan: Callable[[], PlanSays] = PlanSays
) -> tuple[Alert, ...]:
    """Every alert that stands: closing and opening edges, mixing, heat, dew, and what the plan advises.

    Each is worked out alone. One that cannot be is an alert itself, which says so, and silences no other.
    """
    if standing.finished is not None and standing.finished <= now:
        return ()
    begun = standing.entries[0].happened if standing.entries else now
    says, trouble = _what_plan_says(begun, plan)
    sources = _sources(standing, found, says, now)
    every = without_overtaken([alert for source in sources for alert in _alone(*source)], now)
    return tuple(sorted((*heard_of_plan(every, says), *says.advice, *trouble), key=urgency))


def _what_plan_says(since: datetime, plan: Callable[[], PlanSays]) -> tuple[PlanSays, list[Alert]]:
    try:
        return plan(), []
    except Exception as error:  # a plan that cannot be read silences no window
        return PlanSays(), [trouble_alert("what the plan says", since, error)]


def _sources(standing: Standing, found: Sequence[Track], says: PlanSays, now: datetime) -> Iterator[Source]:
    ours = {batch.id for batch in standing.batches if standing.calls(batch)}
    laid = {(track.area, track.batch.coat) for track in found if track.batch.id in ours}
    for batch in standing.batches:
        if batch.id not in ours:
            continue  # its own van calls it out
        what, since = f"batch {batch.id}", batch.combined.at
        yield what, since, partial(hot_alert, standing, batch, now)
        yield what, since, partial(mixing_alert, standing, batch, now)
        yield what, since, partial(stir_alert, standing, batch, now)
    begun = standing.entries[0].happened if standing.entries else now
    yield "the check-in", begun, partial(alone_alert, standing, found, now)
    gone = {track.batch.id: edge.late or edge.likely for track in found
            if track.bucket is not None and (edge := track.closing) is not None}  # fmt: skip
    for track in (each for each in found if each.batch.id in ours):
        what = f"batch {track.batch.id}, {track.name.replace('-', ' ')}"
        yield what, track.starts, partial(closing_alert, standing, track, now, _is_poured_lost(track, gone))
        yield what, track.starts, partial(opening_alert, standing, track, now)
        yield what, track.starts, partial(tape_alert, standing, track, says.ends, now)
    seen = [seen_at(track, now, ripe=False) for track in found]
    for (area, coat), group in area_windows(seen, now).items():
        if (area, coat) not in laid:
            continue
        yield area, group[0].starts, partial(area_alerts, standing, group, area, coat, now)
    for area, window in wet_films([window for window in seen if window.batch in ours], now).items():
        yield f"the dew point on {area}", window.starts, partial(dew_alert, standing, area, window, now)


def _is_poured_lost(track: Track, gone: Mapping[int, datetime]) -> bool:
    """Whether a portion went on the floor past the late edge of its bucket: only what still flows can be saved."""
    late = gone.get(track.batch.id)
    poured = next((each.poured.at for each in track.batch.portions if each.number == track.portion), None)
    return late is not None and poured is not None and poured >= late


def _alone(what: str, since: datetime, work: Callable[[], Made]) -> list[Alert]:
    try:
        made = work()
        return [] if made is None else [made] if isinstance(made, Alert) else list(made)
    except Exception as error:  # whatever is odd about one window must not silence the others
        return [trouble_alert(what, since, error)]


def trouble_alert(what: str, since: datetime, error: Exception) -> Alert:
    """That something cannot be worked out, said once to whoever works there."""
    why = f"{type(error).__name__}: {error}"[:120]
    return Alert(
        f"trouble.{slug(what)}",
        TROUBLE,
        row_of(TROUBLE).rank,
        Stage.STEP,
        since,
        detail=Trouble(what, why),
    )


def urgency(alert: Alert) -> tuple[int, bool, int, datetime, str]:
    """Sorts the critical first, a hot bucket before all, then what can still be saved, then what fell due first."""
    is_calm = alert.step != HOT
    return RANK_ORDER.index(alert.rank), is_calm, SAVABLE_FIRST.index(alert.stage), alert.due, alert.id
