"""Six random floors against CP-SAT; all sixty by `python -m tests.decide.plan.against_ortools`."""

from __future__ import annotations

import pytest

pytest.importorskip("ortools", reason="OR-tools is not installed")

from tests.decide.plan.against_ortools import compare

WITHIN = 0.01


@pytest.mark.parametrize("seed", range(6))
def test_a_small_floor_is_done_within_a_hundredth_of_the_proven_soonest_and_breaks_nothing(seed: int) -> None:
    row = compare(seed, 5.0)
    assert row.wrong == ()
    assert row.ours_s is not None
    if row.bound_s is not None:
        assert row.ours_s >= row.bound_s, "sooner than possible: one of the two models leaves something out"
    if row.gap is not None:
        assert row.gap <= WITHIN
