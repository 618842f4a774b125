"""Floors of one coat or two against a model of CP-SAT that is free to begin at any hour of any day."""

from __future__ import annotations

import pytest

pytest.importorskip("ortools", reason="OR-tools is not installed")

from tests.decide.plan.two_coats import beside

WITHIN = 0.02
SHORT = (1, 6)


@pytest.mark.parametrize(
    "seed", [*SHORT, *(pytest.param(s, marks=pytest.mark.long) for s in range(40) if s not in SHORT)]
)
def test_no_floor_that_fits_is_refused_and_none_is_done_two_hundredths_later_than_it_could_be(seed: int) -> None:
    row = beside(seed, 3.0 if seed in SHORT else 10.0)
    assert row.wrong == ()
    if row.gap is not None:
        assert row.gap <= WITHIN
