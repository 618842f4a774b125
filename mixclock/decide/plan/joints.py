"""Whether one batch can be joined to the next at all, by this crew, with nothing else to do.

A floor of forty bays asks for the same few joints again and again. Each is looked at once, as a floor of two batches;
a division of the floor with a joint that can't be made need not be searched.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from itertools import pairwise

from mixclock.decide.plan.annealing import any_feasible
from mixclock.decide.plan.chain import CoatChain, Spec
from mixclock.decide.plan.network import NEVER_S
from mixclock.decide.plan.search import Cuts, Effort

EFFORT = Effort(1200, 400, 1)
Run = tuple[int, int]
Seen = tuple[tuple[tuple[int | None, ...], ...], tuple[tuple[str, int], ...], tuple[tuple[str, int], ...]]


@dataclass
class Joints:
    """The joints that were looked at, by the vessels and by the times and windows of their two batches."""

    known: dict[tuple[int, Seen, Seen], bool] = field(default_factory=dict)

    def hold(self, chain: CoatChain, cuts: Cuts, stop: Callable[[], bool]) -> bool:
        """Whether each joint of a division can be made, the largest looked at first."""
        runs = list(pairwise((0, *cuts)))
        pairs = [(one, other) for one, other in pairwise(runs) if _touch(chain, one, other)]
        pairs.sort(key=lambda pair: pair[0][0] - pair[1][1])
        return all(self._can(chain, one, other, stop) for one, other in pairs)

    def _can(self, chain: CoatChain, one: Run, other: Run, stop: Callable[[], bool]) -> bool:
        key = (len(chain.setting.site.vessels), _seen(chain.spec(*one)), _seen(chain.spec(*other)))
        if key not in self.known:
            pair = _alone(chain, one, other)
            cuts = (one[1] - one[0], other[1] - one[0])
            found = any_feasible(pair, [cuts], EFFORT, stop=stop).feasible
            if not found and stop():
                return True
            self.known[key] = found
        return self.known[key]


def _touch(chain: CoatChain, one: Run, other: Run) -> bool:
    return any(one[0] <= before < one[1] for piece in range(*other) for before in chain.touching(piece))


def _seen(spec: Spec) -> Seen:
    return spec.times, tuple(sorted(spec.closes.items())), tuple(sorted(spec.opens.items()))


def _alone(chain: CoatChain, one: Run, other: Run) -> CoatChain:
    """The two batches as a floor of their own, open from the start, at the hours guessed for them."""
    pieces = chain.setting.pieces[one[0] : other[1]]
    free = replace(chain.setting, pieces=pieces, waiting=(), bounds={}, people_free_s=(), ends_s=NEVER_S)
    alone = CoatChain(free)
    alone.guess({0: chain.guess_for(one[0]), one[1] - one[0]: chain.guess_for(other[0])})
    return alone
