"""One coat in one stretch of working time: the fewest batches that keep every window, finished soonest, with the most
to spare.

The windows depend on the hour at which a batch is mixed, and that hour on the plan: so the plan is made with guessed
hours, the windows are asked again for the hours that came out, and so on until both agree.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import islice, product

from mixclock.decide.plan.floor.meter import Meter
from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search import solver as exact
from mixclock.decide.plan.search.annealing import any_feasible, mended, sooner_than
from mixclock.decide.plan.search.bytwo import sooner_by_two
from mixclock.decide.plan.search.chain import CoatChain
from mixclock.decide.plan.search.climber import Cuts, Effort, Solution, again, legal
from mixclock.decide.plan.search.divisions import as_the_floor_opens, divisions, fewest
from mixclock.decide.plan.search.guesses import agree, spread_guesses, take_guesses
from mixclock.decide.plan.search.joints import Joints
from mixclock.decide.plan.search.laidbefore import LaidBefore
from mixclock.decide.plan.search.network import timed
from mixclock.decide.plan.search.overwork import MOST_STEPS as MOST_SUMMED
from mixclock.decide.plan.search.overwork import too_much_work
from mixclock.decide.plan.search.proofs import enough_hands, open_in_time
from mixclock.decide.plan.search.rhythms import in_a_rhythm
from mixclock.decide.plan.search.rolling import FIRST, roll
from mixclock.decide.plan.search.slack import most_slack, most_slack_each
from mixclock.decide.plan.search.steadyhands import steadied
from mixclock.values import dataclass, field, replace

MOST_ROUNDS = 5
QUICK = 0.25
MOST_CHANGES = 8000
CHANGES_FOR = 1_200_000
ROLLING = Effort(500, 250)
MOST_ONE_BY_ONE = 1
MOST_STAFFINGS = 500
MOST_DIVISIONS, MOST_JOINED = 8, 3
"""So many divisions into a number of batches are tried, the most even first (judgement)."""
NEAR_ENOUGH, NEAR_WITH_A_RESERVE = 1.025, 1.03
"""If a finish lies so near to the earliest possible one, the library still finds a minute in a long day at most."""

STEADIED_FIRST = 12
"""Of more batches than this the tools go back into the same hands first: what was found window by window often ends
sooner so, and the library then has nothing left to find."""

Progress = Callable[[str, float], None]


def quiet(what: str, share: float) -> None:
    """Show no progress."""


@dataclass(frozen=True)
class Ways:
    """How a search is run: effort, seed, who is told, who may stop it, whether an installed solver may help (also in a
    quick look), no more batches than how many and whether fewer are tried first, whether any plan that fits will do or
    one that is done about as soon as can be, whether its end is the end of the work, whether any hands that do it will,
    whether two who roll are looked for afterwards, what was looked at before, and what all that has cost."""

    effort: Effort | None = None
    seed: int = 0
    stop: Callable[[], bool] = lambda: False
    progress: Progress = quiet
    exact: bool = True
    asks_quickly: bool = False
    most: int = NEVER_S
    fewest_first: bool = True
    rough: bool = False
    briefly: bool = False
    ends_the_work: bool = True
    any_hands: bool = False
    by_two_next: bool = False
    joints: Joints = field(default_factory=Joints)
    laid: LaidBefore = field(default_factory=LaidBefore)
    meter: Meter = field(default_factory=Meter)

    def in_at_most(self, count: int) -> Ways:
        """Tried with so many batches at once, since fewer are not asked for."""
        return replace(self, most=count, fewest_first=False)

    @property
    def may_ask(self) -> bool:
        """Whether an installed solver helps."""
        return self.exact and (self.effort is None or self.asks_quickly) and exact.available()

    def effort_on(self, chain: CoatChain) -> Effort:
        """How long a floor is searched: each strip of a bucket is as much to look at as a bucket is."""
        return self.effort_for(chain.pieces * chain.setting.strips)

    def effort_for(self, pieces: int) -> Effort:
        """Small floors are searched long, large ones only as far as time allows."""
        if self.effort is not None:
            return self.effort
        changes = max(300, min(MOST_CHANGES, CHANGES_FOR // (pieces * pieces)))
        return Effort(changes, max(250, changes // 3))


@dataclass(frozen=True)
class StretchPlan:
    """A coat laid in one stretch: the solution, with the hours that its windows rest on."""

    chain: CoatChain
    solution: Solution

    @property
    def feasible(self) -> bool:
        """Whether every window is kept."""
        return self.solution.feasible


def lay(chain: CoatChain, ways: Ways) -> StretchPlan | None:
    """A way to lay this chain in few batches; None where not even one batch a piece keeps the windows."""
    asked = ways.effort, ways.seed, ways.exact, ways.most, ways.fewest_first
    known = ways.laid.same(chain.setting, asked)
    if known is None:
        found = _laid(chain, ways, ways.laid.fewest(chain.setting, asked))
        if found is None and (ways.stop() or ways.joints.is_tired):
            return None
        ways.laid.keep(chain, asked, found)
        return StretchPlan(chain, found) if found else None
    same = known.chain if known.chain.setting.site == chain.setting.site else chain
    same.guess(known.guesses)
    return StretchPlan(same, known.found) if known.found else None


def _laid(chain: CoatChain, ways: Ways, known_least: int) -> Solution | None:
    spread_guesses(chain)
    least = fewest(chain)
    if least is None or not ways.joints.divide(chain, ways.stop, ways.may_ask):
        return None
    ways.progress(f"{chain.setting.coat.name}: {len(least)} batches or more", 0.05)
    return _first_that_fits(chain, max(len(least), known_least), ways)


def lay_live(chain: CoatChain) -> StretchPlan:
    """The steps of live batches alone, where no bucket is to be mixed any more: what must be over first first, by whom
    all is done soonest. What can't be in time is done as soon as it can be."""
    net = chain.network(())
    order = legal(net, sorted(range(net.size), key=lambda node: (net.deadline[node], net.release[node], node)))
    rows = islice(product(*(net.able(node) for node in range(net.size))), MOST_STAFFINGS)
    tried = [Solution((), staff, order, timed(net, staff, order)) for staff in rows]
    return StretchPlan(chain, min(tried, key=lambda solution: solution.found.cost))


def sooner(laid: StretchPlan, ways: Ways) -> StretchPlan:
    """The same number of batches, finished as soon as is found, with the most to spare."""
    chain, known = laid.chain, laid.solution
    count = len(known.cuts)
    bound = floor_bound(chain, known.cuts)
    ways.progress(f"{chain.setting.coat.name}: {count} batches fit, looking for the soonest", 0.6)
    near = bound * (NEAR_ENOUGH if chain.setting.reserve >= 1.0 else NEAR_WITH_A_RESERVE)
    if count > STEADIED_FIRST and known.found.finish > near and not ways.any_hands:
        known = _in_steadier_hands(chain, known, ways)
    best = known
    if known.found.finish > near and not ways.stop():
        if _may_polish(chain, count, ways):
            is_asked = chain.setting.reserve >= 1.0 and ways.ends_the_work
            briefly = ways.briefly or ways.by_two_next or not is_asked
            found = exact.tighten(chain, divisions(chain, count), known, ways.stop, briefly)
        else:
            found = sooner_than(chain, known, ways.effort_on(chain), ways.seed + 1, ways.stop, bound)
        best = _kept(chain, known, found, ways)
    as_soon = StretchPlan(chain, best)
    return with_most_to_spare(as_soon) if ways.any_hands else in_steadier_hands(as_soon, ways)


def rolled_by_two(laid: StretchPlan, by_s: int, ways: Ways) -> StretchPlan | None:
    """As many batches, divided so or otherwise, of which two roll as many as will be over by then; None unless an
    installed solver finds how."""
    chain, known = laid.chain, laid.solution
    count = len(known.cuts)
    if not _may_polish(chain, count, ways) or floor_bound(chain, known.cuts) > by_s:
        return None
    options = dict.fromkeys((known.cuts, *as_the_floor_opens(chain, count), *divisions(chain, count)))
    found = sooner_by_two(chain, options, by_s, known, ways.stop)
    agreed = _agreed(*found, ways) if found is not None else None
    if found is None or agreed is None or agreed.found.finish > by_s:
        return None
    return in_steadier_hands(StretchPlan(found[0], agreed), ways)


def may_be_over_by(laid: StretchPlan, by_s: int) -> bool:
    """False if these batches are proven to take longer, by whatever hands and in whatever order: no search for a sooner
    end of the day is worth its time then."""
    chain, cuts = laid.chain, laid.solution.cuts
    net = chain.network(cuts)
    hurried = replace(net, deadline=tuple(min(last, by_s) for last in net.deadline))
    if by_s < floor_bound(chain, cuts) or not open_in_time(hurried):
        return False
    return net.size > MOST_SUMMED or not too_much_work(hurried, chain.pours(cuts))


def in_steadier_hands(laid: StretchPlan, ways: Ways) -> StretchPlan:
    """The same work, finished as soon, with fewer tools changing hands."""
    return with_most_to_spare(StretchPlan(laid.chain, _in_steadier_hands(laid.chain, laid.solution, ways)))


def with_most_to_spare(laid: StretchPlan) -> StretchPlan:
    """The same work, finished as soon, with the least slack of its windows as large as it can be, then the others'.

    Beside a bucket that lives the next is mixed as soon as the tightest allows, as who asks for the next kit is told.
    """
    chain, known = laid.chain, laid.solution
    lives = any(wait.batch is not None for wait in chain.setting.waiting)
    spared = (most_slack if lives else most_slack_each)(chain.network(known.cuts), known)
    return StretchPlan(chain, replace(known, found=spared.found))


def _in_steadier_hands(chain: CoatChain, known: Solution, ways: Ways) -> Solution:
    """The plan with fewer tools changing hands, where it holds once its windows are asked for its own hours."""
    guesses = dict(chain.guesses)
    found = steadied(chain, known, ways.stop)
    for _ in range(MOST_ROUNDS if found is not known else 0):
        before = dict(chain.guesses)
        take_guesses(chain, found)
        found = again(chain, found)
        if not found.feasible or found.found.finish > known.found.finish:
            break
        if agree(before, chain.guesses):
            return found
    chain.guess(guesses)
    return known


def _kept(chain: CoatChain, known: Solution, found: Solution, ways: Ways) -> Solution:
    """What was found, if it still ends sooner once its windows are asked for its own hours. Else what was known."""
    guesses = dict(chain.guesses)
    agreed = _agreed(chain, found, ways) if found.found.cost < known.found.cost else None
    if agreed is not None and agreed.found.finish < known.found.finish:
        return agreed
    chain.guess(guesses)
    return known


def _may_polish(chain: CoatChain, count: int, ways: Ways) -> bool:
    return ways.may_ask and _steps(chain, count) <= exact.MOST_STEPS_TIGHTENED


def _steps(chain: CoatChain, count: int) -> int:
    return chain.lead + count * len(chain.kinds) + chain.tail


def _first_that_fits(chain: CoatChain, least: int, ways: Ways) -> Solution | None:
    """The smallest number of batches that works: up by ones, in larger steps where that takes long, then back down."""
    most = min(chain.pieces, ways.most, chain.most_batches)
    step, count, refused = 1, least if ways.fewest_first else max(least, most), least - 1
    searched = 0
    found: Solution | None = None
    while found is None and refused < most:
        count = min(count, most)
        ways.progress(f"{chain.setting.coat.name}: trying {count} batches", 0.1 + 0.4 * count / max(1, chain.pieces))
        options = _options(chain, count, ways)
        found = _settled(chain, options, ways) if options else None
        if found is None:
            refused = count
            searched += bool(options)
            step = step * 2 if options and searched > MOST_ONE_BY_ONE else step
            count += step
        if found is None and (ways.stop() or ways.joints.is_tired):
            return None
    while found is not None and len(found.cuts) - refused > 1 and ways.fewest_first and not ways.stop():
        middle = (len(found.cuts) + refused) // 2
        options = _options(chain, middle, ways)
        fewer = _settled(chain, options, ways) if options else None
        if fewer is None:
            refused = middle
        else:
            found = fewer
    if found is not None:
        take_guesses(chain, found)
        found = again(chain, found)
    return found


def _options(chain: CoatChain, count: int, ways: Ways) -> list[Cuts]:
    """The divisions into so many batches that are not proven impossible."""
    spread_guesses(chain)
    found = (cuts for cuts in divisions(chain, count) if enough_hands(chain, cuts) and not _is_overfull(chain, cuts))
    if ways.may_ask and _steps(chain, count) <= exact.MOST_STEPS:
        return list(islice(found, MOST_DIVISIONS))  # the solver is as soon done with the whole as with its joints
    joined = (cuts for cuts in found if ways.joints.hold(chain, cuts, ways.stop, ways.may_ask))
    return list(islice(joined, MOST_JOINED if ways.may_ask else MOST_DIVISIONS))


def _is_overfull(chain: CoatChain, cuts: Cuts) -> bool:
    return _steps(chain, len(cuts)) <= MOST_SUMMED and too_much_work(chain.network(cuts), chain.pours(cuts))


def _settled(chain: CoatChain, options: list[Cuts], ways: Ways) -> Solution | None:
    """Any plan with these batches, its windows asked for the hours that it really has."""
    asked = ways.effort, ways.seed, ways.exact
    new = ways.laid.not_failed(chain, asked, options)
    found = _first_look(chain, new, _quick(ways.effort_on(chain)), ways) if new else None
    if found is not None:
        return _agreed(chain, found, ways)
    if new and not ways.stop():
        ways.laid.fail(chain, asked, new if len(new[0]) <= FIRST else new[:1])
    return None


def _quick(effort: Effort) -> Effort:
    return Effort(max(150, int(effort.changes * QUICK)), effort.patience)


def _agreed(chain: CoatChain, found: Solution, ways: Ways) -> Solution | None:
    """The plan with its windows asked again for its own hours, until both agree. None if they never do, or once a
    change brings it no nearer: a walk that leaves as much amiss as the one before, a rhythm that was there before."""
    quick = _quick(ways.effort_on(chain))
    mend, last = replace(quick, changes=quick.changes // 2), found
    for _ in range(MOST_ROUNDS):
        if ways.stop():
            break
        before = dict(chain.guesses)
        take_guesses(chain, found)
        timed_anew = again(chain, found)
        if timed_anew.feasible and agree(before, chain.guesses) and timed_anew.found.starts == found.found.starts:
            return timed_anew
        found = timed_anew
        if not timed_anew.feasible:
            found = _mended(chain, timed_anew, mend, ways)
            if not found.feasible and _is_no_nearer(chain, found, last):
                return None
            last = found
    return found if _holds(chain, found) else None


def _is_no_nearer(chain: CoatChain, found: Solution, last: Solution) -> bool:
    """Whether more rounds are in vain. Another rhythm costs little, and is often met after one that misses more."""
    if chain.setting.strips > 1:
        return (found.staff, found.found.starts) == (last.staff, last.found.starts)
    return 0 < last.found.violation <= found.found.violation


def _mended(chain: CoatChain, missed: Solution, effort: Effort, ways: Ways) -> Solution:
    """A solution changed so that it keeps its windows again, as far as that is found. Buckets in strips are laid in
    another rhythm; where a plan keeps a reserve, one bucket more is as good as a long search."""
    handed = in_a_rhythm(chain, [missed.cuts], soonest=True)
    if handed is not None or (chain.setting.strips > 1 and chain.setting.reserve < 1.0):
        return handed or missed
    return mended(chain, missed, effort, ways.seed, ways.stop)


def _first_look(chain: CoatChain, options: list[Cuts], quick: Effort, ways: Ways) -> Solution | None:
    """Any plan that keeps the windows; long runs of batches, divided evenly, are built up window by window."""
    handed = in_a_rhythm(chain, options, soonest=True)
    if handed is not None or (chain.setting.strips > 1 and ways.may_ask):
        way = exact.BRIEFLY if chain.setting.reserve >= 1.0 else exact.AT_A_GLANCE
        return handed or exact.any_feasible(chain, options, ways.stop, (way,)).found
    if len(options[0]) <= FIRST:
        thoroughly = chain.setting.reserve >= 1.0
        asked = (exact.any_feasible if thoroughly else exact.any_feasible_briefly) if ways.may_ask else None
        found = any_feasible(chain, options, quick, ways.seed, ways.stop, asked)
        return found if found.feasible else None
    name, cuts = chain.setting.coat.name, options[0]
    found = roll(
        chain,
        cuts,
        ROLLING,
        ways.seed,
        ways.stop,
        lambda share: ways.progress(f"{name}: {len(cuts)} batches", 0.1 + 0.4 * share),
    )
    return found if found.feasible and len(found.cuts) == len(cuts) else None


def _holds(chain: CoatChain, found: Solution) -> bool:
    take_guesses(chain, found)
    return again(chain, found).feasible


def floor_bound(chain: CoatChain, cuts: Cuts) -> int:
    """A finish that no plan can beat: all the work, shared evenly, each step by the quickest who does it."""
    net = chain.network(cuts)
    work = sum(min(span for span in row if span is not None) for row in net.times)
    return min(net.people_free) + -(-work // net.people)
