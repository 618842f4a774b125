"""A run of batches tightened by OR-tools' CP-SAT, where that library is installed.

Our own search alone lies up to 7 % over what CP-SAT finds on halls of twenty bays; CP-SAT alone finds no plan at all
for most halls of forty. So our own search begins and CP-SAT goes on from there, from its starts and its hands. It is an
extra: a plan is made without it, only less tight. It is run with one worker that takes its ways in turns, a fixed seed
and a limit in its own deterministic time, so that the same floor gives the same plan.

The model is written as the library's own text of a model: its Python classes bring in pandas, which takes a third of a
second and 75 MB that a plan has no use for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from importlib import import_module
from importlib.util import find_spec
from typing import Any, Generic, NamedTuple, TypeVar

from mixclock.decide.plan.floor.meter import A_SOLVER_SECOND, Meter
from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search.climber import Chain, Cuts, Solution, by_keys
from mixclock.decide.plan.search.network import Network, timed

LIBRARY = "ortools.sat.python.cp_model_helper"
MOST_STEPS, MOST_STEPS_LOOKED = 36, 80
MOST_STEPS_PROVEN, MOST_STEPS_TIGHTENED = 33, 320
"""A floor of up to 36 steps is asked of it before any joint is looked at, one of up to 80 before any walk: in
half the time of walks it found plans of fewer buckets. Beyond 33 it proves nothing; up to 320 it still finds
what our own search has missed."""

LARGE = 60
"""A floor of more steps is tightened in the division that is known, by one way alone and then by ways in turns: on
halls of forty bays each missed up to 3 % that the other found."""

DETERMINISTIC_S: Sequence[tuple[int, float]] = ((33, 0.14), (36, 0.2), (LARGE, 0.3))
BRIEF_S: Sequence[tuple[int, float]] = ((MOST_STEPS, 0.1), (LARGE, 0.05))
"""How long it looks, by the number of steps: longest where it finds most for its time; and where the soonest to the
minute is not asked for."""

LEAST_S = 0.05
SEED = 1
ALWAYS = f"num_workers: 1 random_seed: {SEED} catch_sigint_signal: false cp_model_probing_level: 0 symmetry_level: 0"
"""Without probing and symmetries it found as much or more, in nine tenths of the time, on 23 halls and 114 floors."""


class SolverWay(NamedTuple):
    """How the library is run: its parameters, how long it looks at one division and at all of them, and whether for
    the soonest plan or for any."""

    parameters: str
    each_s: float
    most_s: float
    soonest: bool = True


STRONG = "use_strong_propagation_in_disjunctive: true"
TIGHTENING = SolverWay(f"{ALWAYS} interleave_search: true {STRONG}", 1.0, 1.0)
TIGHTENING_ALONE = SolverWay(f"{ALWAYS} linearization_level: 0 {STRONG}", 1.0, 1.0)
TIGHTENING_NEARBY = SolverWay(f"{ALWAYS} linearization_level: 0 interleave_search: true use_lns_only: true", 1.0, 1.0)
"""One way alone proves small floors in half the time that ways in turns take; those find more on floors of five to
eight buckets. What lies near the known plan is found there in a third of that time, but for a hundredth."""

_WITHOUT_RELAXATIONS = "linearization_level: 0 interleave_search: true " + " ".join(
    f'subsolvers: "{name}"' for name in ("no_lp", "quick_restart_no_lp")
)
TIGHTENING_IN_TURNS = SolverWay(f"{ALWAYS} {_WITHOUT_RELAXATIONS} {STRONG}", 1.0, 1.0)
"""Two ways in turns: on eight halls of forty bays they found what all its ways in turns find, in two thirds of the
processor's time."""

TIGHTENING_LARGE: Sequence[tuple[SolverWay, float]] = (
    (TIGHTENING_ALONE, 0.05),
    (TIGHTENING_NEARBY, 0.15),
    (TIGHTENING_IN_TURNS, 0.15),
)
"""What lies near is looked at in between: an uneven hall of forty bays was done a hundredth sooner so."""

HUGE = 120
LARGE_BRIEFLY: Sequence[tuple[SolverWay, float]] = ((TIGHTENING_ALONE, 0.07),)
HUGE_BRIEFLY: Sequence[tuple[SolverWay, float]] = ((TIGHTENING_ALONE, 0.03),)
"""Of more steps than `HUGE` it looks briefly: on a hall of 179 steps it found one minute in six hours, two more in
twice the time. Where the soonest to the minute is not asked for, it does not look."""

BRIEFLY = SolverWay(
    f"{ALWAYS} linearization_level: 0 search_branching: PORTFOLIO_WITH_QUICK_RESTART_SEARCH", 0.018, 0.05, soonest=False
)
AT_A_GLANCE = BRIEFLY._replace(each_s=0.01, most_s=0.03)
AT_ONCE = BRIEFLY._replace(each_s=0.006, most_s=0.006)
TIGHTENING_BY_TWO = SolverWay(f"{TIGHTENING_ALONE.parameters} restart_algorithms: LUBY_RESTART", 1.0, 1.0)
"""Where any two may roll together, it begins again at other times: of halls of 20 and 40 bays three in four were done
up to a hundredth sooner than with its usual restarts, none later by more than a minute."""

THOROUGHLY = SolverWay(f"{ALWAYS} linearization_level: 0 {STRONG}", 0.03, 0.03, soonest=False)
"""Whether a floor can be done at all: on 146 floors and joints quick restarts settle five in six in a third of the time
that its ways in turns take, and strong propagation settles all but two of the rest, where those leave fourteen open.
At a glance it settles all but ten in 450 of what it settles briefly, in half the time where it finds nothing."""


def available() -> bool:
    """Whether OR-tools is installed."""
    return find_spec("ortools") is not None and find_spec(LIBRARY) is not None


def tighten(
    chain: Chain, options: Sequence[Cuts], known: Solution, stop: Callable[[], bool], briefly: bool = False
) -> Solution:
    """A solution that ends sooner than the known one, in any of these divisions; the known one where there is none."""
    best = known
    size = chain.network(known.cuts).size
    if size > LARGE:
        if size > HUGE:
            return known if briefly else _tightened_large(chain, known, stop, HUGE_BRIEFLY)
        return _tightened_large(chain, known, stop, LARGE_BRIEFLY if briefly else TIGHTENING_LARGE)
    left_s = next((seconds for steps, seconds in (BRIEF_S if briefly else DETERMINISTIC_S) if size <= steps), 0.0)
    for cuts in sorted(options, key=lambda cuts: cuts != known.cuts):
        net = chain.network(cuts)
        if stop() or net.size > LARGE or left_s < LEAST_S:
            break
        hint = best if cuts == best.cuts else None
        way = _tightening(net.size, hint is not None, briefly)
        answer = _solved(chain.meter, cuts, net, best.found.finish - (hint is None), left_s, way, known=hint)
        left_s, found = left_s - answer.took_s, answer.found
        if found is not None and found.found.cost < best.found.cost:
            best = found
    return best


def _tightened_large(
    chain: Chain, known: Solution, stop: Callable[[], bool], ways: Sequence[tuple[SolverWay, float]]
) -> Solution:
    """The division that is known, one way going on from where the other ended."""
    best, net = known, chain.network(known.cuts)
    for way, seconds in ways:
        if stop() or net.size > MOST_STEPS_TIGHTENED:
            break
        found = _solved(chain.meter, best.cuts, net, best.found.finish, seconds, way, known=best).found
        if found is not None and found.found.cost < best.found.cost:
            best = found
    return best


def _tightening(size: int, from_known: bool, briefly: bool) -> SolverWay:
    if size <= (MOST_STEPS if briefly else MOST_STEPS_PROVEN):
        return TIGHTENING_ALONE
    return TIGHTENING_NEARBY if briefly and from_known else TIGHTENING


class SolverAnswer(NamedTuple):
    """A solution, where one was found; whether it was looked for at all, and in which divisions there may be one. If in
    none, it is proven that there is none."""

    found: Solution | None = None
    looked: bool = False
    left: tuple[Cuts, ...] = ()

    @property
    def impossible(self) -> bool:
        """Whether there is proven to be no solution."""
        return self.looked and self.found is None and not self.left


def any_feasible(
    chain: Chain,
    options: Sequence[Cuts],
    stop: Callable[[], bool],
    ways: Sequence[SolverWay] = (BRIEFLY, THOROUGHLY),
    most_steps: int = MOST_STEPS_LOOKED,
) -> SolverAnswer:
    """Any solution of these divisions that keeps every window: all looked at briefly, then what is left thoroughly."""
    if chain.network(options[0]).size > most_steps:
        return SolverAnswer()
    left = list(options)
    for way in ways:
        left_s = way.most_s
        for cuts in tuple(left):
            if stop() or left_s <= 0.0:
                break
            net = chain.network(cuts)
            answer = _solved(chain.meter, cuts, net, _surely_over(net), min(left_s, way.each_s), way)
            left_s -= answer.took_s
            if answer.found is not None and answer.found.feasible:
                return SolverAnswer(answer.found, True, tuple(left))
            if answer.impossible:
                left.remove(cuts)
    return SolverAnswer(None, True, tuple(left))


def any_feasible_briefly(
    chain: Chain, options: Sequence[Cuts], stop: Callable[[], bool], ways: Sequence[SolverWay] = (BRIEFLY,)
) -> SolverAnswer:
    """The same at a glance: where a plan keeps a reserve, one bucket more is as good as a long search."""
    return any_feasible(chain, options, stop, [AT_A_GLANCE for way in ways if way is BRIEFLY])


_Found = TypeVar("_Found")


class _DivisionAnswer(NamedTuple, Generic[_Found]):
    """What the library found for one division, how long it took in its own time, and whether it proved that there is
    nothing to be found."""

    found: _Found | None
    took_s: float
    impossible: bool = False


def _surely_over(net: Network) -> int:
    """By when all is over if the work can be done at all: nobody waits longer than all other steps take one after the
    other."""
    work = sum(max(span or 0 for span in row) for row in net.times)
    lags = sum(max(0, lag) for row in (*net.after_end, *net.after_start, *net.end_after_end) for _, lag in row)
    return max(*net.release, *net.people_free) + work + lags + max(net.tails, default=0)


def _solved(
    meter: Meter, cuts: Cuts, net: Network, finish_by: int, left_s: float, way: SolverWay, known: Solution | None = None
) -> _DivisionAnswer[Solution]:
    """A solution that ends by then, if the library finds one in so many seconds."""
    answer = asked(meter, net, finish_by, left_s, way, known)
    found = None if answer.found is None else in_these_hands(cuts, net, answer.found)
    return _DivisionAnswer(found, answer.took_s, answer.impossible)


def in_these_hands(cuts: Cuts, net: Network, found: TimedHands) -> Solution:
    """The steps one after the other, each by one alone."""
    staff = tuple(hands.people[0] for hands in found.hands)
    order = by_keys(net, found.begins)
    return Solution(cuts, staff, order, timed(net, staff, order))


class Hands(NamedTuple):
    """Those who may do a step, one alone or two side by side, how long it takes them, and the number of the variable
    that says so."""

    people: tuple[int, ...]
    span: int
    literal: int


class TimedHands(NamedTuple):
    """When each step begins, and by which hands."""

    begins: tuple[int, ...]
    hands: tuple[Hands, ...]

    @property
    def finish(self) -> int:
        """When the last step is over."""
        return max(begun + hands.span for begun, hands in zip(self.begins, self.hands, strict=True))


Shared = Mapping[int, Sequence[tuple[tuple[int, ...], int]]]
"""The steps that two may do side by side too: any two, and how long it takes them."""

NOTHING_SHARED: Shared = {}


def asked(
    meter: Meter,
    net: Network,
    finish_by: int,
    left_s: float,
    way: SolverWay,
    known: Solution | None = None,
    shared: Shared = NOTHING_SHARED,
) -> _DivisionAnswer[TimedHands]:
    """Hands and starts that end all by then, if the library finds any in so many seconds."""
    library: Any = import_module(LIBRARY)
    model = _SolverText(net, finish_by, shared)
    written, parameters = library.CpModelProto(), library.SatParameters()
    written.parse_text_format(model.text(way.soonest, known))
    parameters.parse_text_format(f"{way.parameters} max_deterministic_time: {left_s}")
    solver = library.SolveWrapper()
    solver.set_parameters(parameters)
    answer = solver.solve(written)
    took_s: float = answer.deterministic_time
    meter.spend(A_SOLVER_SECOND * took_s)
    if answer.status not in (library.CpSolverStatus.OPTIMAL, library.CpSolverStatus.FEASIBLE):
        return _DivisionAnswer(None, took_s, answer.status == library.CpSolverStatus.INFEASIBLE)
    values = list(answer.solution)
    hands = tuple(next(each for each in row if values[each.literal]) for row in model.does)
    return _DivisionAnswer(TimedHands(tuple(values[: net.size]), hands), took_s)


class _SolverText:
    """The network as constraints: an interval for everybody who can do a step, or any two, all links, the finish.
    Variables are counted: the starts of all steps, then who does each, then the finish."""

    def __init__(self, net: Network, finish_by: int, shared: Shared) -> None:
        self.net, self.finish_by = net, finish_by
        self.does: list[list[Hands]] = []
        count = net.size
        for row in net.times:
            able = [(person, span) for person, span in enumerate(row) if span is not None]
            self.does.append([Hands((who,), span, literal) for literal, (who, span) in enumerate(able, count)])
            count += len(able)
        for node, pairs in shared.items():
            self.does[node] += [Hands(*each, literal) for literal, each in enumerate(pairs, count)]
            count += len(pairs)
        self.finish = count

    def text(self, soonest: bool, known: Solution | None) -> str:
        """The model as the library reads it."""
        lines = [*self._variables(), *self._people(), *self._links(), *self._ends()]
        if soonest:
            lines.append(f"objective {{ vars: {self.finish} coeffs: 1 }}")
        if known is not None:
            lines.append(self._hint(known))
        return "\n".join(lines)

    def _variables(self) -> Iterator[str]:
        for release in self.net.release:
            yield f"variables {{ domain: [{release}, {max(release, self.finish_by)}] }}"
        for _ in range(self.net.size, self.finish):
            yield "variables { domain: [0, 1] }"
        yield f"variables {{ domain: [0, {self.finish_by}] }}"

    def _people(self) -> Iterator[str]:
        """Somebody does each step, and nobody two at once."""
        busy: list[list[int]] = [[] for _ in range(self.net.people)]
        written = 0
        for node, row in enumerate(self.does):
            for people, span, literal in row:
                start, end = (
                    f"{edge} {{ vars: {node} coeffs: 1 offset: {at} }}" for edge, at in (("start", 0), ("end", span))
                )
                yield (
                    f"constraints {{ enforcement_literal: {literal} "
                    f"interval {{ {start} size {{ offset: {span} }} {end} }} }}"
                )
                for person in people:
                    busy[person].append(written)
                free = max([self.net.people_free[person] for person in people])
                if free > self.net.release[node]:
                    yield f"constraints {{ enforcement_literal: {literal} {_linear({node: 1}, free)} }}"
                    written += 1
                written += 1
        for row in self.does:
            yield f"constraints {{ exactly_one {{ literals: [{_listed(each.literal for each in row)}] }} }}"
        for mine in busy:
            if mine:
                yield f"constraints {{ no_overlap {{ intervals: [{_listed(mine)}] }} }}"

    def _links(self) -> Iterator[str]:
        net = self.net
        for then in range(net.size):
            for first, lag in net.after_end[then]:
                yield self._apart(first, then, lag, 1, 0)
            for first, lag in net.after_start[then]:
                yield self._apart(first, then, lag, 0, 0)
            for first, lag in net.end_after_end[then]:
                yield self._apart(first, then, lag, 1, 1)
        for link in net.back:
            yield self._apart(*link)

    def _apart(self, first: int, then: int, least: int, of_first: int, of_then: int) -> str:
        """`start[then] + of_then * span[then] - start[first] - of_first * span[first] >= least`."""
        terms: dict[int, int] = {}
        for node, sign, of_span in ((then, 1, of_then), (first, -1, of_first)):
            terms[node] = terms.get(node, 0) + sign
            self._add_span(terms, node, sign * of_span)
        return f"constraints {{ {_linear(terms, least)} }}"

    def _ends(self) -> Iterator[str]:
        for node, last in enumerate(self.net.deadline):
            terms = {self.finish: 1, node: -1}
            self._add_span(terms, node, -1)
            yield f"constraints {{ {_linear(terms, self.net.tails[node] if self.net.tails else 0)} }}"
            if last < NEVER_S:
                terms = {node: -1}
                self._add_span(terms, node, -1)
                yield f"constraints {{ {_linear(terms, -last)} }}"

    def _add_span(self, terms: dict[int, int], node: int, times: int) -> None:
        """The length of a step is that of whoever does it."""
        for hands in self.does[node] if times else ():
            terms[hands.literal] = terms.get(hands.literal, 0) + times * hands.span

    def _hint(self, known: Solution) -> str:
        values = dict(enumerate(known.found.starts))
        for row, who in zip(self.does, known.staff, strict=True):
            values |= {hands.literal: int(hands.people == (who,)) for hands in row if len(hands.people) == 1}
        values[self.finish] = known.found.finish
        return f"solution_hint {{ vars: [{_listed(values)}] values: [{_listed(values.values())}] }}"


def _linear(terms: dict[int, int], least: int) -> str:
    """That a sum is no less than something."""
    return (
        f"linear {{ vars: [{_listed(terms)}] coeffs: [{_listed(terms.values())}] domain: [{least}, {10 * NEVER_S}] }}"
    )


def _listed(numbers: Iterable[int]) -> str:
    return ", ".join(str(number) for number in numbers)
