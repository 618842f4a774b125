"""The short form of each row holds, and the row's deliberate break turns it red."""

from __future__ import annotations

import pytest

from tests.faults.rows import ROWS
from tests.faults.syscalls import missing
from tests.faults.table import Row

TRACED = {"kill at a call", "power cut", "disk refuses"}
BROKEN_SLOWLY = {"random kills", "locks and starts", "bit flips", "30-day soak"}
"""Rows whose break takes six real seconds or dozens of trials to be seen: the ordinary run sees the others' broken.

A receipt before sending is found out by `test_machine` there too, a changed row by `tests/outside/test_book.py`.
"""
BREAKS = [pytest.param(row, id=row.name, marks=[pytest.mark.long] if row.name in BROKEN_SLOWLY else []) for row in ROWS]


@pytest.fixture(autouse=True)
def has_strace(row: Row) -> None:
    absent = missing()
    if row.name in TRACED and absent:
        pytest.skip(absent)


@pytest.mark.parametrize("times", [1, pytest.param(4, marks=pytest.mark.long)], ids=["once", "four times as often"])
@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_the_promise_holds_under(row: Row, times: int) -> None:
    counted = row.run(times * row.short, False)
    assert not counted.broken, (counted.missed, counted.lost, counted.left_out, counted.wrong[:5])


@pytest.mark.parametrize("row", BREAKS)
def test_a_deliberate_break_is_seen_under(row: Row) -> None:
    """A few trials often show it; where the machine was too busy to judge, nothing was seen."""
    tried = (row.run(trials, True) for trials in (max(1, row.short // 4), row.short))
    assert any(seen.missed or seen.lost or seen.wrong for seen in tried), f"broken by {row.broken_by}, nobody noticed"
