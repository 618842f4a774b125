"""A plan that holds on as many days as somebody asks for: batches sized with a reserve, planned and simulated again.

The reserve is the share of every window that the search may use up. The largest reserve that reaches the chance is
taken, because it needs the fewest batches; each try is a whole plan and a whole simulation.
"""

from __future__ import annotations

from mixclock.decide.plan.days.planner import Bench, Standpoint, make_plan
from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.plan.judge.chance import DEFAULT_DAYS, USUAL, Spreads, chance_of
from mixclock.decide.plan.search.schedule import Ways
from mixclock.values import replace

RESERVES = (0.95, 0.9, 0.85, 0.8, 0.7, 0.6, 0.5)
MOST_TRIES = 4

NOT_SURE = "it holds on {holds:.0%} of days, {share:.0%} were asked for; the first to break: {first}"


def plan_sure(
    bench: Bench,
    share: float,
    ways: Ways | None = None,
    standpoint: Standpoint | None = None,
    plain: Plan | None = None,
    *,
    days: int = DEFAULT_DAYS,
    spreads: Spreads = USUAL,
) -> Plan:
    """The plan that holds on at least this share of days with the fewest batches; else the likeliest one, with a
    warning that says so.

    `plain` is the plan without a reserve where it was made already. A plan that does not fit at all comes back as it
    is: there is nothing to be sure of.
    """
    if not 0.0 < share < 1.0:
        raise ValueError(f"the share of days must lie between 0 and 1, got {share}")
    ways = ways or Ways()
    first = plain if plain is not None else make_plan(bench, ways, standpoint)
    if not first.feasible:
        return first
    tried = _Tries(bench, ways, standpoint, days, spreads)
    best = tried.with_chance(first)
    if _holds(best) >= share:
        return best
    found = _largest_reserve(tried, share)
    if found is not None:
        return found
    best = max([best, *tried.made], key=_holds)
    said = best.chance.breaks[0][0] if best.chance and best.chance.breaks else "nothing"
    warning = NOT_SURE.format(holds=_holds(best), share=share, first=said)
    return replace(best, warnings=(*best.warnings, warning), stopped_early=best.stopped_early or ways.stop())


class _Tries:
    """Plans made with a reserve, with their chances."""

    def __init__(self, bench: Bench, ways: Ways, standpoint: Standpoint | None, days: int, spreads: Spreads) -> None:
        self.bench, self.ways, self.standpoint = bench, ways, standpoint
        self.days, self.spreads = days, spreads
        self.made: list[Plan] = []

    def at(self, reserve: float) -> Plan | None:
        """The plan with this reserve; None where it does not fit any more."""
        self.ways.progress(f"keeping {1 - reserve:.0%} of every window in reserve", 0.5)
        found = make_plan(replace(self.bench, reserve=reserve), self.ways, self.standpoint)
        if not found.feasible:
            return None
        self.made.append(self.with_chance(found))
        return self.made[-1]

    def with_chance(self, plan: Plan) -> Plan:
        return replace(plan, chance=chance_of(plan, self.bench, self.days, spreads=self.spreads))


def _largest_reserve(tried: _Tries, share: float) -> Plan | None:
    """Halve the way between reserves that reach the chance and those that do not."""
    found: Plan | None = None
    low, high = 0, len(RESERVES) - 1
    for _ in range(MOST_TRIES):
        if low > high or tried.ways.stop():
            break
        middle = (low + high) // 2
        plan = tried.at(RESERVES[middle])
        if plan is None:
            high = middle - 1  # so large a reserve fits no more: a smaller one may
        elif _holds(plan) >= share:
            found, high = plan, middle - 1
        else:
            low = middle + 1
    return found


def _holds(plan: Plan) -> float:
    return plan.chance.holds if plan.chance else 0.0
