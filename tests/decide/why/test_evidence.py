"""How much one figure says, worked out by hand beside the code: a table of the normal curve and a pocket calculator."""

from __future__ import annotations

import pytest

from mixclock.decide.why.evidence import Evidence, weigh
from mixclock.decide.why.gauge import Gauge
from mixclock.decide.why.layers import Value
from mixclock.decide.why.quantities.air import COLDEST_SLAB, DEW_MARGIN
from mixclock.decide.why.quantities.mix import RATIO_ERROR
from mixclock.decide.why.quantities.steps import POUR_OUT_USED


def weighed(
    gauge: Gauge, value: float, healthy: float | None = None, sigma: float | None = None, unshared: float | None = None
) -> Evidence:
    """One figure beside one healthy area, or beside none."""
    own = Value(value, sigma=sigma, unshared_sigma=unshared)
    found = weigh(gauge, own, [] if healthy is None else [Value(healthy)])
    assert found is not None
    return found


def test_a_dew_margin_of_2_k_beside_healthy_2_5_k_says_over_a_third() -> None:
    """1 K past the limit of 3 K, read to 0.6 K: Φ(1.667) = 0.9522. Half of a 2 K step past it: 0.5 + 0.5 / 2 = 0.75.

    A quarter of a step worse than the healthy bay: 0.35 + 0.65 / 4 = 0.5125. 0.9522 · 0.75 · 0.5125 = 0.3660.
    """
    assert weighed(DEW_MARGIN, 2.0, 2.5).strength == pytest.approx(0.3660, abs=5e-5)


def test_a_bucket_at_130_percent_beside_healthy_60_says_all_but_the_doubt_of_its_clock() -> None:
    """ln 1.3 = 0.2624 past, clock to 0.20: Φ(1.312) = 0.9052. More than a step of ln 1.25 past, and apart: 1 and 1."""
    assert weighed(POUR_OUT_USED, 1.3, 0.6, sigma=0.2).strength == pytest.approx(0.9052, abs=5e-5)


def test_a_ratio_off_by_7_percent_with_nothing_to_compare_says_half() -> None:
    """2 past the 5 % that sheets allow, read to 1.5: Φ(1.333) = 0.9088; 0.5 + 0.5 · 2 / 5 = 0.7; nothing beside: 0.8.

    0.9088 · 0.7 · 0.8 = 0.5089.
    """
    assert weighed(RATIO_ERROR, 7.0).strength == pytest.approx(0.5089, abs=5e-5)


def test_a_slab_2_k_inside_its_limit_says_nothing() -> None:
    """Four of its own doubts of 0.5 K inside: Φ(−4) = 0.00003."""
    assert weighed(COLDEST_SLAB, 12.0, 15.0).strength == pytest.approx(0.0, abs=5e-5)


def test_a_step_at_123_percent_is_sure_only_beside_a_healthy_one_at_33() -> None:
    """ln 1.23 = 0.207 past, clock to 0.20: Φ(1.035) = 0.85, short of nine to one.

    The clock is in both figures; ln(1.23 / 0.33) = 1.32 apart: six steps of ln 1.25 and, with taps to 0.1, nine doubts.
    """
    assert not weighed(POUR_OUT_USED, 1.23, sigma=0.2).is_sure
    assert not weighed(POUR_OUT_USED, 1.23, 1.0, sigma=0.2, unshared=0.1).is_sure
    assert weighed(POUR_OUT_USED, 1.23, 0.33, sigma=0.2, unshared=0.1).is_sure


def test_a_wide_contrast_makes_nothing_sure_that_is_not_probably_past() -> None:
    assert not weighed(POUR_OUT_USED, 1.05, 0.2, sigma=0.2, unshared=0.05).is_sure
