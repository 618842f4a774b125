"""Whether one batch can be joined to the next at all, by this crew, with nothing else to do.

A floor of forty bays asks for the same few joints again and again. Each is looked at once, as a floor of two batches;
a division of the floor with a joint that can't be made need not be searched.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from mixclock.decide.plan.floor.setting import Spec
from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search import solver
from mixclock.decide.plan.search.annealing import any_feasible
from mixclock.decide.plan.search.chain import CoatChain
from mixclock.decide.plan.search.climber import Cuts, Effort, Solution, legal
from mixclock.decide.plan.search.divisions import reach
from mixclock.decide.plan.search.network import Network, timed
from mixclock.decide.plan.search.overwork import too_much_work
from mixclock.decide.plan.search.rhythms import in_a_rhythm
from mixclock.values import dataclass, field, replace

EFFORT, EFFORT_BESIDE_SOLVER, EFFORT_QUICKLY = Effort(800, 300), Effort(500, 200), Effort(300, 150)
MOST_STEPS_JOINED = 64
"""Two buckets in strips are asked of an installed solver up to this many steps."""

MOST_WAYS = 8
"""So many ways in which others were joined are tried before a search: each takes a fiftieth of its time."""

Run = tuple[int, int]
Pair = tuple[Spec, Spec]


@dataclass
class Joints:
    """The joints that were looked at, by the number of vessels: pairs of batches that can be joined, and that can't.

    Batches that take longer, or have less time, than two that can't be joined can't either. After `most_in_vain`
    searches that found no joint and proved nothing, `is_tired` says that no more are begun.
    """

    made: dict[tuple[int, tuple[str, ...]], list[Pair]] = field(default_factory=dict)
    failed: dict[tuple[int, tuple[str, ...]], list[Pair]] = field(default_factory=dict)
    ways: dict[tuple[int, tuple[str, ...]], list[Solution]] = field(default_factory=dict)
    in_vain: int = 0
    most_in_vain: int = NEVER_S
    walked: bool = False
    """A quick look: joints are walked beside a solver, too, as each finds what the other misses, but not for long."""

    @property
    def is_tired(self) -> bool:
        """Whether so many searches were in vain that no other is begun."""
        return self.in_vain >= self.most_in_vain

    def only(self, most_in_vain: int, walked: bool = False) -> Joints:
        """The same joints, looked at by somebody who gives up after so many searches in vain."""
        return replace(self, in_vain=0, most_in_vain=most_in_vain, walked=walked)

    def hold(self, chain: CoatChain, cuts: Cuts, stop: Callable[[], bool], exact: bool = False) -> bool:
        """Whether each joint of a division can be made, the largest looked at first."""
        runs = list(pairwise((0, *cuts)))
        pairs = [(one, other) for one, other in pairwise(runs) if chain.joined(one, other)]
        pairs.sort(key=lambda pair: pair[0][0] - pair[1][1])
        return all(self._can(chain, one, other, stop, exact) for one, other in pairs)

    def divide(self, chain: CoatChain, stop: Callable[[], bool], exact: bool = False) -> bool:
        """Whether the floor can be divided at all: a line where not even two single pieces can be joined is no end of
        a batch, and no batch reaches farther than one bucket does. From the front on, each as far as it goes."""
        far, begun = reach(chain), 0
        while far[begun] < chain.pieces:
            ends = range(far[begun], begun, -1)
            begun = next((end for end in ends if self._may_end(chain, end, stop, exact)), 0)
            if not begun:
                return False
        return True

    def _may_end(self, chain: CoatChain, end: int, stop: Callable[[], bool], exact: bool) -> bool:
        one, other = (end - 1, end), (end, end + 1)
        return not chain.joined(one, other) or self._can(chain, one, other, stop, exact)

    def _can(self, chain: CoatChain, one: Run, other: Run, stop: Callable[[], bool], exact: bool) -> bool:
        vessels = len(chain.setting.site.vessels)
        made, failed = (known.setdefault((vessels, chain.kinds), []) for known in (self.made, self.failed))
        pair = (chain.spec(*one), chain.spec(*other))
        if any(_no_easier(known, pair) for known in made):
            return True
        if self.is_tired or any(_no_easier(pair, known) for known in failed):
            return False
        alone, cuts = _alone(chain, one, other), (one[1] - one[0], other[1] - one[0])
        ways = self.ways.setdefault((vessels, chain.kinds), [])
        if any(_is_made_so(alone.network(cuts), way) for way in ways):
            made.append(pair)
            return True
        if too_much_work(alone.network(cuts), alone.pours(cuts)):
            failed.append(pair)
            return False
        answer = self._looked_for(alone, cuts, stop, exact)
        found = answer.found is not None
        if answer.found is not None:
            ways[:] = [answer.found, *ways[: MOST_WAYS - 1]]
        if not found and stop():
            return True
        (made if found else failed).append(pair)
        self.in_vain += not found and not answer.impossible
        return found

    def _looked_for(self, alone: CoatChain, cuts: Cuts, stop: Callable[[], bool], exact: bool) -> solver.SolverAnswer:
        """A way to join two batches. Of buckets in strips no walk found what neither a rhythm nor a solver did."""
        handed = in_a_rhythm(alone, [cuts])
        if handed is not None:
            return solver.SolverAnswer(handed)
        small = alone.network(cuts).size <= solver.MOST_STEPS
        answer = _by_solver(alone, cuts, stop, small) if exact else solver.SolverAnswer()
        if answer.found is not None or answer.impossible or (exact and alone.setting.strips > 1):
            return answer
        tried = any_feasible(
            alone,
            [cuts],
            EFFORT_QUICKLY if self.walked else EFFORT_BESIDE_SOLVER if exact else EFFORT,
            stop=stop,
            asked=(lambda *_: answer) if small else None,
        )
        return solver.SolverAnswer(tried) if tried.feasible and tried.cuts == cuts else answer


def _is_made_so(net: Network, way: Solution) -> bool:
    """Whether two batches are joined by the hands and in the order that joined two others."""
    there = len(way.staff) == net.size and max(way.staff) < net.people  # another crew was asked with the same joints
    able = there and all(net.times[node][person] is not None for node, person in enumerate(way.staff))
    return able and not timed(net, way.staff, legal(net, way.order)).violation


def _by_solver(alone: CoatChain, cuts: Cuts, stop: Callable[[], bool], small: bool) -> solver.SolverAnswer:
    """What an installed solver finds for a joint. Of two buckets in strips it is only asked briefly: in a sixth of the
    time it finds what walks find, and more. Where a plan keeps a reserve, a glance is enough."""
    if alone.setting.reserve < 1.0:
        ways: tuple[solver.SolverWay, ...] = (solver.AT_A_GLANCE if alone.setting.strips == 1 else solver.AT_ONCE,)
    else:
        ways = (solver.BRIEFLY, solver.THOROUGHLY) if small else (solver.BRIEFLY,)
    return solver.any_feasible(alone, [cuts], stop, ways, MOST_STEPS_JOINED)


def _no_easier(pair: Pair, than: Pair) -> bool:
    """Whether both batches of a pair take as long as those of another, or longer, in no more time."""
    return all(_as_hard(spec, other) for spec, other in zip(pair, than, strict=True))


def _as_hard(spec: Spec, than: Spec) -> bool:
    if [len(row) for row in spec.times] != [len(row) for row in than.times] or spec.closes.keys() != than.closes.keys():
        return False
    slower = all(
        (one is None) == (other is None) and (one or 0) >= (other or 0)
        for row, others in zip(spec.times, than.times, strict=True)
        for one, other in zip(row, others, strict=True)
    )
    tighter = all(spec.closes[name] <= than.closes[name] for name in spec.closes)
    return slower and tighter and all(spec.opens.get(name, 0) >= at for name, at in than.opens.items())


def _alone(chain: CoatChain, one: Run, other: Run) -> CoatChain:
    """The two batches as a floor of their own, open from the start, at the hours guessed for them."""
    pieces = chain.setting.pieces[one[0] : other[1]]
    free = replace(chain.setting, pieces=pieces, waiting=(), bounds={}, people_free_s=(), ends_s=NEVER_S)
    alone = CoatChain(free, chain.meter)
    alone.guess({0: chain.guess_for(one[0]), one[1] - one[0]: chain.guess_for(other[0])})
    return alone
