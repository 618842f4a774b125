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
from mixclock.values import replace

HARDLY_WAITS = timedelta(minutes=5)
"""If every bucket is poured later than this after its floor opens, the coat waits for something else (judgement)."""

WORTH_FOLLOWING = timedelta(minutes=1)
"""The coat below is laid in another way only if all is done sooner by at least this (judgement)."""

MOST_FOLLOWED = 2
"""So often the coat below is laid again: what is done above it changes with it (judgement)."""


def followed_s(below: Ground, upper: Session) -> dict[str, int]:
    """How long after each area was poured the coat above it is done, if it waits for nothing but the floor. Empty where
    it waits for something else."""
    due = {area: at for area, at in _poured_at_the_latest(upper).items() if area in below.gates}
    if not due or min(at - below.gates[area].opens for area, at in due.items()) > HARDLY_WAITS:
        return {}
    laid: dict[str, datetime] = {}
    for film in below.films:
        laid |= {area: max(laid.get(area, film.ended["pour"]), film.ended["pour"]) for area in film.areas}
    done = upper.over
    return {
        area: math.ceil((below.gates[area].opens - laid[area] + (done - at)).total_seconds())
        for area, at in due.items()
        if area in laid
    }


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
    session: Session, follows_s: Mapping[str, int], stretches: Sequence[Stretch], ways: Ways
) -> Session | None:
    """The same buckets of a coat, each area poured so soon that all that follows is over soonest. None if they are
    laid so already."""
    chain, known = session.laid.chain, session.laid.solution
    ends = next((each.end for each in stretches if each.start <= session.begins < each.end), None)
    ends_s = NEVER_S if ends is None else int((ends - session.begins).total_seconds())
    followed = CoatChain(replace(chain.setting, followed_s=follows_s, ends_s=ends_s))
    followed.guess(chain.guesses)
    as_it_is = again(followed, known)
    if not as_it_is.feasible:
        return None
    found = sooner(StretchPlan(followed, as_it_is), ways)
    sooner_by = as_it_is.found.finish - found.solution.found.finish
    return Session(session.begins, found) if sooner_by >= WORTH_FOLLOWING.total_seconds() else None
