"""All alerts that stand at an instant, the most urgent first."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from functools import partial
from typing import TypeVar

from mixclock.decide.alerting.alone import alone_alert
from mixclock.decide.alerting.closing import closing_alert
from mixclock.decide.alerting.dayends import Place, PlanSays, heard_of_plan, tape_alert
from mixclock.decide.alerting.grit import stir_alert
from mixclock.decide.alerting.happenings import dew_alert, hot_alert, mixing_alert, wet_films, without_overtaken
from mixclock.decide.alerting.naming import slug
from mixclock.decide.alerting.opening import area_alerts, opening_alert
from mixclock.decide.shapes import Alert, Stage, Trouble
from mixclock.decide.tracks import Track
from mixclock.decide.windows import area_windows, seen_at
from mixclock.job.progress import Batch, Standing
from mixclock.job.stepkinds import RANK_ORDER, SAVABLE_FIRST
from mixclock.job.steps import AREA_WINDOWS, HOT, TROUBLE, row_of

Made = Alert | Iterable[Alert] | None
Source = tuple[str, datetime, Callable[[], Made]]
"""What an alert is about, since when, and how it is worked out."""

Floor = tuple[str, str | None]
"""An area and a coat."""

K = TypeVar("K")
Tracks = Mapping[K, Sequence[Track]]


def alerts(
    standing: Standing, found: Sequence[Track], now: datetime, plan: Callable[[], PlanSays] = PlanSays
) -> tuple[Alert, ...]:
    """Every alert that stands: closing and opening edges, mixing, heat, dew, and what the plan advises.

    Each alert is worked out alone. If one fails, an alert says so, and all others still stand.
    """
    if standing.finished is not None and standing.finished <= now:
        return ()
    says, trouble = what_plan_says(begun(standing, now), plan)
    sources = _sources(standing, found, says, now)
    return in_order((alert for source in sources for alert in asked_alone(*source)), says, trouble, now)


def in_order(made: Iterable[Alert], says: PlanSays, trouble: Iterable[Alert], now: datetime) -> tuple[Alert, ...]:
    """These alerts and what the plan says, the most urgent first; without those that a later one has overtaken."""
    every = without_overtaken(list(made), now)
    return tuple(sorted((*heard_of_plan(every, says), *says.advice, *trouble), key=urgency))


def begun(standing: Standing, now: datetime) -> datetime:
    """When the job was started."""
    return standing.entries[0].happened if standing.entries else now


def what_plan_says(since: datetime, plan: Callable[[], PlanSays]) -> tuple[PlanSays, list[Alert]]:
    """What the plan says, or an alert that the plan cannot be read."""
    try:
        return plan(), []
    except Exception as error:  # the windows still call when the plan cannot be read
        return PlanSays(), [trouble_alert("what the plan says", since, error)]


def _sources(standing: Standing, found: Sequence[Track], says: PlanSays, now: datetime) -> Iterator[Source]:
    ours = [batch for batch in standing.batches if standing.calls(batch)]  # another van calls out its own
    for batch in ours:
        yield from mixing_sources(standing, batch, now)
    yield loner_source(standing, found, now)
    by_batch, floors, films = grouped(standing, found)
    for tracks in by_batch.values():
        yield from batch_sources(standing, tracks, says.ends, now)
    for (area, coat), tracks in floors.items():
        yield from floor_sources(standing, area, coat, tracks, now)
    for area, tracks in films.items():
        yield from film_sources(standing, area, tracks, now)


def grouped(standing: Standing, found: Sequence[Track]) -> tuple[Tracks[int], Tracks[Floor], Tracks[str]]:
    """The windows that this book calls out: of each batch, of each area's coat over days, and of the films of an area.

    The windows over days count every batch of the coat, whoever mixed it.
    """
    ours = {batch.id for batch in standing.batches if standing.calls(batch)}
    by_batch: dict[int, list[Track]] = {}
    floors: dict[Floor, list[Track]] = {}
    films: dict[str, list[Track]] = {}
    laid = set()
    for track in found:
        area, batch = track.area, track.batch
        if area is not None and track.name in AREA_WINDOWS:
            floors.setdefault((area, batch.coat), []).append(track)
        if batch.id not in ours:
            continue
        by_batch.setdefault(batch.id, []).append(track)
        if area is not None:
            laid.add((area, batch.coat))
            films.setdefault(area, []).append(track)
    return by_batch, {floor: tracks for floor, tracks in floors.items() if floor in laid}, films


def mixing_sources(standing: Standing, batch: Batch, now: datetime) -> Iterator[Source]:
    """The alerts of a bucket that no window gives."""
    what, since = f"batch {batch.id}", batch.combined.at
    yield what, since, partial(hot_alert, standing, batch, now)
    yield what, since, partial(mixing_alert, standing, batch, now)
    yield what, since, partial(stir_alert, standing, batch, now)


def loner_source(standing: Standing, found: Sequence[Track], now: datetime) -> Source:
    """The alert for somebody who works alone and has said nothing for long."""
    return "the check-in", begun(standing, now), partial(alone_alert, standing, found, now)


def batch_sources(
    standing: Standing, tracks: Sequence[Track], ends: frozenset[Place], now: datetime
) -> Iterator[Source]:
    """The alerts that the windows of one batch give."""
    gone = next((edge.last for track in tracks
                 if track.bucket is not None and (edge := track.closing) is not None), None)  # fmt: skip
    for track in tracks:
        what = f"batch {track.batch.id}, {track.name.replace('-', ' ')}"
        yield what, track.starts, partial(closing_alert, standing, track, now, _is_poured_lost(track, gone))
        yield what, track.starts, partial(opening_alert, standing, track, now)
        yield what, track.starts, partial(tape_alert, standing, track, ends, now)


def floor_sources(
    standing: Standing, area: str, coat: str | None, tracks: Sequence[Track], now: datetime
) -> Iterator[Source]:
    """The alerts that a coat on an area gives over days."""
    for group in area_windows((seen_at(track, now, ripe=False) for track in tracks), now).values():
        yield area, group[0].starts, partial(area_alerts, standing, group, area, coat, now)


def film_sources(standing: Standing, area: str, tracks: Sequence[Track], now: datetime) -> Iterator[Source]:
    """The alerts that wet film on an area gives."""
    for window in wet_films((seen_at(track, now, ripe=False) for track in tracks), now).values():
        yield f"the dew point on {area}", window.starts, partial(dew_alert, standing, area, window, now)


def _is_poured_lost(track: Track, gone: datetime | None) -> bool:
    """Whether a portion was poured after the late edge of its bucket. Then the crew can save only what still flows."""
    portion = track.batch.portion(track.portion)
    return gone is not None and portion is not None and portion.poured.at >= gone


def asked_alone(what: str, since: datetime, work: Callable[[], Made]) -> list[Alert]:
    """The alerts of one source, or the alert that it cannot be worked out."""
    try:
        made = work()
        return [] if made is None else [made] if isinstance(made, Alert) else list(made)
    except Exception as error:  # whatever fails in one window must not silence the others
        return [trouble_alert(what, since, error)]


def trouble_alert(what: str, since: datetime, error: Exception) -> Alert:
    """The alert that something cannot be worked out, said once to whoever works there."""
    why = f"{type(error).__name__}: {error}"[:120]
    return Alert(
        f"{TROUBLE}.{slug(what)}",
        TROUBLE,
        row_of(TROUBLE).rank,
        Stage.STEP,
        since,
        detail=Trouble(what, why),
    )


def urgency(alert: Alert) -> tuple[int, bool, int, datetime, str]:
    """The sort key: by rank; within a rank the hot bucket, then what can still be saved, then what fell due first."""
    is_calm = alert.step != HOT
    return RANK_ORDER.index(alert.rank), is_calm, SAVABLE_FIRST.index(alert.stage), alert.due, alert.id
