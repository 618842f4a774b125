"""A plan has the same chance with numpy and without: the same dice, thrown in the same order."""

from __future__ import annotations

import pytest
import scipy

from mixclock.decide.plan.judge.columns import ArrayColumns, PlainColumns, columns
from tests.decide.plan.chances import chance_of
from tests.decide.plan.test_chance import two_bays, two_coats
from tests.lacking import without_numpy


@pytest.mark.parametrize("days", [1, 7, 5000])
def test_the_dice_fall_alike_with_numpy_and_without(days: int) -> None:
    fast = columns(days, seed=11)
    with without_numpy():
        plain = columns(days, seed=11)
    assert (type(fast), type(plain)) == (ArrayColumns, PlainColumns)
    for _ in range(3):
        assert plain.normals().values == pytest.approx(fast.normals().tolist(), rel=1e-12, abs=1e-12)


def test_the_dice_are_normal() -> None:
    """Kolmogorov and Smirnov's test, by scipy; the seed is fixed, and neighbours do not move together."""
    thrown = columns(20_000, seed=3).normals()
    assert scipy.stats.kstest(thrown, "norm").pvalue > 0.01
    assert abs(scipy.stats.pearsonr(thrown[:-1], thrown[1:]).statistic) < 0.02


@pytest.mark.parametrize("floor_and_plan", [two_bays(40.0), two_bays(33.0), two_coats(2.2)])
def test_a_plan_s_chance_is_the_same_without_numpy(floor_and_plan: tuple) -> None:
    floor, plan = floor_and_plan
    fast = chance_of(plan, floor, 2000, seed=4)
    with without_numpy():
        assert chance_of(plan, floor, 2000, seed=4) == fast
    assert 0.0 < fast.holds < 1.0
