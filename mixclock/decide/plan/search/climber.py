"""Looks for the order of work and the staffing that finish a run of batches soonest, all windows kept.

First every sensible crew pattern ("one mixes and spreads, the other rolls and flakes") is tried with every sensible
overlap of one batch with the next; then the best are improved by small changes: another person for a step, a step
earlier or later, an area moved to the neighbouring batch. Seeded, so that the same floor gives the same plan.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable, Sequence
from typing import Protocol

from mixclock.decide.plan.floor.meter import Meter
from mixclock.decide.plan.search.manyways import best_ways, work_of
from mixclock.decide.plan.search.network import NOTHING_SETTLED, Network, SettledPart, TimedOrder, timed
from mixclock.values import dataclass

Cuts = tuple[int, ...]
"""Where each batch ends, counted in pieces of floor: (3, 6, 7) is pieces 0-2, 3-5 and 6."""

PERIODS = (10.0, 4.5, 3.5, 2.7, 2.2, 1.5)
"""How many phases of a batch pass before the next one begins: 10 is one batch after the other."""

AHEAD = (0.0, 2.0, 100.0)
"""How many phases sooner than necessary a batch is prepared."""

MOST_PATTERNS = 160
VIOLATION_WEIGHT = 16
MOST_VIOLATION = 100_000
MEMORY = 40
SAMPLED_FROM = 60
MOST_BEGUN = 60
"""So many of the best beginnings are kept. The search goes no further from worse ones."""

BEGUN_ROUNDS = 4
MOST_STAFFED = 20000
LOAD_BITS = 32
MOST_LOAD = 2**LOAD_BITS - 1
SHORT = 4
FARTHEST = 14


class Chain(Protocol):
    """A run of pieces of floor that are done one after the other."""

    @property
    def meter(self) -> Meter:
        """What the search has cost so far."""

    @property
    def pieces(self) -> int:
        """How many pieces there are."""

    @property
    def phases(self) -> tuple[float, ...]:
        """When in a batch each kind of step usually comes."""

    @property
    def like(self) -> tuple[int, ...]:
        """For each kind of step the one whose hands it is begun with."""

    @property
    def lead(self) -> int:
        """How many steps come before the first batch."""

    @property
    def patient(self) -> frozenset[int]:
        """Those of them that may wait until a batch needs them."""

    @property
    def tail(self) -> int:
        """How many steps come after the last batch."""

    def weight(self, piece: int) -> float:
        """The size of a piece."""

    def fits(self, first: int, end: int) -> bool:
        """Whether one bucket can do the pieces from `first` up to `end`."""

    def is_worth_mixing(self, first: int, end: int) -> bool:
        """Whether they are enough for a bucket."""

    def network(self, cuts: Cuts) -> Network:
        """The steps of these batches and how they are linked."""


@dataclass(frozen=True)
class Effort:
    """How long to look: changes tried in all, and how many of them without any gain end the search."""

    changes: int = 4000
    patience: int = 1500


@dataclass(frozen=True)
class Solution:
    """Batches, staffing and order of work, with their times."""

    cuts: Cuts
    staff: tuple[int, ...]
    order: tuple[int, ...]
    found: TimedOrder

    @property
    def feasible(self) -> bool:
        """Whether every window is kept."""
        return self.found.violation == 0


def again(chain: Chain, solution: Solution) -> Solution:
    """The same work timed anew."""
    found = timed(chain.network(solution.cuts), solution.staff, solution.order)
    return Solution(solution.cuts, solution.staff, solution.order, found)


def begin(chain: Chain, options: Sequence[Cuts], dice: random.Random, stop: Callable[[], bool]) -> list[Solution]:
    """The best of all patterns and overlaps, the best first; the first division that keeps every window ends it."""
    begun: list[Solution] = []
    for index, cuts in enumerate(options):
        begun += _begun_with(chain, cuts, dice, whole=index == 0)
        if any(solution.feasible for solution in begun) or stop():
            break
    return sorted(begun, key=lambda solution: solution.found.cost)[:MOST_BEGUN]


def _begun_with(chain: Chain, cuts: Cuts, dice: random.Random, whole: bool) -> list[Solution]:
    """The best crew patterns and overlaps for one division."""
    net, count = chain.network(cuts), len(cuts)
    rows = _patterns(net, chain, count, dice)
    rows = rows if whole else rows[: max(4, len(rows) // 4)]
    staffs = [_staffed(net, chain, count, pattern) for pattern in rows]
    orders = list(
        dict.fromkeys(in_turns(net, chain, chain.phases, count, *way) for way in itertools.product(PERIODS, AHEAD))
    )
    chain.meter.work += work_of(net, len(staffs), len(orders))
    best = best_ways(net, staffs, orders, BEGUN_ROUNDS, MOST_BEGUN)
    best = best[:1] if best and not best[0].violation else best  # no other is looked at where one keeps every window
    kept = (Solution(cuts, staffs[way.staffing], orders[way.order], _NOT_TIMED) for way in best)
    return [again(chain, solution) for solution in kept]


_NOT_TIMED = TimedOrder([], 0, 0)

Rows = tuple[tuple[int, ...], ...]
"""Who does each kind of step, for one batch or for two in turn."""


def _patterns(net: Network, chain: Chain, batches: int, dice: random.Random) -> list[Rows]:
    """Who does what, the same for every batch, and with two patterns taking turns; the most even load first."""
    kinds = len(chain.phases)
    able = [net.able(chain.lead + kind) for kind in range(kinds)]
    own = [kind for kind in range(kinds) if chain.like[kind] == kind]
    few = list(itertools.islice(itertools.product(*(able[kind] for kind in own)), MOST_STAFFED))
    loads = list(map(sum, itertools.islice(itertools.product(*_loads(net, chain, own, able)), MOST_STAFFED)))
    hands = range(0, net.people * LOAD_BITS, LOAD_BITS)
    heaviest = [max([load >> person & MOST_LOAD for person in hands]) for load in loads]
    shuffled = list(range(len(few)))
    dice.shuffle(shuffled)
    even = sorted(shuffled, key=heaviest.__getitem__)
    even = even[: MOST_PATTERNS if batches <= SHORT else MOST_PATTERNS // 4]
    places = [own.index(kind) for kind in chain.like]
    rows = [(row, row) for row in even]
    if batches > 1 and net.people > 1:
        turns = SAMPLED_FROM if batches <= SHORT else SAMPLED_FROM // 4
        rows += [(row, dice.choice(even)) for row in even[:turns]]
    both = [max([loads[one] + loads[other] >> person & MOST_LOAD for person in hands]) for one, other in rows]
    whole = {row: tuple([few[row][place] for place in places]) for row in even}
    in_turns = [(whole[one],) if one == other else (whole[one], whole[other]) for one, other in rows]
    return [in_turns[place] for place in sorted(range(len(rows)), key=both.__getitem__)]


def _loads(net: Network, chain: Chain, own: Sequence[int], able: Sequence[Sequence[int]]) -> list[list[int]]:
    """For each of these kinds and each who can do it, how long that takes with all kinds that are done alike [s], in
    the bits of that person: thousands of sums are added up so for the whole crew at once."""
    spans = net.times[chain.lead : chain.lead + len(chain.phases)]
    alike = [[row for row, like in zip(spans, chain.like, strict=True) if like == kind] for kind in own]
    return [
        [sum([row[person] or 0 for row in rows]) << person * LOAD_BITS for person in able[kind]]
        for kind, rows in zip(own, alike, strict=True)
    ]


def _staffed(net: Network, chain: Chain, batches: int, rows: Rows) -> tuple[int, ...]:
    lead = [able[node % len(able)] for node in range(chain.lead) for able in (net.able(node),)]
    each = [person for batch in range(batches) for person in rows[batch % len(rows)]]
    middle = [who_can(net, node, person) for node, person in enumerate(each, chain.lead)]
    tail = [_quickest(net, node) for node in range(net.size - chain.tail, net.size)]
    return (*lead, *middle, *tail)


def who_can(net: Network, node: int, person: int) -> int:
    """This person, or the quickest of those who can where they can't: a step that two do is not for everybody who does
    it alone."""
    return person if net.times[node][person] is not None else _quickest(net, node)


def _quickest(net: Network, node: int) -> int:
    return min(net.able(node), key=lambda person: net.span(node, person))


def in_turns(
    net: Network, chain: Chain, phases: Sequence[float], batches: int, period: float, ahead: float
) -> tuple[int, ...]:
    """An order of work in which each batch comes so many phases behind the one before it, and what is prepared of it so
    much sooner; `phases` say when in a batch each kind of step comes."""
    keys = [-1.0 - (chain.lead - node) for node in range(chain.lead)]
    keys += [batch * period + (phase - ahead if phase < 0 else phase) for batch in range(batches) for phase in phases]
    keys += [1e6 + node for node in range(chain.tail)]
    for node in chain.patient:
        keys[node] = min((keys[then] for then in net.after[node]), default=1e5) - 0.7
    return by_keys(net, keys)


def by_keys(net: Network, keys: Sequence[float]) -> tuple[int, ...]:
    """The steps in the order of these keys, every step behind what it waits for."""
    return legal(net, sorted(range(net.size), key=lambda node: (keys[node], node)))


def legal(net: Network, wanted: Sequence[int]) -> tuple[int, ...]:
    """The order with every step moved behind what it waits for."""
    placed: list[int] = []
    seen: set[int] = set()
    rank: dict[int, int] = {}

    def put(node: int) -> None:
        if node in seen:
            return
        seen.add(node)
        for other in sorted(net.before[node] - seen, key=rank.__getitem__):
            put(other)
        placed.append(node)

    for node in wanted:
        if node not in seen and net.before[node] <= seen:
            seen.add(node)
            placed.append(node)
        elif node not in seen:
            rank = rank or {each: place for place, each in enumerate(wanted)}
            put(node)
    return tuple(placed)


def improve(
    chain: Chain,
    start: Solution,
    effort: Effort,
    dice: random.Random,
    stop: Callable[[], bool],
    good_enough: int = 0,
    settled: SettledPart = NOTHING_SETTLED,
) -> Solution:
    """Late-acceptance hill climbing: a change stays if it is no worse than what stood some changes ago."""
    net = chain.network(start.cuts)
    found = timed(net, start.staff, start.order, settled=settled)
    current = best = Solution(start.cuts, start.staff, start.order, found)
    memory = [score(current.found)] * MEMORY
    since = 0
    for step in range(effort.changes):
        done = best.feasible and best.found.finish <= good_enough
        if done or since > effort.patience or (step % 64 == 0 and stop()):
            break
        since += 1
        limit = max(memory[step % MEMORY], score(current.found))
        tried = _changed(chain, current, dice, limit, settled)
        if tried is None:
            continue
        if score(tried.found) <= limit:
            current = tidied(tried, settled)
            if current.found.cost < best.found.cost:
                best, since = current, 0
        memory[step % MEMORY] = min(memory[step % MEMORY], score(current.found))
    return best


def score(found: TimedOrder) -> int:
    return found.finish + VIOLATION_WEIGHT * min(found.violation, MOST_VIOLATION)


def tidied(solution: Solution, settled: SettledPart) -> Solution:
    """The order in which the steps really begin, so that "a step earlier" means what it says."""
    starts = solution.found.starts
    held, rest = solution.order[: settled.count], solution.order[settled.count :]
    order = (*held, *sorted(rest, key=lambda node: starts[node]))
    return Solution(solution.cuts, solution.staff, order, solution.found)


def _changed(chain: Chain, at: Solution, dice: random.Random, too_late: int, settled: SettledPart) -> Solution | None:
    net = chain.network(at.cuts)
    roll = dice.random()
    cuts, staff, order = at.cuts, list(at.staff), list(at.order)
    if roll < 0.12 and len(cuts) > 1 and not settled.count:
        moved = move_area(chain, cuts, dice)
        if moved is None:
            return None
        cuts = moved
        net = chain.network(cuts)
    elif roll < 0.5 and net.people > 1:
        if not _swap_person(net, chain, staff, dice.choice(order[settled.count :]), dice, settled):
            return None
    elif not _move_step(net, order, settled.count, dice):
        return None
    if roll > 0.85 and net.people > 1:
        _swap_person(net, chain, staff, dice.choice(order[settled.count :]), dice, settled)
    found = timed(net, staff, order, too_late=too_late, settled=settled)
    return Solution(cuts, tuple(staff), tuple(order), found)


def move_area(chain: Chain, cuts: Cuts, dice: random.Random) -> Cuts | None:
    """A piece of floor goes to the neighbouring batch, where both still fit."""
    which = dice.randrange(len(cuts) - 1)
    begin = cuts[which - 1] if which else 0
    wanted = cuts[which] + dice.choice((-1, 1))
    if not begin < wanted < cuts[which + 1]:
        return None
    runs = ((begin, wanted), (wanted, cuts[which + 1]))
    if not all(chain.fits(*run) and chain.is_worth_mixing(*run) for run in runs):
        return None
    return (*cuts[:which], wanted, *cuts[which + 1 :])


def _swap_person(
    net: Network, chain: Chain, staff: list[int], node: int, dice: random.Random, settled: SettledPart
) -> bool:
    """Another person for a step; now and then for that kind of step from there on."""
    others = [person for person in net.able(node) if person != staff[node]]
    if not others:
        return False
    person = dice.choice(others)
    staff[node] = person
    inside = chain.lead <= node < net.size - chain.tail
    if inside and dice.random() < 0.25:
        for later in range(node, net.size - chain.tail, len(chain.phases)):
            if later not in settled.steps and net.times[later][person] is not None:
                staff[later] = person
    return True


def _move_step(net: Network, order: list[int], held: int, dice: random.Random) -> bool:
    """A step goes earlier or later, as far as what it waits for allows."""
    place = dice.randrange(held, len(order))
    node = order[place]
    low = high = place
    while low > held and order[low - 1] not in net.before[node] and place - low < FARTHEST:
        low -= 1
    while high < len(order) - 1 and order[high + 1] not in net.after[node] and high - place < FARTHEST:
        high += 1
    if low == high:
        return False
    target = dice.randint(low, high)
    if target == place:
        return False
    order.insert(target, order.pop(place))
    return True
