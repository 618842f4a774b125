"""A coat once more, so that the coat above it may follow sooner.

The soonest end of a coat is not what the coat above waits for: that waits for bucket after bucket to harden. Where it
goes on as soon as the floor lets it, the coat below is laid again by the same number of buckets. Each of its pours is
then followed by its hardening and by what is done above it until the end, and all of that is to be over soonest.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from mixclock.decide.plan.days.coattask import Session
from mixclock.decide.plan.floor.conditions import Stretch
from mixclock.decide.plan.floor.films import Ground
from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search.chain import CoatChain
from mixclock.decide.plan.search.climber import again
from mixclock.decide.plan.search.schedule import StretchPlan, Ways, sooner
from mixclock.decide.plan.search.slack import latest_starts
from mixclock.values import dataclass, replace

HARDLY_WAITS = timedelta(minutes=5)
"""If every bucket is poured later than this after its floor opens, the coat waits for something else (judgement)."""

WORTH_FOLLOWING = timedelta(minutes=1)
"""The coat below is laid in another way only if all is done sooner by at least this (judgement)."""

MOST_FOLLOWED = 2
"""So often the coat below is laid again: what is done above it changes with it (judgement)."""


@dataclass(frozen=True)
class FollowedBy:
    """How long after each area was poured the coat above it is done. If `by` is stated, sooner is of use only if all
    is over by then."""

    spans_s: Mapping[str, int]
    by: datetime | None = None


def followed_by(below: Ground, upper: Session, stretches: Sequence[Stretch]) -> FollowedBy | None:
    """What follows each area, if the coat above waits for nothing but the floor, or missed a stretch of working time
    because the floor opened too late. None where it waits for something else."""
    due = {area: at for area, at in _poured_at_the_latest(upper).items() if area in below.gates}
    if not due:
        return None
    by = None
    if min(at - below.gates[area].opens for area, at in due.items()) > HARDLY_WAITS:
        by = _missed(min((below.gates[area].opens, upper.over - at) for area, at in due.items()), upper, stretches)
        if by is None:
            return None
    laid: dict[str, datetime] = {}
    for film in below.films:
        laid |= {area: max(laid.get(area, film.ended["pour"]), film.ended["pour"]) for area in film.areas}
    lasts = {area: below.gates[area].opens - laid[area] + (upper.over - at) for area, at in due.items() if area in laid}
    return FollowedBy({area: math.ceil(span.total_seconds()) for area, span in lasts.items()}, by)


def _missed(first: tuple[datetime, timedelta], upper: Session, stretches: Sequence[Stretch]) -> datetime | None:
    """The end of a stretch before the coat in which it would have been done, had all of the floor been open in time:
    `first` is when the first area opens, and what is done from its bucket on."""
    opens, lasts = first
    stretch = next((each for each in stretches if each.end > opens), None)
    if stretch is None or upper.begins < stretch.end or max(opens, stretch.start) + lasts > stretch.end:
        return None
    return stretch.end


def _poured_at_the_latest(upper: Session) -> dict[str, datetime]:
    """When each area has to be poured by, so that the coat is done no later."""
    chain, solution = upper.laid.chain, upper.laid.solution
    if "pour" not in chain.kinds:
        return {}
    starts = latest_starts(chain.network(solution.cuts), solution)
    due: dict[str, datetime] = {}
    for batch, (first, end) in enumerate(pairwise((0, *solution.cuts))):
        at = upper.begins + timedelta(seconds=starts[chain.node(batch, "pour")])
        for piece in chain.setting.pieces[first:end]:
            due[piece.area] = min(due.get(piece.area, at), at)
    return due


def laid_to_be_followed(
    session: Session, follows: FollowedBy, stretches: Sequence[Stretch], ways: Ways
) -> Session | None:
    """The same buckets of a coat, each area poured so soon that all that follows is over soonest. None if they are
    laid so already, or if that is of no use. Of a coat that is all poured nothing can be laid sooner."""
    chain, known = session.laid.chain, session.laid.solution
    if not known.cuts:
        return None
    ends = next((each.end for each in stretches if each.holds(session.begins)), None)
    ends_s = NEVER_S if ends is None else int((ends - session.begins).total_seconds())
    followed = CoatChain(replace(chain.setting, followed_s=follows.spans_s, ends_s=ends_s), ways.meter)
    followed.guess(chain.guesses)
    as_it_is = again(followed, known)
    if not as_it_is.feasible:
        return None
    found = sooner(StretchPlan(followed, as_it_is), ways)
    finish_s = found.solution.found.finish
    of_use = follows.by is None or session.begins + timedelta(seconds=finish_s) <= follows.by
    is_sooner = as_it_is.found.finish - finish_s >= WORTH_FOLLOWING.total_seconds()
    return Session(session.begins, found) if of_use and is_sooner else None
