"""A coat whose bucket outlives its film is poured out strip by strip, each rolled in its own time.

Waterborne coats and polyaspartics stand longer in the pail than they stay open on the floor. What a crew can't spread
and roll at once, it lays in strips out of one bucket: the next is poured when the roller comes to it (common practice,
no source).
"""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise, product

from mixclock.decide.plan.days.coattask import CoatRefusal, CoatTask, Session, buckets_in
from mixclock.decide.plan.days.cutting import may_be_large
from mixclock.decide.plan.days.inparts import laid_in_parts
from mixclock.decide.plan.floor.conditions import Stretch
from mixclock.decide.plan.floor.precedence import MOST_STRIPS
from mixclock.decide.plan.floor.quantities import SMALL_BUCKET, SMALL_JOB_L
from mixclock.decide.plan.search.divisions import fewest
from mixclock.decide.plan.search.outliving import finely_cut, outlives
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.steps import BACK_ROLL, POUR_OUT, WET_EDGE
from mixclock.values import replace

TOO_SLOW = frozenset({BACK_ROLL, "broadcast", WET_EDGE, "sequence", SMALL_BUCKET, POUR_OUT})
MOST_IN_VAIN, MOST_IN_VAIN_BESIDE_SOLVER, MOST_IN_VAIN_QUICKLY = 8, 4, 2
"""After so many searches for a joint in vain no more joints of that number of strips are looked at: a bucket in strips
has many steps, so each search takes long. In a room of two areas 8 found a plan that 4 had missed; an installed solver
finds more of them, and there 4 find it too (judgement)."""

SELDOM_MORE = 4
"""A bucket in more strips than this was looked at long and hardly ever found where fewer are no way, on two dozen
floors: those are looked at last."""

MOST_SAVED, MOST_BUCKETS, AS_SOON = 2.0 / 3.0, 8, timedelta(minutes=5)
"""Of so many small buckets no more than these are left, and it is done no later than so (judgement)."""


def in_strips(
    task: CoatTask, stretches: list[Stretch], ways: Ways, refused: CoatRefusal
) -> list[Session] | CoatRefusal:
    """The coat in buckets that are poured out in strips; the refusal where that is no way either."""
    quick_look = ways.rough and ways.effort is not None
    if refused.constraint not in TOO_SLOW or not outlives(task.setting, task.areas) or (quick_look and task.joined_by):
        return refused
    patience = MOST_IN_VAIN_BESIDE_SOLVER if ways.may_ask else MOST_IN_VAIN
    most_in_vain = patience if ways.effort is None else MOST_IN_VAIN_QUICKLY
    every = _by_fewest_buckets(task)[: 1 if quick_look else MOST_STRIPS]
    for large, strips in product((False, True) if may_be_large(task) else (False,), every):
        patient = _with_less_patience(ways, most_in_vain, walked=ways.effort is not None)
        found = laid_in_parts(_poured_in(task, strips), stretches, patient, large=large)
        if ways.stop() or not isinstance(found, CoatRefusal):
            return found
    return refused


def in_fewer_buckets(task: CoatTask, stretches: list[Stretch], ways: Ways, found: list[Session]) -> list[Session]:
    """The coat in strips where that saves a third of its small buckets and is done as soon: who mixes three times for
    what one pail holds long enough has three chances to go wrong."""
    buckets = buckets_in(found)
    least = MOST_SAVED * buckets
    small = buckets > 1 and _litres(found) < SMALL_JOB_L * buckets and buckets <= MOST_BUCKETS
    if not small or ways.effort is not None or ways.stop() or not outlives(task.setting, task.areas):
        return found
    worth_it = [strips for strips, bound in _bounds(task).items() if bound <= least]
    ways = _with_less_patience(ways, MOST_IN_VAIN_QUICKLY).in_at_most(int(least))
    for strips in worth_it[:1] if ways.rough else worth_it:
        if ways.joints.is_tired:
            break
        fewer = laid_in_parts(_poured_in(task, strips), stretches, ways)
        if not isinstance(fewer, CoatRefusal) and fewer[-1].over <= found[-1].over + AS_SOON:
            return fewer
    return found


def _litres(found: list[Session]) -> float:
    runs = [(s.laid.chain, run) for s in found for run in pairwise((0, *s.laid.solution.cuts))]
    return sum(chain.spec(*run).amounts.mixed_l for chain, run in runs)


def _by_fewest_buckets(task: CoatTask) -> list[int]:
    """Into how many strips a bucket may be poured, the many last; of the others those first that could do with the
    fewest buckets, by few strips."""
    bounds = _bounds(task)
    return sorted(bounds, key=lambda strips: (strips > SELDOM_MORE, bounds[strips], strips))


def _bounds(task: CoatTask) -> dict[int, int]:
    """For each number of strips how many buckets it takes at least; without those that are no way."""
    found = {strips: fewest(finely_cut(task.setting, task.areas, strips)) for strips in range(2, MOST_STRIPS + 1)}
    return {strips: len(cuts) for strips, cuts in found.items() if cuts is not None}


def _with_less_patience(ways: Ways, most_in_vain: int, walked: bool = False) -> Ways:
    return replace(ways, joints=ways.joints.only(most_in_vain, walked))


def _poured_in(task: CoatTask, strips: int) -> CoatTask:
    return replace(task, setting=replace(task.setting, strips=strips))
