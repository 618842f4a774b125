"""When a coat may begin later, so that the next one falls into its recoat. The clocks alone judge every start inside
the working hours, before any of them is searched.

If a coat begins later, its whole floor opens later, by its own clocks at that hour. The next coat needs a least time. A
start is worth trying if, for that time and inside one stretch of working time, all of the floor is open and none of it
shut.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta, tzinfo

from mixclock.decide.plan.floor.conditions import Stretch
from mixclock.decide.plan.floor.films import LaidFilm, gate
from mixclock.decide.plan.floor.timing import Timing
from mixclock.job.profile import Profile
from mixclock.values import dataclass, replace

STEP = timedelta(minutes=15)
APART = timedelta(minutes=30)
"""A start nearer than this to one that failed is not tried (judgement)."""

MOST_STARTS = 400
ENOUGH = timedelta(hours=2)
"""With this much to spare a crew need not wait longer (judgement)."""

MOST_OTHER = 2
"""If a plan breaks too often, this many other starts are tried (judgement)."""

FILMS_LOOKED_AT = 4


@dataclass(frozen=True)
class LaterStart:
    """A start of a coat. `opens` is when its floor takes the next coat, and `done` is when that one is done at the
    soonest. `spare` is the time left then until the floor shuts or the day ends."""

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
    worked: tuple[datetime, datetime] | None = None,
) -> list[LaterStart]:
    """Starts later than that of these films, or all since an instant. The start whose next coat is done soonest comes
    first. `worked` is from when to when they were worked on, with measuring out and cleaning, where that is known."""
    begins = worked[0] if worked else min(min(film.ended.values()) for film in films)
    lasts = (worked[1] if worked else max(max(film.ended.values()) for film in films)) - begins
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
    """The films poured first and last. All others open and shut between these."""
    ordered = sorted(films, key=lambda film: film.ended["pour"])
    return ordered if len(ordered) <= FILMS_LOOKED_AT else [*ordered[:2], *ordered[-2:]]


def roomiest(starts: Sequence[LaterStart], but_for: datetime, zone: tzinfo) -> list[LaterStart]:
    """A few starts that leave enough to spare, or the most that there is. The nearest to the present start comes first.
    They lie far apart, and no day of the crew's own calendar later than needed."""
    soonest = starts[0].done.astimezone(zone).date()
    soon = [each for each in starts if each.done.astimezone(zone).date() <= soonest]
    found: list[LaterStart] = []
    for start in sorted(soon, key=lambda start: (-min(start.spare, ENOUGH), abs(start.at - but_for))):
        if all(abs(start.at - other) >= APART for other in (but_for, *(each.at for each in found))):
            found.append(start)
    return found[:MOST_OTHER]


def _shifts(begins: datetime, own: Sequence[Stretch], lasts: timedelta, since: datetime) -> Iterator[timedelta]:
    count = 0
    for stretch in own:
        at = max(stretch.start, since)
        last = stretch.end - lasts
        while at < stretch.end and count < MOST_STARTS:
            if at <= last or last < stretch.start:
                count += 1
                yield at - begins
            at += STEP if not at < last < at + STEP else last - at


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
    """When the next coat can be done, and what is to spare then. It takes the first stretch that is long enough and
    falls between the edges."""
    for stretch in upper:
        begins = max(stretch.start, first)
        done = max(begins + needs, last)
        in_time = (shuts_first is None or begins <= shuts_first) and (shuts_last is None or last <= shuts_last)
        if done <= stretch.end and in_time:
            edges = ((shuts_first, begins), (shuts_last, last))
            spare = [stretch.end - done, *(shuts - at for shuts, at in edges if shuts is not None)]
            return done, min(spare)
    return None
