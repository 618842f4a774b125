"""Random floors, planned as a crew would and judged from the files alone: a few, and in the long form two hundred."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.floorcheck.floorfiles import random_floor
from tests.floorcheck.judging import faults, told
from tests.floorcheck.planning import Run, planned, put_down
from tests.floorcheck.sheets import JobFile

SHORT = (3, 5, 6, 7, 9, 14, 18)
LONG = [pytest.param(seed, marks=pytest.mark.long) for seed in range(200) if seed not in SHORT]


@pytest.mark.parametrize("seed", [*SHORT, *LONG])
def test_a_plan_that_says_it_fits_breaks_nothing_of_the_job_the_sheets_or_the_trade(
    seed: int, run: Run, home: Path
) -> None:
    files = random_floor(seed)
    plan = planned(run, put_down(home, files), files.begin)
    if not plan["feasible"]:
        assert plan["obstacle"]["text"]
        return
    found = faults(plan, JobFile.read(files.job, files.sheets))
    assert not found, told(found)
