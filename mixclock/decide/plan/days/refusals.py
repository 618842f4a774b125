"""Why a coat does not fit in a stretch of working time, as far as its own chain of batches tells, and in words."""

from __future__ import annotations

from mixclock.decide.plan.days.coattask import OBSTACLES, CoatRefusal, CoatTask
from mixclock.decide.plan.floor.conditions import Refusal, Stretch
from mixclock.decide.plan.floor.plans import Obstacle
from mixclock.decide.plan.floor.quantities import SMALL_BUCKET
from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search.chain import CoatChain
from mixclock.decide.plan.search.divisions import fewest, possible, reach, too_slow_for
from mixclock.decide.plan.search.proofs import open_in_time
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import Coat
from mixclock.job.steps import RECOAT, WET_EDGE


def impossible(chain: CoatChain) -> CoatRefusal | None:
    """The first piece of floor that no order of work can do even alone, or a recoat that is over too soon."""
    for index, piece in enumerate(chain.setting.pieces):
        if not possible(chain, index, index + 1):
            return CoatRefusal(too_slow_for(chain, index, index + 1) or "vessel", piece.area, by_clocks=True)
    if chain.pieces and not chain.is_worth_mixing(0, reach(chain)[0]):
        pieces, end = chain.setting.pieces, reach(chain)[0]
        to_cut = pieces[end].area if end < len(pieces) else None
        return CoatRefusal(SMALL_BUCKET, pieces[0].area, by_clocks=True, to_cut=to_cut)
    ways = (fewest(chain), tuple(range(1, chain.pieces + 1)))  # many small buckets, poured one by one, may be too slow
    if any(open_in_time(chain.network(cuts)) for cuts in ways if cuts is not None):
        return None
    return CoatRefusal(
        RECOAT if any(bound.not_after_s < NEVER_S for bound in chain.setting.bounds.values()) else WET_EDGE
    )


def why_not(task: CoatTask, chain: CoatChain, ways: Ways) -> CoatRefusal:
    """Why pieces that fit alone do not fit one after the other: the recoat ends, or buckets would be too small, or else
    the wet edge goes."""
    shut = [bound for bound in chain.setting.bounds.values() if bound.not_after_s < NEVER_S]
    if shut and min(bound.not_after_s for bound in shut) < 3600:
        return CoatRefusal(RECOAT)
    least = fewest(chain)
    too_small = least is None or len(least) > chain.most_batches
    if too_small and SMALL_BUCKET not in task.setting.ignore:
        return CoatRefusal(SMALL_BUCKET, by_clocks=True)
    divided = ways.joints.is_tired or ways.joints.divide(chain, ways.stop, ways.may_ask)
    return CoatRefusal(WET_EDGE if task.setting.wet_pairs else "sequence", by_clocks=not divided)


def obstacle_of(coat: Coat, refused: CoatRefusal, stretches: list[Stretch], refusals: list[Refusal]) -> Obstacle:
    """The constraint in the way, in words."""
    where = f"{coat.name}" + (f" on {refused.area}" if refused.area else "")
    if not stretches and refusals:
        return Obstacle("conditions", f"{coat.name}: {refusals[0].why}", coat.name)
    if not stretches:
        return Obstacle("hours", f"{coat.name}: no working hours are left", coat.name)
    said = OBSTACLES.get(refused.constraint, "{where}: {constraint} is in the way")
    said = said.format(where=where, constraint=refused.constraint)
    if refused.constraint == "hours" and refusals:
        said += f" that the weather leaves ({refusals[0].why})"
    return Obstacle(refused.constraint, said, coat.name, refused.area)
