"""Alerts that no window gives: the steps of mixing, a hot bucket, a dew margin that falls over wet film."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta

from mixclock.decide.alerting.naming import mixing_id, slug
from mixclock.decide.conditions import LEAST_MARGIN_K
from mixclock.decide.crewsteps import person_for
from mixclock.decide.hot import SMOKING, hot_since, smoking_since
from mixclock.decide.shapes import Alert, EarlierStep, MarginState, Smoke, Stage, State, Window
from mixclock.decide.tracks import stands
from mixclock.formulas.air import dew_margin_k
from mixclock.formulas.past import ForgottenError
from mixclock.job.entry import Entry, Reading
from mixclock.job.jumps import worst_read
from mixclock.job.progress import Batch, Standing
from mixclock.job.steps import (
    CLEAN_PAIL,
    DEW_MARGIN,
    HOT,
    INDUCTION,
    POUR_IT_ALL,
    POUR_OUT,
    SCRAPE_SIDES,
    STAND,
    TACK_FREE,
    Skill,
    row_of,
)
from mixclock.values import replace

SCRAPE_AT = 0.5
CLEAN_PAIL_BEFORE_END_S = 30.0
"""Half way: scrape sides and bottom. The last half minute in a clean pail: a trainer's guide."""

MIX_STEP_FRESH = timedelta(seconds=45)
"""How long a step of mixing stands after somebody was told of it. Then nothing stands until the next step is due."""

MIXING_STEPS = (SCRAPE_SIDES, CLEAN_PAIL, POUR_IT_ALL, STAND)
WET_WITHOUT_SHEET = timedelta(hours=12)
"""How long a film counts as wet if its sheet names no tack-free time (judgement)."""


def mixing_alert(standing: Standing, batch: Batch, now: datetime) -> Alert | None:
    """The led sequence of mixing: one alert with one name. It asks for attention once, then leads through the steps."""
    if batch.portions or batch.mixing_stated or batch.emptied is not None:
        return None
    return _mixing_step(standing, batch, now)


def _mixing_step(standing: Standing, batch: Batch, now: datetime) -> Alert | None:
    start, end = batch.combined.at, batch.mixing_ended
    scrape = start + timedelta(seconds=SCRAPE_AT * batch.mixing_s)
    clean = end - timedelta(seconds=min(CLEAN_PAIL_BEFORE_END_S, 0.3 * batch.mixing_s))
    profile = standing.profile(batch.product)
    induction = profile.window(INDUCTION) if profile else None
    after = STAND if induction is not None and stands(induction) else POUR_IT_ALL
    steps = ((end, after), (clean, CLEAN_PAIL), (scrape, SCRAPE_SIDES))
    for due, name in steps:
        if now >= due:
            step = _step(standing, batch, name, due)
            told_in_time = batch.combined.written <= due + MIX_STEP_FRESH
            return step if told_in_time and _is_fresh(standing, step, now) else None
    return None


def _is_fresh(standing: Standing, step: Alert, now: datetime) -> bool:
    """Whether a step still stands. One that nobody can have received stays due; once told, however late, it stands as
    long."""
    same = [raising for raising in standing.raised(step.id) if raising.was_due(step.due)]
    if any(raising.heard is not None for raising in same):
        return now - step.due <= MIX_STEP_FRESH
    received = [raising.entry.happened for raising in same if raising.may_have_reached]
    return not received or now - max(step.due, received[0]) <= MIX_STEP_FRESH


def without_overtaken(every: Sequence[Alert], now: datetime) -> list[Alert]:
    """The alerts without overtaken steps of mixing: a later call of the same batch says the old step along with it."""
    old = {alert.batch: alert for alert in every if alert.step in MIXING_STEPS and now - alert.due > MIX_STEP_FRESH}
    if not old:
        return list(every)
    later = [alert for alert in every if alert.step in (POUR_OUT, INDUCTION) and alert.batch in old]
    over = {alert.batch for alert in later}
    told = {id(alert): replace(alert, detail=EarlierStep(old[alert.batch])) for alert in later if alert.detail is None}
    return [told.get(id(alert), alert) for alert in every if not (alert.batch in over and alert is old[alert.batch])]


def _step(standing: Standing, batch: Batch, name: str, due: datetime) -> Alert:
    mixer = next((person.name for person in standing.site.crew if Skill.MIX in person.does), None)
    return Alert(
        id=mixing_id(batch.id),
        step=name,
        rank=row_of(name).rank,
        stage=Stage.STEP,
        due=due,
        batch=batch.id,
        area=batch.areas[0] if len(batch.areas) == 1 else None,
        who=batch.combined.by or mixer,
    )


def hot_alert(standing: Standing, batch: Batch, now: datetime) -> Alert | None:
    """The call for a bucket that runs hot, by a reading or by what somebody saw. If it smokes, the crew is called anew:
    nobody carries it.

    The call ends when the bucket is dumped, unless somebody sees it smoke after that.
    """
    since, smokes = hot_since(standing, batch), smoking_since(batch)
    if since is None or since > now or (batch.emptied is not None and batch.emptied.at <= since):
        return None
    if batch.dumped is not None and max(since, smokes or since) <= batch.dumped.at <= now:
        return None
    is_smoking = smokes is not None and smokes <= now
    return Alert(
        id=f"b{batch.id}.{SMOKING if is_smoking else HOT}",
        step=HOT,
        rank=row_of(HOT).rank,
        stage=Stage.NOW,
        due=smokes if smokes is not None and is_smoking else since,
        batch=batch.id,
        standing=True,
        detail=Smoke() if is_smoking else None,
    )


def dew_alert(standing: Standing, area: str, window: Window, now: datetime) -> Alert | None:
    """The call for a dew margin under its limit, or within 2 K of it and falling, while a film there is wet."""
    profile = standing.profile(window.product) if window.product else None
    limit = (profile.limits.dew_margin_min_k if profile else None) or LEAST_MARGIN_K
    crossing = _crossing(standing, area, limit, now)
    if crossing is None:
        return None
    at, margin_k, falling = crossing
    person = person_for(standing.site, DEW_MARGIN)
    return Alert(
        id=f"{slug(area)}.{DEW_MARGIN}",
        step=DEW_MARGIN,
        rank=row_of(DEW_MARGIN).rank,
        stage=Stage.LATE if margin_k < limit else Stage.NOW,
        due=at,
        area=area,
        who=person.name if person else None,
        detail=MarginState(round(margin_k, 1), round(limit, 1), falling),
    )


def wet_films(seen: Iterable[Window], now: datetime) -> dict[str, Window]:
    """By area, a window of film there that is not tack free yet."""
    return {window.area: window for window in _wet(seen, now) if window.area is not None}


def margins(standing: Standing, area: str | None, now: datetime) -> list[tuple[datetime, float]]:
    """The dew margin at each instant at which air, humidity and slab are known, oldest first.

    While a jump is unanswered, the colder of the two slab readings counts, and the warmer of the two air readings.
    """
    warmest, coldest = ({sample.entry: sample.value for sample in read} for read in worst_read(standing.readings, area))
    air = humidity = slab = None
    found: list[tuple[datetime, float]] = []
    for entry, reading in _readings(standing, area, now):
        air = warmest.get(entry.number, air)
        humidity = reading.rh_pct if reading.rh_pct is not None else humidity
        slab = coldest.get(entry.number, slab)
        if air is not None and humidity is not None and slab is not None:
            found.append((entry.happened, dew_margin_k(air, humidity, slab)))
    return found


def _crossing(standing: Standing, area: str, limit: float, now: datetime) -> tuple[datetime, float, bool] | None:
    """Since when the margin has been too small, and how small it is now."""
    known = margins(standing, area, now)
    if not known:
        return None
    _require_at_hand(standing, known[-2:])
    last_at, last_k = known[-1]
    falling = len(known) > 1 and last_k < known[-2][1] - 0.2
    if last_k < limit:
        since = last_at
        for at, margin in reversed(known):
            if margin >= limit:
                break
            _require_at_hand(standing, [(at, margin)])
            since = at
        return since, last_k, falling
    return (last_at, last_k, True) if falling and last_k < limit + 2.0 else None


def _require_at_hand(standing: Standing, known: Sequence[tuple[datetime, float]]) -> None:
    """Of readings that are not at hand nobody noted the margin."""
    past = standing.readings.past
    if past is not None and any(at < past.tail_from for at, _ in known):
        raise ForgottenError("the dew margin of then is not at hand")


def _wet(seen: Iterable[Window], now: datetime) -> Iterator[Window]:
    """Windows of film that is not tack free yet."""
    by_place: dict[tuple[int | None, str | None, int], dict[str, Window]] = {}
    for window in seen:
        if window.area is not None and not window.provisional:
            by_place.setdefault((window.batch, window.area, window.portion), {})[window.name] = window
    for group in by_place.values():
        tack = group.get(TACK_FREE)
        any_window = next(iter(group.values()))
        if tack is not None and tack.opens is not None:
            if now < tack.opens.safe_open and tack.state is not State.DONE:
                yield tack
        elif now < any_window.starts + WET_WITHOUT_SHEET:
            yield any_window


def _readings(standing: Standing, area: str | None, now: datetime) -> Iterator[tuple[Entry, Reading]]:
    for entry in standing.readings.entries:
        facts = entry.facts
        if isinstance(facts, Reading) and entry.happened <= now and (area is None or facts.area in (None, area)):
            yield entry, facts
