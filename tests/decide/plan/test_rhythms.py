"""A crew that goes on at one pace lays buckets in strips that no search by small changes puts in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import time
from itertools import pairwise

import pytest

from mixclock.decide.plan.floor.meter import WORK_A_SECOND, Meter
from mixclock.decide.plan.judge.foreman import foreman_plan
from mixclock.decide.plan.search import joints as looked_at
from mixclock.decide.plan.search.chain import CoatChain
from mixclock.decide.plan.search.joints import Joints
from mixclock.decide.plan.search.rhythms import in_a_rhythm
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from tests.decide.plan.floors import DAYS, PRODUCT, bench, minutes, row_of
from tests.decide.plan.test_hands import chain_of

LIVES_LONG = minutes(pour_out=23.0, back_roll=13.5, wet_edge=15.0)
"""A polyaspartic on a mild day, in bays of some 12 m² with 14 m to cut in: two people need a quarter of an hour for a
whole one, most of that at its edges."""


BAYS = ((12.0, 13.9), (14.0, 15.0), (11.0, 13.3), (13.0, 14.4))
"""Square metres, and metres to cut in."""


def shed(people: int = 2, bays: Sequence[tuple[float, float]] = BAYS) -> Site:
    crew = tuple(
        Person(f"hand {n}", squeegee_m2_h=110.0, roll_m2_h=75.0, broadcast_m2_h=60.0, cut_in_m_h=35.0)
        for n in range(1, people + 1)
    )
    coat = Coat("top", PRODUCT, 125.0, kit_l=6.0, split=True)
    areas = row_of(*zip(*bays, strict=True))
    return Site("Boat shed", "UTC", areas, (coat,), crew, (Vessel("pail", 20.0),), Hours(DAYS, time(7), time(17)))


def in_strips(site: Site, strips: int) -> CoatChain:
    return CoatChain(replace(chain_of(site, LIVES_LONG).setting, strips=strips))


@pytest.mark.parametrize(("people", "bays"), [(1, ((7.0, 4.0), (6.0, 3.0))), (2, BAYS[:2]), (3, BAYS[2:])])
def test_what_is_laid_in_a_rhythm_keeps_every_window_and_nobody_does_two_steps_at_once(
    people: int, bays: Sequence[tuple[float, float]]
) -> None:
    """Seen from the starts alone: each strip is rolled by 13.5 min after its pour, and its squeegee meets the strip
    before it by 15 min after that one's pour."""
    chain, cuts = in_strips(shed(people, bays), 4), (1, 2)
    found = in_a_rhythm(chain, [cuts])
    assert found is not None
    net, starts = chain.network(cuts), found.found.starts
    ends = [start + net.span(node, who) for node, (start, who) in enumerate(zip(starts, found.staff, strict=True))]
    for person in range(people):
        mine = sorted((starts[node], ends[node]) for node, who in enumerate(found.staff) if who == person)
        assert all(one[1] <= other[0] for one, other in pairwise(mine))
    kinds = ["pour", "squeegee", "roll"]
    strips = [
        [chain.node(batch, kind if strip == 1 else f"{kind}, strip {strip}") for kind in kinds]
        for batch in range(2)
        for strip in range(1, 5)
    ]
    for pour, squeegee, roll in strips:
        assert starts[pour] < ends[pour] <= starts[squeegee] < ends[squeegee] < ends[roll]
        assert ends[roll] <= ends[pour] + 13.5 * 60.0
    for (pour, _, _), (_, squeegee, _) in pairwise(strips):
        assert starts[squeegee] <= ends[pour] + 15.0 * 60.0


def test_where_no_rhythm_keeps_the_windows_none_is_given() -> None:
    """By hand: of half a bay of 12 m² one person cuts in 12 min, squeegees 3 and rolls 5: 20, and 13.5 are allowed."""
    assert in_a_rhythm(in_strips(shed(1, BAYS[:2]), 2), [(1, 2)]) is None


def test_a_joint_that_is_made_in_a_rhythm_is_not_searched(monkeypatch: pytest.MonkeyPatch) -> None:
    for search in ("any_feasible", "_by_solver"):
        monkeypatch.setattr(looked_at, search, lambda *_, **__: pytest.fail("it was searched"))
    assert Joints().hold(in_strips(shed(), 4), (1, 2, 3, 4), lambda: False, exact=True)


@pytest.mark.parametrize("exact", [True, False], ids=["beside a solver", "alone"])
def test_a_shed_in_strips_is_planned_with_its_reserves_in_three_seconds_work(exact: bool) -> None:
    """Counted in steps of work, so that every machine says the same."""
    ways = Ways(exact=exact, meter=Meter())
    plan = foreman_plan(bench(shed(), LIVES_LONG), ways)
    assert plan.feasible
    assert all(batch.strips > 1 for batch in plan.batches)
    assert ways.meter.work <= 3.0 * WORK_A_SECOND
