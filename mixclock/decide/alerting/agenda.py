"""The alerts of a job that the daemon follows: it asks again only the parts that may have changed.

Between two statements an alert changes only at instants that its tracks name: a warning, the latest start, an edge. So
the agenda asks each batch, each coat on an area and each wet film at the next of its own instants. Until then their
last answers stand. The result is the same as that of `alerts`. The agenda is a cache: losing it costs time and nothing
else.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from heapq import heappop, heappush
from itertools import count

from mixclock.decide.alerting.dayends import PlanSays
from mixclock.decide.alerting.naming import mixing_id
from mixclock.decide.alerting.nextdue import (
    JUST_AFTER,
    film_changes,
    floor_calls,
    mixing_calls,
    mixing_changes,
    track_calls,
    track_changes,
)
from mixclock.decide.alerting.standing import (
    Source,
    asked_alone,
    batch_sources,
    begun,
    film_sources,
    floor_sources,
    grouped,
    in_order,
    loner_source,
    mixing_sources,
    what_plan_says,
)
from mixclock.decide.shapes import Alert
from mixclock.decide.tracks import Track
from mixclock.job.progress import Batch, Standing
from mixclock.values import dataclass, field

MIXING, WINDOWS, FLOOR, FILM = "mixing", "windows", "floor", "film"
Name = tuple[str, object]
"""What the agenda asks separately: a bucket's mixing, a batch's windows, a coat on an area, the films of an area."""

Asked = Callable[[Standing, datetime], Iterable[Source]]
Instants = Callable[[Standing, datetime], Iterable[datetime]]


@dataclass
class _Part:
    """One part with its last answer, and how long that answer stands. `rests_on` tells one part from another."""

    rests_on: Sequence[object]
    ask: Asked
    changes: Instants
    calls: Instants
    said: list[Alert] = field(default_factory=list)
    until: datetime | None = None
    call: datetime | None = None


class Agenda:
    """The alerts of one job, asked at ever later instants. If an instant is earlier than the last, everything is asked
    anew."""

    def __init__(self) -> None:
        self._parts: dict[Name, _Part] = {}
        self._due: list[tuple[datetime, int, Name]] = []
        self._pushed = count()
        self._before: tuple[Standing, tuple[Track, ...], datetime] | None = None
        self._says = PlanSays()
        self._speaking: dict[Name, list[Alert]] = {}
        self._said: list[Alert] | None = None

    def alerts(
        self, standing: Standing, found: tuple[Track, ...], now: datetime, plan: Callable[[], PlanSays] = PlanSays
    ) -> tuple[Alert, ...]:
        """Every alert that stands, as `alerts` gives them."""
        if standing.finished is not None and standing.finished <= now:
            return ()
        says, trouble = what_plan_says(begun(standing, now), plan)
        self._follow(standing, found, says, now)
        while self._due and self._due[0][0] <= now:
            at, _, name = heappop(self._due)
            part = self._parts.get(name)
            if part is not None and part.until == at:
                self._ask(name, standing, now)
        if self._said is None:
            self._said = [alert for said in self._speaking.values() for alert in said]
        alone = asked_alone(*loner_source(standing, found, now)) if standing.site.check_in_s is not None else []
        return in_order([*self._said, *alone], says, trouble, now)

    def next_call(self, now: datetime) -> datetime | None:
        """When the next call falls due, as far as is known. The daemon looks at that instant, not at its next tick."""
        return min((part.call for part in self._parts.values() if part.call and part.call > now), default=None)

    def is_quiet(self, until: datetime) -> bool:
        """Whether no alert of a batch or an area stood at the last look, and none can change by an instant."""
        return self._before is not None and not self._speaking and (not self._due or self._due[0][0] > until)

    def _follow(self, standing: Standing, found: tuple[Track, ...], says: PlanSays, now: datetime) -> None:
        """Take in what was stated, answered or planned since, and ask again the parts that this concerns."""
        before, self._before = self._before, (standing, found, now)
        if before is None or now < before[2] or before[0].also_called != standing.also_called:
            self._parts, self._speaking, self._due, before = {}, {}, [], None
        if before is None or before[1] is not found or before[0].batches is not standing.batches:
            wanted = dict(self._wanted(standing, found))
            kept = {name: self._parts[name] if _is_alike(self._parts.get(name), part) else part
                    for name, part in wanted.items()}  # fmt: skip
            fresh = [name for name, part in kept.items() if part is wanted[name]]
            self._parts, self._said = kept, None
            self._speaking = {name: part.said for name, part in kept.items() if part.said}
        else:
            fresh = []
        if says.ends != self._says.ends:
            fresh += [name for name in self._parts if name[0] == WINDOWS]
        if before is not None and before[0].raisings is not standing.raisings:
            again = before[0].withdrawn != standing.withdrawn
            told = [name for name in (self._parts if again else self._speaking) if name[0] == MIXING]
            fresh += [name for name in told if _is_answered(before[0], standing, name)]
        self._says = says
        for name in dict.fromkeys(fresh):
            self._ask(name, standing, now)

    def _wanted(self, standing: Standing, found: Sequence[Track]) -> Iterator[tuple[Name, _Part]]:
        for batch in standing.batches:
            if standing.calls(batch):
                yield (MIXING, batch.id), _of_mixing(standing, batch)
        by_batch, floors, films = grouped(standing, found)
        for number, tracks in by_batch.items():
            yield (WINDOWS, number), self._of_windows(standing, tracks)
        for floor, tracks in floors.items():
            yield (FLOOR, floor), _of_floor(standing, *floor, tracks)
        for area, tracks in films.items():
            yield (FILM, area), _of_films(standing, area, tracks)

    def _of_windows(self, standing: Standing, tracks: Sequence[Track]) -> _Part:
        return _Part(
            (*tracks, standing.site),
            lambda standing, now: batch_sources(standing, tracks, self._says.ends, now),
            lambda standing, _: (at for track in tracks for at in track_changes(standing, track)),
            lambda standing, _: (at for track in tracks for at in track_calls(standing, track)),
        )

    def _ask(self, name: Name, standing: Standing, now: datetime) -> None:
        part = self._parts[name]
        said = [alert for source in part.ask(standing, now) for alert in asked_alone(*source)]
        self._said = None if said or part.said else self._said
        part.said = said
        if said:
            self._speaking[name] = said
        else:
            self._speaking.pop(name, None)
        try:
            part.until = min((at for at in part.changes(standing, now) if at > now), default=None)
            part.call = min((at for at in part.calls(standing, now) if at > now), default=None)
        except Exception:  # a part that fails is asked at every look, as every part is without an agenda
            part.until, part.call = now + JUST_AFTER, None
        if part.until is not None:
            heappush(self._due, (part.until, next(self._pushed), name))


def _of_mixing(standing: Standing, batch: Batch) -> _Part:
    return _Part(
        (batch, standing.readings, standing.site),
        lambda standing, now: mixing_sources(standing, batch, now),
        lambda standing, now: mixing_changes(standing, batch, now),
        lambda *_: mixing_calls(batch),
    )


def _of_floor(standing: Standing, area: str, coat: str | None, tracks: Sequence[Track]) -> _Part:
    def changes(standing: Standing, now: datetime) -> Iterator[datetime]:
        yield from floor_calls(standing, area, coat, tracks, now)
        for track in tracks:
            yield from track_changes(standing, track)

    return _Part(
        (*tracks, standing.site),
        lambda standing, now: floor_sources(standing, area, coat, tracks, now),
        changes,
        lambda standing, now: floor_calls(standing, area, coat, tracks, now),
    )


def _of_films(standing: Standing, area: str, tracks: Sequence[Track]) -> _Part:
    return _Part(
        (*tracks, standing.readings, standing.site),
        lambda standing, now: film_sources(standing, area, tracks, now),
        lambda standing, now: film_changes(standing, tracks, now),
        lambda *_: (),
    )


def _is_alike(known: _Part | None, other: _Part) -> bool:
    """Whether a part still rests on the same objects as before."""
    return (
        known is not None
        and len(known.rests_on) == len(other.rests_on)
        and all(one is another for one, another in zip(known.rests_on, other.rests_on, strict=True))
    )


def _is_answered(before: Standing, now: Standing, name: Name) -> bool:
    """Whether a step of mixing was called out, answered or heard since then."""
    alert = mixing_id(name[1])
    known, newest = before.raised(alert), now.raised(alert)
    return known is not newest and known != newest
