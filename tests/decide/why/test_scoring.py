"""How much one figure says, worked out by hand beside the code: a table of the normal curve and a pocket calculator."""

from __future__ import annotations

import pytest

from mixclock.decide.why.case import Value
from mixclock.decide.why.scoring import Weighed, weigh


def weighed(quantity: str, value: float, healthy: float | None = None, sigma: float | None = None) -> Weighed:
    """One figure beside one healthy area, or beside none."""
    found = weigh(quantity, Value(value, sigma=sigma), [] if healthy is None else [Value(healthy)])
    assert found is not None
    return found


def test_a_dew_margin_of_2_k_beside_healthy_2_5_k_says_a_third() -> None:
    """1 K past the limit of 3 K, read to 0.6 K: Φ(1.667) = 0.9522. Half of a 2 K step past it: 0.3 + 0.7 / 2 = 0.65.

    A quarter of a step worse than the healthy bay: 0.35 + 0.65 / 4 = 0.5125. 0.9522 · 0.65 · 0.5125 = 0.3172.
    """
    assert weighed("dew_margin_min_k", 2.0, 2.5).strength == pytest.approx(0.3172, abs=5e-5)


def test_a_bucket_at_130_percent_beside_healthy_60_says_all_but_the_doubt_of_its_clock() -> None:
    """ln 1.3 = 0.2624 past, clock to 0.20: Φ(1.312) = 0.9052. More than a step of ln 1.25 past, and apart: 1 and 1."""
    assert weighed("pour_out_ripeness", 1.3, 0.6, sigma=0.2).strength == pytest.approx(0.9052, abs=5e-5)


def test_a_ratio_off_by_7_percent_with_nothing_to_compare_says_two_fifths() -> None:
    """2 past the 5 % that sheets allow, read to 1.5: Φ(1.333) = 0.9088; 0.3 + 0.7 · 2 / 5 = 0.58; nothing beside: 0.8.

    0.9088 · 0.58 · 0.8 = 0.4217.
    """
    assert weighed("ratio_error_pct", 7.0).strength == pytest.approx(0.4217, abs=5e-5)


def test_a_slab_2_k_inside_its_limit_says_nothing() -> None:
    """Four of its own doubts of 0.5 K inside: Φ(−4) = 0.00003."""
    assert weighed("slab_min_c", 12.0, 15.0).strength == pytest.approx(0.0, abs=5e-5)
