"""What is proven impossible before any search: too few hands for a run of joined batches, or a floor open too late.

A batch must be begun while the wet edge of the one before it lives, and every step of it has a window. So all the work
of a run of such batches falls into a stretch of known length, and where the quickest hands for each step need longer
than all the hands together have, no order of work can do it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from mixclock.decide.plan.floor.precedence import AT_ONCE_S
from mixclock.decide.plan.floor.setting import Spec
from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search.chain import CoatChain
from mixclock.decide.plan.search.climber import Cuts, legal
from mixclock.decide.plan.search.network import Network
from mixclock.job.steps import BACK_ROLL, INDUCTION, POUR_OUT, WET_EDGE

AHEAD = frozenset({"measure"})
"""Steps that may be done at any earlier time. The sum leaves them out."""


def enough_hands(chain: CoatChain, cuts: Cuts) -> bool:
    """False if some run of joined batches is proven to be more work than the crew can do in its windows."""
    if "squeegee" not in chain.kinds or chain.setting.strips > 1:
        return True
    runs = list(pairwise((0, *cuts)))
    specs = [chain.spec(*run) for run in runs]
    joined = [chain.joined(one, other) for one, other in pairwise(runs)]
    return all(_enough(chain, specs, joined, group) for group in _groups(specs[0]))


def open_in_time(net: Network) -> bool:
    """False if a step must be over sooner than any number of hands could do it, as before a recoat that shuts too
    soon."""
    quickest = [min(span for span in row if span is not None) for row in net.times]
    starts = list(net.release)
    for node in legal(net, range(net.size)):
        span = quickest[node]
        ready = [starts[first] + quickest[first] + lag for first, lag in net.after_end[node]]
        ready += [starts[first] + lag for first, lag in net.after_start[node]]
        ready += [starts[first] + quickest[first] + lag - span for first, lag in net.end_after_end[node]]
        starts[node] = max([starts[node], *ready])
        if starts[node] + span > net.deadline[node]:
            return False
    return True


def _groups(spec: Spec) -> set[frozenset[int]]:
    """All hands together, and those alone who can do some step."""
    able = [frozenset(person for person, span in enumerate(row) if span is not None) for row in spec.times]
    return {*able, frozenset(range(len(spec.times[0])))}


def _enough(chain: CoatChain, specs: Sequence[Spec], joined: Sequence[bool], group: frozenset[int]) -> bool:
    """Whether the work that only this group can do fits, for every run of batches: no excess is over 0.

    Over batches i to j the excess is `work_i + ... + work_j - hands * (before_i + wet_i + ... + wet_(j-1) + after_j)`;
    the largest over all i is carried along from batch to batch.
    """
    hands = len(group)
    excess = float("-inf")
    for batch, spec in enumerate(specs):
        work = _work_s(chain, spec, group)
        opening = work - hands * _before_s(chain, spec)
        if batch and joined[batch - 1] and WET_EDGE in specs[batch - 1].closes:
            excess = max(opening, excess + work - hands * specs[batch - 1].closes[WET_EDGE])
        else:
            excess = opening
        if excess > hands * _after_s(spec):
            return False
    return True


def _work_s(chain: CoatChain, spec: Spec, group: frozenset[int]) -> int:
    """The seconds of work that nobody outside the group can do, each step by the quickest."""
    total = 0
    for kind, row in zip(chain.kinds, spec.times, strict=True):
        able = {person: span for person, span in enumerate(row) if span is not None}
        if kind not in AHEAD and able.keys() <= group:
            total += min(able.values())
    return total


def _before_s(chain: CoatChain, spec: Spec) -> int:
    """How long before the end of its pour a batch may be begun to be mixed."""
    slowest = dict(zip(chain.kinds, (max(span or 0 for span in row) for row in spec.times), strict=True))
    stand = spec.opens.get(INDUCTION, 0) + AT_ONCE_S
    return min(spec.closes.get(POUR_OUT, NEVER_S), slowest["mix"] + stand + slowest["pour"])


def _after_s(spec: Spec) -> int:
    """How long after the end of its pour the last of its steps must be done."""
    if BACK_ROLL not in spec.closes:
        return NEVER_S
    return max(spec.closes[BACK_ROLL], spec.closes.get("broadcast", 0))
