"""All jobs that are under way, for a foreman: what is in a bucket, what is late, who heard, which floor opens."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from mixclock.decide.shapes import State, Window
from mixclock.decide.tracks import Track
from mixclock.decide.windows import area_windows, seen_at
from mixclock.job.instants import json_text
from mixclock.job.progress import Batch, Standing
from mixclock.job.steps import AREA_WINDOWS, POUR_OUT
from mixclock.outside.joblines import JobLine
from mixclock.outside.whichjob import LIVE_FOR
from mixclock.units import METRIC_CREW, CrewUnits
from mixclock.values import dataclass, replace
from mixclock.wiring import House
from mixclock.words.nowjson import alert_json, batch_json, standing_alerts

OFFICE = "the office"
"""Who holds a phone that only looks."""

THIS_WEEK = timedelta(days=7)
IN_BUCKET = ("mixed", "standing")
LATE = ("late", "lost")

Json = dict[str, Any]


@dataclass(frozen=True)
class JobLook:
    """One job as a foreman sees it: what `jobs --json` tells, with its crew's clock and units."""

    told: Json
    wall: ZoneInfo
    units: CrewUnits = METRIC_CREW

    @property
    def is_late(self) -> bool:
        """Whether anything of it is late."""
        return any(due["stage"] in LATE for due in self.told["due"])

    @property
    def urgency(self) -> int:
        """What is late comes first, then what is in a bucket or due."""
        if self.is_late:
            return 0
        return 1 if self.told["in_bucket"] or self.told["due"] else 2


class Foreman:
    """Looks at every job under way, ours or another van's. A job is reckoned again only after a new statement."""

    def __init__(self, house: House) -> None:
        self._house = house
        self._kept: dict[str, tuple[object, Standing, tuple[Track, ...]]] = {}

    def looks(self, now: datetime) -> list[JobLook]:
        """Every job, what is late first."""
        book, since = self._house.book, now - LIVE_FOR
        lines = [
            line
            for line in book.open_jobs()
            if line.stated > since and (line.own or not book.is_for_reading(line.name))
        ]
        self._kept = {name: kept for name, kept in self._kept.items() if name in {line.name for line in lines}}
        return sorted((self._look(line, now) for line in lines), key=lambda look: look.urgency)

    def _look(self, line: JobLine, now: datetime) -> JobLook:
        when = {"last_entry": json_text(line.last), "last_stated": json_text(line.stated)}
        try:
            standing, found = self._standing(line.name)
            told = _told(standing, found, now)
        except Exception as defect:  # one bad floor must not hide the others
            said = " ".join(f"{type(defect).__name__}: {defect}".split())[:200]
            empty: Json = {"vans": [], "in_bucket": [], "due": [], "opens": [], "open": []}
            nothing = {"job": line.name, "zone": "UTC", **when, "trouble": said, **empty}
            return JobLook(nothing, ZoneInfo("UTC"))
        return JobLook({"job": line.name, "zone": standing.site.zone, **when, "trouble": None, **told},
                       standing.site.wall, standing.site.units)  # fmt: skip

    def _standing(self, job: str) -> tuple[Standing, tuple[Track, ...]]:
        clock = self._house.clock
        set_at_s = round(clock.now().timestamp() - clock.boot_s())  # a clock that was set changes how the log reads
        rests_on = (self._house.book.last_number(job), clock.boot_id(), set_at_s)
        kept = self._kept.get(job)
        if kept is None or kept[0] != rests_on:
            standing = self._house.standing(job)
            others = frozenset(batch.origin.book for batch in standing.batches if batch.origin is not None)
            standing = replace(standing, also_called=others)  # the office sees the calls of all vans
            kept = self._kept[job] = (rests_on, standing, self._house.tracks(standing))
        return kept[1], kept[2]


def _told(standing: Standing, found: Sequence[Track], now: datetime) -> Json:
    seen = tuple(seen_at(track, now) for track in found)
    batches = [(batch, batch_json(standing, batch, seen, now)) for batch in standing.batches]
    floors = [window for windows in area_windows(seen, now).values() for window in windows]
    alerts = [alert_json(standing, alert, now) for alert in standing_alerts(standing, found, now)]
    return {
        "vans": list(_vans(standing)),
        "in_bucket": [_in_bucket(batch, told) for batch, told in batches if told["stage"] in IN_BUCKET],
        "due": [_due(standing, alert) for alert in alerts],
        "opens": sorted(_openings(floors, now), key=lambda each: str(each["from"])),
        "open": list(_open(floors, now)),
    }


def _vans(standing: Standing) -> Iterator[Json]:
    """The vans whose statements came by a file, and the time up to which each file tells."""
    last: dict[str, datetime] = {}
    for entry in standing.entries:
        if entry.origin is not None:
            last[entry.origin.van] = max(entry.written, last.get(entry.origin.van, entry.written))
    yield from ({"van": van, "up_to": json_text(at)} for van, at in sorted(last.items()) if van)


def _in_bucket(batch: Batch, told: Mapping[str, Any]) -> Json:
    pour = next((window for window in told["windows"] if window["name"] == POUR_OUT), None)
    by = pour["closes"]["early"] if pour is not None and pour["closes"] else None
    kept = {key: told[key] for key in ("number", "van", "product", "amount_l", "areas", "mixed_at")}
    return {"batch": batch.id, **kept, "by": batch.combined.by, "pour_by": by}


def _due(standing: Standing, alert: Mapping[str, Any]) -> Json:
    batch = standing.batch(alert["batch"]) if alert["batch"] is not None else None
    van = batch.origin.van if batch is not None and batch.origin is not None else None
    heard = {"heard_by": alert["heard_by"], "reached": list(alert["delivered"]), "van": van}
    return {**{key: alert[key] for key in ("text", "rank", "stage", "due", "who")}, **heard}


def _openings(floors: Iterable[Window], now: datetime) -> Iterator[Json]:
    """Which floor opens for what within a week."""
    for window in floors:
        at = window.open_from
        if window.name in AREA_WINDOWS and at is not None and now < at <= now + THIS_WEEK and not _is_over(window):
            yield {**_where(window), "from": json_text(at), "poured": not window.provisional}


def _open(floors: Iterable[Window], now: datetime) -> Iterator[Json]:
    """Which floor is open now, and shuts within a week."""
    for window in floors:
        at, called = window.open_from, window.called
        if at is None or called is None or _is_over(window):
            continue
        if at <= now < called.early <= now + THIS_WEEK:
            yield {**_where(window), "from": json_text(at), "until": json_text(called.early)}


def _is_over(window: Window) -> bool:
    return window.state in (State.DONE, State.MISSED)


def _where(window: Window) -> Json:
    return {"area": window.area, "coat": window.coat, "what": window.name}
