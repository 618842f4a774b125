"""Floors of one coat or two against a model of CP-SAT that is free to begin at any hour of any day."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

pytest.importorskip("ortools", reason="OR-tools is not installed")

from tests.decide.plan.two_coats import beside

WITHIN = 0.02
SHORT = (1, 6)
MISSED = {
    35: "of four who may roll beside one, the slowest is counted on: 63 s over what CP-SAT finds, 2.2 %",
}
"""Floors on which a goal is missed, with the reason."""


def floors() -> Iterator[Any]:
    """All forty; what is missed stays an expected failure."""
    for seed in range(40):
        marks = [] if seed in SHORT else [pytest.mark.long]
        marks += [pytest.mark.xfail(reason=MISSED[seed], strict=True)] if seed in MISSED else []
        yield pytest.param(seed, marks=marks)


@pytest.mark.parametrize("seed", list(floors()))
def test_no_floor_that_fits_is_refused_and_none_is_done_two_hundredths_later_than_it_could_be(seed: int) -> None:
    row = beside(seed, 3.0 if seed in SHORT else 10.0)
    assert row.wrong == ()
    if row.gap is not None:
        assert row.gap <= WITHIN
