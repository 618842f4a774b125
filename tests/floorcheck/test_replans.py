"""Floors whose first bucket went otherwise, planned again and judged from the files alone; fifty in the long form."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from tests.floorcheck.judging import told
from tests.floorcheck.machineclocks import clocks_at
from tests.floorcheck.planning import Run
from tests.floorcheck.replanning import CASES, replanned
from tests.running import Ran

SHORT = (20,)
SEEDS = [*SHORT, *(pytest.param(seed, marks=pytest.mark.long) for seed in range(50) if seed not in SHORT)]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_plan_of_the_rest_breaks_nothing_whatever_became_of_the_first_bucket(seed: int, home: Path, run: Run) -> None:
    def run_at(at: datetime, *words: str) -> Ran:
        with clocks_at(at):
            return run(*words)

    judged = replanned(seed, CASES[seed % len(CASES)], home, run_at)
    if judged is None:
        pytest.xfail("this floor fits no plan to begin with")
    plan, found = judged
    if not plan["feasible"]:
        assert plan["obstacle"]["text"]
    assert not found, told(found)
