"""When a coat may begin later so that the next one falls into its recoat: any start inside the working hours is looked
at, by the clocks alone, before any of them is searched.

A coat that begins later has its whole floor open later, by its own clocks at that hour. A start is worth trying where
all of the floor is open, and none of it shut, for as long as the next coat takes at the least, inside one stretch of
working time.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta

from mixclock.decide.plan.floor.conditions import Stretch
from mixclock.decide.plan.floor.films import LaidFilm, gate
from mixclock.decide.plan.floor.timing import Timing
from mixclock.job.profile import Profile
from mixclock.values import dataclass, replace

STEP = timedelta(minutes=15)
APART = timedelta(minutes=30)
"""Starts nearer to one that failed than this are not tried (judgement)."""

MOST_STARTS = 400
ENOUGH = timedelta(hours=2)
"""With so much to spare a crew need not wait longer (judgement)."""

MOST_OTHER = 2
"""So many other starts are tried for a plan that breaks too often (judgement)."""

FILMS_LOOKED_AT = 4


@dataclass(frozen=True)
class LaterStart:
    """A start of a coat, from when its floor is open to the next, when that would be done at the soonest, and how much
    is to spare until the floor shuts or the day ends."""

    at: datetime
    opens: datetime
    done: datetime
    spare: timedelta


def later_starts(
    films: Sequence[LaidFilm],
    profiles: Mapping[str, Profile],
    timing: Timing,
    own: Sequence[Stretch],
    upper: Sequence[Stretch],
    needs: timedelta,
    since: datetime | None = None,
) -> list[LaterStart]:
    """Starts after the one that these films have, or since an hour, the one whose next coat is done soonest first."""
    begins = min(min(film.ended.values()) for film in films)
    lasts = max(max(film.ended.values()) for film in films) - begins
    looked = _ends_of(films)
    found = []
    for shift in _shifts(begins, own, lasts, since or begins + STEP):
        gates = [gate(_later(film, shift), profiles[film.product.casefold()], timing) for film in looked]
        shuts = [each.closes for each in gates if each.closes is not None]
        first, last = min(each.opens for each in gates), max(each.opens for each in gates)
        done = _done(first, last, min(shuts, default=None), max(shuts, default=None), upper, needs)
        if done is not None:
            found.append(LaterStart(begins + shift, last, *done))
    return sorted(found, key=lambda start: (start.done, start.at))


def _ends_of(films: Sequence[LaidFilm]) -> list[LaidFilm]:
    """The films poured first and last: those between open and shut between them."""
    ordered = sorted(films, key=lambda film: film.ended["pour"])
    return ordered if len(ordered) <= FILMS_LOOKED_AT else [*ordered[:2], *ordered[-2:]]


def roomiest(starts: Sequence[LaterStart], but_for: datetime) -> list[LaterStart]:
    """A few starts that leave enough to spare, or most, the nearest to the one there is first; no day later than need
    be, and far apart."""
    soon = [each for each in starts if each.done.date() <= starts[0].done.date()]
    found: list[LaterStart] = []
    for start in sorted(soon, key=lambda start: (-min(start.spare, ENOUGH), abs(start.at - but_for))):
        if all(abs(start.at - other) >= APART for other in (but_for, *(each.at for each in found))):
            found.append(start)
    return found[:MOST_OTHER]


def _shifts(begins: datetime, own: Sequence[Stretch], lasts: timedelta, since: datetime) -> Iterator[timedelta]:
    count = 0
    for stretch in own:
        at = max(stretch.start, since)
        while at < stretch.end and count < MOST_STARTS:
            if at + lasts <= stretch.end or lasts > stretch.end - stretch.start:
                count += 1
                yield at - begins
            at += STEP


def _later(film: LaidFilm, shift: timedelta) -> LaidFilm:
    return replace(film, ended={kind: at + shift for kind, at in film.ended.items()})


def _done(
    first: datetime,
    last: datetime,
    shuts_first: datetime | None,
    shuts_last: datetime | None,
    upper: Sequence[Stretch],
    needs: timedelta,
) -> tuple[datetime, timedelta] | None:
    """When the next coat can be done, in the first stretch that is long enough and falls between the edges, and what is
    to spare then."""
    for stretch in upper:
        begins = max(stretch.start, first)
        done = max(begins + needs, last)
        in_time = (shuts_first is None or begins <= shuts_first) and (shuts_last is None or last <= shuts_last)
        if done <= stretch.end and in_time:
            edges = ((shuts_first, begins), (shuts_last, last))
            spare = [stretch.end - done, *(shuts - at for shuts, at in edges if shuts is not None)]
            return done, min(spare)
    return None
