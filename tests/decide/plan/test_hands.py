"""What is proven impossible before any search, beside sums made by hand and a solver that is not ours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import time
from itertools import combinations

import pytest

from mixclock.decide.plan.floor.crew import crew_of
from mixclock.decide.plan.floor.pieces import neighbours, ordered_areas, pieces_of
from mixclock.decide.plan.floor.setting import Bounds, CoatSetting
from mixclock.decide.plan.search.chain import CoatChain
from mixclock.decide.plan.search.joints import Joints
from mixclock.decide.plan.search.overwork import too_much_work
from mixclock.decide.plan.search.proofs import enough_hands, open_in_time
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from tests.decide.plan.floors import BEGINS, DAYS, PRODUCT, bench, minutes, random_floor, row_of

ALONE = Person("one", (), 110.0, 66.0, 60.0, 35.0)


def chain_of(
    site: Site, closing: dict[str, float], bounds: dict[str, Bounds] | None = None, ends_s: int = 10**9
) -> CoatChain:
    """The first coat of a floor, every area a piece."""
    at = bench(site, closing)
    coat = site.coats[0]
    areas = ordered_areas(site, coat)
    return CoatChain(
        CoatSetting(
            site=site,
            coat=coat,
            profile=at.profiles[coat.product.casefold()],
            crew=crew_of(site),
            timing=at.timing,
            begins=BEGINS,
            pieces=pieces_of(areas, {area.name: area.size_m2 for area in areas}),
            wet_pairs=neighbours(site, areas)[0],
            bounds=bounds or {},
            ends_s=ends_s,
        )
    )


def row_for(people: Sequence[Person], bays: int) -> Site:
    """Bays of 11 m² with 7 m to cut in, each touching the next."""
    coat = Coat("base", PRODUCT, 300.0, kit_l=4.0, split=True)
    pails = (Vessel("pail", 5.0), Vessel("second pail", 5.0))
    hours = Hours(DAYS, time(6), time(23))
    return Site("Slip", "UTC", row_of([11.0] * bays, [7.0] * bays), (coat,), tuple(people), pails, hours)


def test_a_wet_edge_shorter_than_the_work_of_a_bay_can_t_go_on_for_long() -> None:
    """By hand, in minutes a bay for one person: mix 3, pour 1, squeegee 6, cut in 12, roll 10 = 32.

    The first bay's mixing begins at most 6 before its pour ends: 3 of mixing, 2 of waiting, 1 of pouring. Bays follow
    each other a wet edge apart at most, and the last is rolled 45 after its pour. With a wet edge of 30, n bays have
    6 + 30 (n - 1) + 45 minutes for 32 n of work: enough for 10, not for 11. With one of 32 it goes on for ever.
    """
    short, long = (minutes(pour_out=12.0, back_roll=45.0, wet_edge=span) for span in (30.0, 32.0))
    for bays, closing, enough in ((10, short, True), (11, short, False), (60, long, True)):
        chain = chain_of(row_for([ALONE], bays), closing)
        assert enough_hands(chain, tuple(range(1, bays + 1))) is enough, bays


def test_whoever_alone_may_roll_sets_the_pace_of_a_whole_crew() -> None:
    """Rolling takes the roller 10 minutes a bay, whoever else is there: a wet edge of 9 can't be kept over 60 bays."""
    crew = [replace(ALONE, name=f"person {number}", does=("mix", "pour", "squeegee", "cut-in")) for number in range(8)]
    roller = replace(ALONE, name="roller", does=("roll", "clean"))
    closing = minutes(pour_out=12.0, back_roll=45.0, wet_edge=9.0)
    assert not enough_hands(chain_of(row_for([*crew, roller], 60), closing), tuple(range(1, 61)))
    second = replace(roller, name="second roller")
    assert enough_hands(chain_of(row_for([*crew, roller, second], 60), closing), tuple(range(1, 61)))


def test_a_floor_that_shuts_before_its_neighbour_opens_is_not_searched() -> None:
    """Bay 2 opens at 2 h, a wet edge is 40 min: bay 1 can't be poured before 1 h 18 min, and shuts at 1 h."""
    closing = minutes(pour_out=12.0, back_roll=45.0, wet_edge=40.0)
    late = {"bay 1": Bounds(0, 3600), "bay 2": Bounds(7200, 20000)}
    assert not open_in_time(chain_of(row_for([ALONE], 2), closing, late).network((1, 2)))
    longer = {**late, "bay 1": Bounds(0, 5400)}
    assert open_in_time(chain_of(row_for([ALONE], 2), closing, longer).network((1, 2)))


def test_a_long_floor_whose_last_bays_open_late_begins_late_enough_for_the_wet_edge() -> None:
    """Each bay may wait 40 min for the next and is poured in one: 30 bays ahead of one that opens after 30 h."""
    closing = minutes(pour_out=12.0, back_roll=45.0, wet_edge=40.0)
    chain = chain_of(row_for([ALONE], 31), closing, {"bay 31": Bounds(30 * 3600, 10**9)})
    net = chain.network(tuple(range(1, 32)))
    assert net.release[chain.node(0, "pour")] == 30 * 3600 - 30 * 40 * 60


def test_one_person_who_meets_a_wet_edge_must_have_time_to_roll_both_bays() -> None:
    """By hand, in minutes: bay 2 is spread at most 15 after bay 1's pour, and rolled 40 after its own: 55 in all. One
    person spreads, cuts in and rolls two bays by then, and mixes and pours for the second: 2 x 28 + 3 + 1 = 60.
    Two have twice the time."""
    for hands, shut in ((1, True), (2, False)):
        crew = [replace(ALONE, name=f"hand {number}") for number in range(hands)]
        chain = chain_of(row_for(crew, 2), minutes(pour_out=12.0, back_roll=40.0, wet_edge=15.0))
        assert too_much_work(chain.network((1, 2)), chain.pours((1, 2))) is shut, hands


def test_a_day_shorter_than_its_work_is_seen_from_its_beginning() -> None:
    """Two bays are 64 minutes of work for one person, with measuring and cleaning more: an hour is too short."""
    closing = minutes(pour_out=12.0, back_roll=90.0, wet_edge=90.0)
    for ends_min, shut in ((60, True), (180, False)):
        assert too_much_work(chain_of(row_for([ALONE], 2), closing, ends_s=ends_min * 60).network((1, 2))) is shut


@pytest.mark.parametrize(
    ("seed", "tighter"),
    [(9, 0.4), *(pytest.param(*one, marks=pytest.mark.long) for one in ((1, 0.55), (4, 0.7), (8, 0.55)))],
)
def test_nothing_is_proven_impossible_that_another_solver_can_do(seed: int, tighter: float) -> None:
    """OR-tools' CP-SAT, on a model of its own, looks for a division into that many batches."""
    pytest.importorskip("ortools", reason="the other solver is not installed: pip install 'mixclock[test]'")
    from tests.decide.plan.against_ortools import optimum

    site, closing = random_floor(seed)
    closing = closing | {"wet-edge": closing["wet-edge"] * tighter}
    bays, compared = len(site.areas), 0
    # on a busy machine a second and a half finds nothing: as long as nothing was compared, it is asked with patience
    for count, seconds in [(count, seconds) for seconds in (1.5, 30.0) for count in range(1, bays + 1)]:
        best = None if compared and seconds > 1.5 else optimum(site, closing, count, seconds)[0]
        if best is not None:
            compared += 1
            chain, joints = chain_of(site, closing), Joints()
            divisions = [(*cuts, bays) for cuts in combinations(range(1, bays), count - 1)]
            left = [cuts for cuts in divisions if enough_hands(chain, cuts) and joints.hold(chain, cuts, lambda: False)]
            left = [cuts for cuts in left if not too_much_work(chain.network(cuts), chain.pours(cuts))]
            assert left, f"{count} batches can be done in {best} s"
            assert all(open_in_time(chain.network(cuts)) for cuts in left)
    assert compared, "the other solver found no division at all: nothing was compared"
