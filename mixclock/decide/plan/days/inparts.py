"""One coat with its areas cut into parts: as few as will do, and a few more where that saves buckets.

Where nothing else will do, the floor is divided into buckets of one size, wherever in an area they end.
"""

from __future__ import annotations

from collections.abc import Mapping

from mixclock.decide.plan.days.coattask import CoatRefusal, CoatTask, Session, buckets_in
from mixclock.decide.plan.days.cutting import (
    MOST_PARTS,
    REFINEMENTS,
    counts_of_even_buckets,
    cut_smaller,
    even_buckets,
    finer_by,
    may_cut,
    may_help,
    pieces_in,
)
from mixclock.decide.plan.days.fewerkits import in_fewer_kits
from mixclock.decide.plan.days.sessions import over_the_days
from mixclock.decide.plan.floor import acid
from mixclock.decide.plan.floor.conditions import Stretch
from mixclock.decide.plan.search.schedule import Ways, sooner, with_most_to_spare
from mixclock.job.profile import WASHED_OFF
from mixclock.job.steps import RECOAT
from mixclock.values import replace

MOST_PIECES = 160
MOST_IN_VAIN = 100
"""If this many pieces can't follow each other, smaller pieces of the same floor can't either (judgement)."""

FINE_ENOUGH = 3.5
"""With this many pieces to a batch, areas are cut no smaller: we tried, and it saved nothing (judgement)."""

WORTH_CUTTING = 0.9
"""Areas are cut smaller only if no more than this share of the batches remains: a chalk line must save a tenth
(judgement)."""


def laid_in_parts(
    task: CoatTask, stretches: list[Stretch], ways: Ways, finer: bool = True, large: bool = True
) -> list[Session] | CoatRefusal:
    """The coat with its areas cut into as few parts as possible. Without `finer` only an area in the way is cut, never
    all of them; unless they may be `large`, all of them into a few parts at most."""
    parts = {area.name: acid.parts_at_first(task.setting, area) for area in task.areas}
    refused, by_clocks = CoatRefusal("hours"), True
    for _ in range(REFINEMENTS + MOST_PARTS):
        pieces = pieces_in(task, parts)
        found = over_the_days(task, pieces, stretches, ways)
        if not isinstance(found, CoatRefusal):
            fewer = found if ways.rough and may_cut(task) else _with_fewer(task, parts, stretches, ways, found)
            if ways.rough:
                return [replace(session, laid=with_most_to_spare(session.laid)) for session in fewer]
            return [replace(session, laid=sooner(session.laid, ways)) for session in fewer]
        by_clocks = by_clocks and found.by_clocks
        fine_enough = found.area is None and len(pieces) > MOST_IN_VAIN
        uncut = found.area is None and not finer
        refused = CoatRefusal(RECOAT) if found.constraint == "unopened" else replace(found, by_clocks=by_clocks)
        refused = replace(refused, may_be_cut=uncut)
        if fine_enough or uncut or ways.stop() or not cut_smaller(task, parts, found, large):
            break
    return refused


def in_even_buckets(
    task: CoatTask, stretches: list[Stretch], ways: Ways, refused: CoatRefusal
) -> list[Session] | CoatRefusal:
    """The floor divided into buckets of one size, wherever in an area they end: parts of areas of many sizes seldom add
    up to buckets that are small enough for this crew and large enough to be measured."""
    best: list[Session] | None = None
    if may_help(refused) and may_cut(task) and task.setting.profile.family not in WASHED_OFF:
        for count in counts_of_even_buckets(task):
            if ways.stop() or ways.joints.is_tired:
                break
            found = over_the_days(task, even_buckets(task, count), stretches, ways.in_at_most(count))
            if not isinstance(found, CoatRefusal):
                best = found
            elif best is not None:
                break
    if best is None:
        return refused
    finished = with_most_to_spare if ways.rough else lambda laid: sooner(laid, ways)
    return [replace(session, laid=finished(session.laid)) for session in best]


def _with_fewer(
    task: CoatTask, parts: Mapping[str, int], stretches: list[Stretch], ways: Ways, found: list[Session]
) -> list[Session]:
    """The same coat with areas cut into smaller parts, if that saves at least every tenth batch.

    If a batch ends inside an area, somebody must chalk its end on the floor. Only a few buckets less are worth that,
    or a kit that need not be opened. Buckets in strips that can be made fewer are soon found: one search in vain ends
    it.
    """
    same_day = [stretch for stretch in stretches if stretch.holds(found[0].begins)]
    if not may_cut(task):
        return in_fewer_kits(
            task, found, lambda one, pieces, most: over_the_days(one, pieces, same_day, ways.in_at_most(most))
        )
    if task.setting.strips > 1:
        ways = replace(ways, joints=ways.joints.only(1))
    coarser = pieces_in(task, parts)
    for more in finer_by(task):
        batches = buckets_in(found)
        most = int(batches * WORTH_CUTTING)
        pieces = pieces_in(task, {name: count + more for name, count in parts.items()})
        fine_enough = len(coarser) >= FINE_ENOUGH * batches or len(pieces) > MOST_PIECES
        if fine_enough or ways.stop() or ways.joints.is_tired or len(found) > 1 or not most:
            break
        finer = over_the_days(task, pieces, same_day, ways.in_at_most(most))
        if not isinstance(finer, CoatRefusal) and len(finer) == 1:
            found = finer
        coarser = pieces
    return found
