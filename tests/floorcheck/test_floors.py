"""Random floors, planned as a crew would and judged from the files alone: a few, and in the long form two hundred."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.floorcheck.floorfiles import FloorFiles, random_floor, random_strip_floor
from tests.floorcheck.judging import faults, told
from tests.floorcheck.planning import Run, planned, put_down
from tests.floorcheck.sheets import JobFile

SHORT = (3, 6, 9, 14, 18)
LONG = [pytest.param(seed, marks=pytest.mark.long) for seed in range(200) if seed not in SHORT]


@pytest.mark.parametrize("seed", [*SHORT, *LONG])
def test_a_plan_that_says_it_fits_breaks_nothing_of_the_job_the_sheets_or_the_trade(
    seed: int, run: Run, home: Path
) -> None:
    assert_breaks_nothing(random_floor(seed), run, home)


@pytest.mark.long
@pytest.mark.parametrize("seed", [0, 1, 3, 4, 7, 8, 10, 11])
def test_a_coat_that_is_laid_in_strips_breaks_nothing_strip_by_strip(seed: int, run: Run, home: Path) -> None:
    assert_breaks_nothing(random_strip_floor(seed), run, home)


def assert_breaks_nothing(files: FloorFiles, run: Run, home: Path) -> None:
    """What says that it fits is judged by the files alone."""
    plan = planned(run, put_down(home, files), files.begin)
    if not plan["feasible"]:
        assert plan["obstacle"]["text"]
        return
    found = faults(plan, JobFile.read(files.job, files.sheets))
    assert not found, told(found)
