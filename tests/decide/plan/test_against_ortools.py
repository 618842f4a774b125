"""Six random floors against CP-SAT; all sixty by `python -m tests.decide.plan.against_ortools`."""

from __future__ import annotations

import os
import signal
import threading
from typing import Any

import pytest

pytest.importorskip("ortools", reason="OR-tools is not installed")

from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.search import solver
from mixclock.decide.plan.search.schedule import Ways
from tests.decide.plan.against_ortools import compare
from tests.decide.plan.floors import bench, minutes, random_floor
from tests.decide.plan.test_hands import ALONE, chain_of, row_for

WITHIN = 0.01


@pytest.mark.parametrize("seed", [*range(6), *(pytest.param(seed, marks=pytest.mark.long) for seed in range(6, 30))])
def test_a_small_floor_is_done_within_a_hundredth_of_the_proven_soonest_and_breaks_nothing(seed: int) -> None:
    row = compare(seed, 5.0)
    assert row.wrong == ()
    assert row.ours_s is not None
    if row.bound_s is not None:
        assert row.ours_s >= row.bound_s, "sooner than possible: one of the two models leaves something out"
    if row.gap is not None:
        assert row.gap <= WITHIN


def test_an_interrupt_while_the_solver_works_is_heard_and_the_best_plan_stands(monkeypatch: pytest.MonkeyPatch) -> None:
    """The library would take Ctrl-C for itself, and end the run without the plan."""
    site, closing = random_floor(5)
    heard: list[int] = []
    timers: list[threading.Timer] = []
    solved = solver._solved

    def interrupted(*asked: Any, **also: Any) -> Any:
        timers.append(threading.Timer(0.02, lambda: os.kill(os.getpid(), signal.SIGINT)))
        timers[-1].start()
        return solved(*asked, **also)

    monkeypatch.setattr(solver, "_solved", interrupted)
    before = signal.signal(signal.SIGINT, lambda number, _: heard.append(number))
    try:
        plan = make_plan(bench(site, closing), Ways(stop=lambda: bool(heard)))
        for timer in timers:
            timer.join()
    finally:
        signal.signal(signal.SIGINT, before)
    assert heard
    assert plan.feasible


def test_the_solver_proves_that_a_wet_edge_cannot_be_met_and_finds_how_it_can() -> None:
    """By hand: after a pour 6 min of squeegee, the next bucket's 3 of mixing and 1 of pouring: 10 at the least."""
    for wet_edge_min, met in ((10.0, True), (9.0, False)):
        chain = chain_of(row_for([ALONE], 2), minutes(pour_out=12.0, back_roll=90.0, wet_edge=wet_edge_min))
        answer = solver.any_feasible(chain, [(1, 2)], lambda: False)
        assert (answer.found is not None) is met
        assert answer.impossible is not met
