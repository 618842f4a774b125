"""The same plan in steadier hands."""

from __future__ import annotations

from datetime import time

from mixclock.decide.plan.search.annealing import any_feasible
from mixclock.decide.plan.search.chain import CoatChain
from mixclock.decide.plan.search.climber import Cuts, Effort, Solution
from mixclock.decide.plan.search.network import timed
from mixclock.decide.plan.search.slack import most_slack
from mixclock.decide.plan.search.steadyhands import restlessness, steadied
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from tests.decide.plan.floors import DAYS, PRODUCT, minutes, row_of
from tests.decide.plan.test_hands import chain_of

FIVE_MINUTES_S = 300
CLOSING = minutes(pour_out=15.0, back_roll=60.0, wet_edge=70.0)


def six_bays() -> Site:
    """Six bays for two people who can do anything, with time enough."""
    crew = tuple(Person(name, (), 110.0, 66.0, 60.0, 35.0) for name in ("one", "two"))
    coat = Coat("base", PRODUCT, 300.0, kit_l=4.0, split=True)
    pails = (Vessel("pail", 5.0), Vessel("second pail", 5.0))
    areas = row_of((11.0,) * 6, (7.0,) * 6)
    return Site("Slip", "UTC", areas, (coat,), crew, pails, Hours(DAYS, time(6), time(20)))


def hasty_for_no_gain(chain: CoatChain, cuts: Cuts, seed: int) -> Solution | None:
    """A plan in which the measuring of every other bucket is in other hands; None where that ends it sooner."""
    net, kinds = chain.network(cuts), len(chain.kinds)
    found = any_feasible(chain, [cuts], Effort(600, 300), seed)
    hasty = list(found.staff)
    for batch in range(1, 6, 2):
        node = batch * kinds + chain.kinds.index("measure")
        hasty[node] = 1 - hasty[node]
    start = Solution(cuts, tuple(hasty), found.order, timed(net, hasty, found.order))
    gained = start.found.finish < found.found.finish or most_slack(net, start).least_s > most_slack(net, found).least_s
    calmer = restlessness(chain, found) < restlessness(chain, start)
    return None if gained or not start.feasible or not calmer else start


def test_tools_go_back_to_whoever_had_them_where_the_floor_is_done_as_soon_and_no_less_is_to_spare() -> None:
    """Every start of eight that a hasty hand made worse and no sooner; five minutes to spare are enough."""
    chain, cuts = chain_of(six_bays(), CLOSING), tuple(range(1, 7))
    net = chain.network(cuts)
    starts = [start for seed in range(8) if (start := hasty_for_no_gain(chain, cuts, seed)) is not None]
    assert len(starts) >= 3, "too few to say anything"
    for start in starts:
        calm = steadied(chain, start)
        assert calm.feasible
        assert restlessness(chain, calm) < restlessness(chain, start)
        assert calm.found.finish <= start.found.finish
        assert most_slack(net, calm).least_s >= min(FIVE_MINUTES_S, most_slack(net, start).least_s)


def test_one_person_alone_hands_nothing_over() -> None:
    site = six_bays()
    alone = Site(site.name, site.zone, site.areas, site.coats, site.crew[:1], site.vessels, site.hours)
    chain = chain_of(alone, minutes(pour_out=15.0, back_roll=200.0, wet_edge=200.0))
    cuts = tuple(range(1, 7))
    found = steadied(chain, any_feasible(chain, [cuts], Effort(600, 300)))
    assert steadied(chain, found) is found
