"""Which batches two roll side by side, and who with whom: chosen with the hands and the order of all other steps.

Whoever spreads without a pause all day should not roll, and who is best left out of a pair depends on everything else:
so an installed solver gets every pair beside everybody alone, batch by batch, and goes on from the plan that is known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from mixclock.decide.plan.floor.crew import pairs_for, times_by_two
from mixclock.decide.plan.search import solver as exact
from mixclock.decide.plan.search.chain import CoatChain
from mixclock.decide.plan.search.climber import Cuts, Solution, by_keys, who_can
from mixclock.decide.plan.search.network import timed
from mixclock.decide.plan.search.solver import Shared, TimedHands
from mixclock.values import replace

MOST_SMALL_S, MOST_S, MOST_WAITING_S, MOST_LARGE_S = 0.12, 0.4, 0.15, 0.08
"""How long it looks at all divisions together. A small floor that waits for none below it is settled sooner. On halls
of twenty bays three people were done up to three hundredths sooner than in a third of that, but none sooner that waits
for the floor. A large one gained two thirds in half of what takes it as long again."""

MANY_AREAS = 24
"""Of more areas than this the plan is awaited as soon as that of a large floor, however few its buckets are."""


def sooner_by_two(
    chain: CoatChain, options: Iterable[Cuts], by_s: int, known: Solution, stop: Callable[[], bool]
) -> tuple[CoatChain, Solution] | None:
    """The soonest plan that is found of these divisions if it is over by then; the first is looked at longest, and a
    large floor only in the division that is known."""
    best: tuple[Cuts, TimedHands] | None = None
    size, over_s = chain.network(known.cuts).size, by_s
    is_small, is_large = size <= exact.MOST_STEPS, size > exact.LARGE
    left_s = _most_s(chain, is_small, is_large)
    for cuts in options:
        net = chain.network(cuts)
        if stop() or left_s < exact.LEAST_S or (is_large and cuts != known.cuts):
            break
        goes_on = cuts == known.cuts and not is_small  # of a small floor it is sooner proven that it can't be over
        hint, finish_by = (known, known.found.finish) if goes_on else (None, over_s)
        answer = exact.asked(chain.meter, net, finish_by, left_s, exact.TIGHTENING_BY_TWO, hint, _pairs(chain, cuts))
        left_s -= answer.took_s
        if answer.found is not None and answer.found.finish <= over_s:
            best, over_s = (cuts, answer.found), answer.found.finish - 1
    return None if best is None else _with_two(chain, *best)


def _most_s(chain: CoatChain, is_small: bool, is_large: bool) -> float:
    if is_large or chain.pieces > MANY_AREAS:
        return MOST_LARGE_S
    if chain.setting.bounds:
        return MOST_WAITING_S
    return MOST_SMALL_S if is_small else MOST_S


def _pairs(chain: CoatChain, cuts: Cuts) -> Shared:
    """Any two for the rolling of each batch, and how long it takes them."""
    crew, pairs, first = chain.setting.crew, pairs_for(chain.setting.crew, "roll"), 0
    found: dict[int, list[tuple[tuple[int, ...], int]]] = {}
    for batch, end in enumerate(cuts):
        pieces = chain.setting.pieces[first:end]
        spans = ((pair, times_by_two(crew, "roll", pieces, False, pair=pair)[pair[0]]) for pair in pairs)
        found[chain.node(batch, "roll")] = [(pair, span) for pair, span in spans if span is not None]
        first = end
    return found


def _with_two(chain: CoatChain, cuts: Cuts, found: TimedHands) -> tuple[CoatChain, Solution]:
    """The batches with a step for the second of two; it takes no time where nobody is asked to help."""
    rolls = {chain.node(batch, "roll"): first for batch, first in enumerate((0, *cuts[:-1]))}
    pairs = {
        first: (people[0], people[1]) for node, first in rolls.items() if len(people := found.hands[node].people) > 1
    }
    if not pairs:
        return chain, exact.in_these_hands(cuts, chain.network(cuts), found)
    helped = CoatChain(replace(chain.setting, helped=("roll",), helped_by=pairs), chain.meter)
    helped.guess(chain.guesses)
    net = helped.network(cuts)
    staff: list[int] = []
    keys: list[float] = []
    for node, (begun, hands) in enumerate(zip(found.begins, found.hands, strict=True)):
        staff.append(hands.people[0])
        keys.append(float(begun))
        if node in rolls:
            staff.append(who_can(net, len(staff), hands.people[-1]))
            keys.append(begun + 0.5 if len(hands.people) > 1 else begun + hands.span - 0.5)
    order = by_keys(net, keys)
    return helped, Solution(cuts, tuple(staff), order, timed(net, staff, order))
