"""Joints between two batches: each is looked at once, and tells of the harder and the easier ones."""

from __future__ import annotations

import pytest

from mixclock.decide.plan.search import joints as looked_at
from mixclock.decide.plan.search.joints import Joints
from tests.decide.plan.floors import minutes
from tests.decide.plan.test_hands import ALONE, chain_of, row_for


def never() -> bool:
    return False


def test_one_person_meets_the_wet_edge_only_where_the_next_bucket_can_be_out_in_time() -> None:
    """By hand: after a pour 6 min of squeegee, the next bucket's 3 of mixing and 1 of pouring: 10 at the least."""
    for wet_edge_min, made in ((10.0, True), (9.0, False)):
        chain = chain_of(row_for([ALONE], 2), minutes(pour_out=12.0, back_roll=90.0, wet_edge=wet_edge_min))
        assert Joints().hold(chain, (1, 2), never) is made, wet_edge_min


def test_what_is_harder_than_a_joint_that_failed_is_not_searched_again(monkeypatch: pytest.MonkeyPatch) -> None:
    searched: list[int] = []
    search = looked_at.any_feasible
    monkeypatch.setattr(looked_at, "too_much_work", lambda *_: False)
    monkeypatch.setattr(looked_at, "any_feasible", lambda *a, **k: searched.append(1) or search(*a, **k))
    closing = minutes(pour_out=12.0, back_roll=90.0, wet_edge=9.0)
    known, chain = Joints(), chain_of(row_for([ALONE], 12), closing)
    assert not known.hold(chain, tuple(range(1, 13)), never)
    assert len(searched) == 1
    assert not known.hold(chain, (2, 4, 6, 8, 10, 12), never), "two bays a batch are harder than one"
    assert not known.hold(chain_of(row_for([ALONE], 2), {**closing, "wet-edge": 8.0}), (1, 2), never)
    assert len(searched) == 1
    assert known.hold(chain_of(row_for([ALONE], 2), {**closing, "wet-edge": 20.0}), (1, 2), never)
    assert len(searched) == 2


def test_bays_that_need_no_wet_joint_are_not_asked_for_one() -> None:
    closing = minutes(pour_out=12.0, back_roll=90.0)
    assert Joints().hold(chain_of(row_for([ALONE], 6), closing), tuple(range(1, 7)), never)


def test_a_joint_that_is_proven_too_much_work_is_not_searched(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(looked_at, "any_feasible", lambda *_, **__: pytest.fail("it was searched"))
    chain = chain_of(row_for([ALONE], 2), minutes(pour_out=12.0, back_roll=40.0, wet_edge=15.0))
    assert not Joints().hold(chain, (1, 2), never)


def test_who_gives_up_after_a_search_in_vain_begins_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    searched: list[int] = []
    search = looked_at.any_feasible
    monkeypatch.setattr(looked_at, "too_much_work", lambda *_: False)
    monkeypatch.setattr(looked_at, "any_feasible", lambda *a, **k: searched.append(1) or search(*a, **k))
    known = Joints()
    tired = known.only(1)
    harder = [chain_of(row_for([ALONE], 2), minutes(pour_out=12.0, back_roll=90.0, wet_edge=w)) for w in (9.0, 9.5)]
    assert not any(tired.hold(chain, (1, 2), never) for chain in harder)
    assert tired.is_tired
    assert len(searched) == 1
    easy = chain_of(row_for([ALONE], 2), minutes(pour_out=12.0, back_roll=90.0, wet_edge=20.0))
    assert known.hold(easy, (1, 2), never), "whoever was not asked to give up goes on"


def test_a_search_that_was_stopped_proves_nothing() -> None:
    chain = chain_of(row_for([ALONE], 2), minutes(pour_out=12.0, back_roll=90.0, wet_edge=9.0))
    known = Joints()
    assert known.hold(chain, (1, 2), lambda: True)
    assert not known.hold(chain, (1, 2), never)
