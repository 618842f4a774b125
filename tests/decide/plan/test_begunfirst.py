"""Where the first bucket went down in the middle of a floor, the rest of its bay comes next."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from mixclock.decide.plan.days.planner import make_plan
from mixclock.job.entry import Combined, JobStarted, Poured
from tests.boatshed import PAIL, PAIR_WITH_RATES, shed_job
from tests.decide.plan.test_replan import QUICK, bench_of, joined_shed, stood_at
from tests.decide.worlds import Log


def begun_in_the_middle(bays: int, size_m2: float, begun: int) -> Log:
    """Bays in a row, joined wet; the first bucket went on half of one that is not the first in the order."""
    log = joined_shed()
    site = "\n" + shed_job(bays=bays, size=f"{size_m2} m2", joined=True, crew=PAIR_WITH_RATES, vessel=PAIL)
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", site))
    volume_l = size_m2 / 2.0 * 0.3 / 0.95
    log.add(0, Combined("Shed base", (f"bay {begun}",), "base", volume_l, 1.09 * volume_l, mixing_s=180), by="mixer")
    log.add(4, Poured(1, covered_m2=size_m2 / 2.0), by="mixer")
    return log


@pytest.mark.parametrize(("bays", "size_m2", "begun"), [(3, 4.0, 2), (5, 3.0, 3), (5, 4.0, 2)])
def test_the_rest_of_a_bay_whose_edge_is_wet_goes_down_first_wherever_the_work_began(
    bays: int, size_m2: float, begun: int
) -> None:
    """The next bucket is spread there first, some ten minutes before the edge shuts and not in the last of them."""
    log = begun_in_the_middle(bays, size_m2, begun)
    stood = stood_at(log, 6).standpoint
    by = stood.joined_by["base", f"bay {begun}"]
    plan = make_plan(bench_of(log, 6), QUICK, stood)
    assert plan.feasible, plan.obstacle
    assert plan.batches[0].areas[0] == f"bay {begun}"
    spread = min(step.starts for step in plan.steps if step.batch == 2 and step.kind == "squeegee")
    assert by - spread > timedelta(minutes=10)


def test_where_the_rest_does_not_fit_first_the_order_of_work_stands() -> None:
    log = begun_in_the_middle(3, 6.0, 2)
    assert make_plan(bench_of(log, 6), QUICK, stood_at(log, 6).standpoint).feasible
