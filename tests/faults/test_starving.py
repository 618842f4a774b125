"""Who is excused where this machine was too busy, and who is not."""

from __future__ import annotations

from tests.faults.starving import Stopwatch, Took, starved_s
from tests.faults.table import Counted


def test_only_what_others_took_from_it_excuses_what_came_late() -> None:
    counted = Counted(trials=3)
    counted.judge(Took(6.0, 0.5), 5.0, "late by itself")
    assert counted.verdict.startswith("BROKEN: late by itself: 6.0 s, not 5 s")


def test_what_could_not_be_judged_is_never_said_to_hold() -> None:
    counted = Counted(trials=3)
    counted.in_time(lambda: Took(6.0, 2.0), 5.0, "starved")
    assert counted.verdict == "machine too busy to judge: 1 trials left out"
    assert not counted.holds
    assert not counted.broken


def test_a_row_of_which_nothing_could_be_judged_is_broken() -> None:
    counted = Counted(trials=1)
    counted.judge(Took(6.0, 2.0), 5.0, "starved")
    assert counted.broken


def test_a_start_that_was_starved_is_made_anew() -> None:
    attempts = iter((Took(6.0, 2.0), Took(1.0)))
    counted = Counted(trials=1)
    counted.in_time(lambda: next(attempts), 5.0, "starved once")
    assert counted.holds
    assert counted.worst_s == 1.0


def test_threads_of_one_process_that_wait_for_each_other_excuse_nothing() -> None:
    before = {"1": (0.0, 0.0), "2": (0.0, 0.0)}
    assert starved_s(before, {"1": (1.0, 3.0), "2": (3.0, 1.0)}) == 0.0
    assert starved_s(before, {"1": (1.0, 3.0), "2": (0.5, 0.1)}) == 2.5


def test_a_stopwatch_that_is_left_alone_starves_no_longer_than_it_ran() -> None:
    took = Stopwatch().took()
    assert took.starved_s <= took.span_s + 0.01
