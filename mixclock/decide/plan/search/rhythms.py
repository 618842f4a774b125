"""Buckets in strips laid in a steady rhythm: strip after strip at one distance, each step by whoever is free first.

A bucket in strips has so many steps that a search by small changes seldom meets an order that keeps its windows. A crew
finds one at once: it goes on at one pace, and who is done takes what comes next. So some such rhythms are tried before
any search. Of 388 joints on 26 floors they made 227; walks and a solver had made 136, in thirty times the work.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from mixclock.decide.plan.floor.precedence import STRIP_OF, WORK_OF
from mixclock.decide.plan.search.chain import PHASE, CoatChain
from mixclock.decide.plan.search.climber import Cuts, Solution, in_turns
from mixclock.decide.plan.search.network import Network, timed

A_STEP_HANDED_OUT = 2
"""What it takes to find who is free first for a step, in steps timed."""


class Rhythm(NamedTuple):
    """How a crew goes on, in phases of a batch: how far apart strips lie, and the next bucket from the last strip; how
    much sooner that is measured out; and when a strip is cut in and rolled."""

    strips: float
    buckets: float
    ahead: float
    cut_in: float
    roll: float


RHYTHMS = (
    Rhythm(2.8, 4.0, 0.0, 2.5, 6.0),
    Rhythm(2.0, 4.0, 2.0, 2.5, 3.0),
    Rhythm(2.0, 2.5, 2.0, 1.5, 3.0),
    Rhythm(2.8, 2.5, 2.0, 1.5, 4.5),
    Rhythm(3.6, 0.5, 2.0, 1.5, 3.0),
    Rhythm(2.8, 4.0, 0.0, 2.5, 4.5),
    Rhythm(2.0, 2.5, 0.0, 2.5, 6.0),
    Rhythm(2.0, 2.5, 6.0, 2.5, 6.0),
    Rhythm(2.8, 4.0, 6.0, 2.5, 6.0),
    Rhythm(2.8, 2.5, 0.0, 1.5, 6.0),
    Rhythm(2.8, 4.0, 6.0, 2.5, 3.0),
    Rhythm(2.0, 2.5, 2.0, 2.5, 3.0),
    Rhythm(2.8, 4.0, 6.0, 2.5, 4.5),
)
"""Of 337 rhythms those few that made every joint that any of them made, the most useful first, those of one person
last."""


def in_a_rhythm(chain: CoatChain, options: Sequence[Cuts], soonest: bool = False) -> Solution | None:
    """The first of these divisions that keeps every window in some rhythm, in the first that does or in the one that is
    done `soonest`. None where none does, or where buckets are laid at once."""
    for cuts in options if chain.setting.strips > 1 else ():
        kept = (found for found in _in_each(chain, cuts) if found.feasible)
        best = min(kept, key=lambda found: found.found.finish, default=None) if soonest else next(kept, None)
        if best is not None:
            return best
    return None


def _in_each(chain: CoatChain, cuts: Cuts) -> Iterator[Solution]:
    """These batches in one rhythm after the other."""
    net = chain.network(cuts)
    for rhythm in RHYTHMS:
        chain.meter.spend(net.size * (1 + A_STEP_HANDED_OUT))
        order = in_turns(net, chain, _phases(chain, rhythm), len(cuts), _period(chain, rhythm), rhythm.ahead)
        staff = _whoever_is_free(net, order)
        yield Solution(cuts, staff, order, timed(net, staff, order))


def _period(chain: CoatChain, rhythm: Rhythm) -> float:
    """How many phases pass from one bucket to the next."""
    return rhythm.strips * (chain.setting.strips - 1) + rhythm.buckets


def _phases(chain: CoatChain, rhythm: Rhythm) -> tuple[float, ...]:
    """When in a batch each of its steps comes."""
    own = {**PHASE, "cut-in": rhythm.cut_in, "roll": rhythm.roll, "broadcast": rhythm.roll + 1.0}
    return tuple(own[WORK_OF.get(kind, kind)] + rhythm.strips * (STRIP_OF.get(kind, 1) - 1) for kind in chain.kinds)


def _whoever_is_free(net: Network, order: Sequence[int]) -> tuple[int, ...]:
    """Each step by whoever is done with it first; of two, by who waited less for it."""
    free, starts, ends, staff = list(net.people_free), [0] * net.size, [0] * net.size, [0] * net.size
    for node in order:
        ready = net.release[node]
        for first, lag in net.after_end[node]:
            ready = max(ready, ends[first] + lag)
        for first, lag in net.after_start[node]:
            ready = max(ready, starts[first] + lag)
        best: tuple[int, int, int, int] | None = None
        for person, span in enumerate(net.times[node]):
            if span is None:
                continue
            start = max(ready, free[person])
            for first, lag in net.end_after_end[node]:
                start = max(start, ends[first] + lag - span)
            could = start + span, start - free[person], person, start
            best = could if best is None or could < best else best
        assert best is not None
        ends[node], _, staff[node], starts[node] = best
        free[staff[node]] = ends[node]
    return tuple(staff)
