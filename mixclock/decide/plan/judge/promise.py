"""How much a change promises: whether the least bucket that may be mixed would be laid within its windows.

It is no proof, and nothing is told by it. It costs as much as two buckets, and on nine floors every change that freed
one stood among the first: so the dear tries begin with those that promise most.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.days.planner import setting_of
from mixclock.decide.plan.floor.meter import Meter
from mixclock.decide.plan.floor.precedence import SHUT_BY, soonest_ends
from mixclock.decide.plan.floor.quantities import LEAST_BUCKET_L, amounts, in_whole_kits, kit_l
from mixclock.decide.plan.floor.setting import CoatSetting, Spec
from mixclock.decide.plan.search.chain import CoatChain
from mixclock.job.site import Coat
from mixclock.job.steps import WET_EDGE
from mixclock.values import replace


def promise_of(bench: Bench, coat: Coat, meter: Meter | None = None) -> float:
    """How many times as long as the work on the least bucket its windows are: the tightest of them, times all of them.

    `min(closes / needs) / sum(needs / closes)` over the windows of the least bucket that may be measured out, or of a
    whole kit; a wet edge counts for the least only, since to tape a joint helps no window that is tighter. A step needs
    until its end with the quickest hands, and at least its share of all work; a wet edge needs the work on a whole
    bucket by all hands. Infinite where nothing is left to lay, or no window shuts.
    """
    at = setting_of(bench, coat)
    whole_l = amounts(at.coat, at.profile, at.pieces).mixed_l if at.pieces else 0.0
    if whole_l <= 0.0:
        return math.inf
    chain = CoatChain(_one_piece(at, min(1.0, _least_l(at) / whole_l)), meter)
    spec = chain.spec(0, 1)
    quickest = {
        kind: min(span for span in row if span is not None) for kind, row in zip(chain.kinds, spec.times, strict=True)
    }
    taken, joint = list(_shares_taken(at, spec, quickest)), _share_of_a_joint(at, spec, quickest)
    if not any((*taken, joint)):
        return math.inf
    return 1.0 / max((*taken, joint)) / (sum(taken) or joint)


def _shares_taken(at: CoatSetting, spec: Spec, quickest: dict[str, int]) -> Iterator[float]:
    hands, work = len(at.crew.people), 0
    for kind, ended in soonest_ends(quickest).items():
        work += quickest[kind]
        for window in (name for name in SHUT_BY.get(kind, ()) if name in spec.closes):
            yield max(ended, work / hands) / max(1, spec.closes[window])


def _share_of_a_joint(at: CoatSetting, spec: Spec, quickest: dict[str, int]) -> float:
    if not at.wet_pairs or WET_EDGE not in spec.closes:
        return 0.0
    return sum(quickest.values()) / len(at.crew.people) / max(1, spec.closes[WET_EDGE])


def _least_l(at: CoatSetting) -> float:
    kit = kit_l(at.coat, at.profile)
    return kit if kit is not None and in_whole_kits(at.coat, at.profile) else LEAST_BUCKET_L


def _one_piece(at: CoatSetting, share: float) -> CoatSetting:
    """The coat with that share of its floor only, as one piece with that share of all edges."""
    sums = {name: share * sum(getattr(piece, name) for piece in at.pieces) for name in ("size_m2", "edge_m")}
    return replace(at, pieces=(replace(at.pieces[0], upright_m2=0.0, **sums),))
