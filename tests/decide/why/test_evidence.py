"""How much one figure says, worked out by hand beside the code: a table of the normal curve and a pocket calculator."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mixclock.decide.why.evidence import Evidence, number, weigh
from mixclock.decide.why.gauge import Gauge
from mixclock.decide.why.layers import Gap, Value
from mixclock.decide.why.quantities.air import COLDEST_SLAB, DEW_MARGIN
from mixclock.decide.why.quantities.mix import RATIO_ERROR, STRINGY
from mixclock.decide.why.quantities.steps import POUR_OUT_USED
from mixclock.units import US_CREW


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


def test_what_was_stated_says_all_or_what_the_healthy_areas_leave_of_it() -> None:
    """0.8 where there is no healthy area, 1 where those had nothing of the kind, 0.35 where they had the same."""
    seen, not_seen = Value("stringy"), Value(0.0, told="not stringy")
    said = {
        what: weigh(STRINGY, own, healthy)
        for what, own, healthy in (
            ("alone", seen, []),
            ("only here", seen, [not_seen]),
            ("there too", seen, [not_seen, seen]),
            ("not so", not_seen, [seen]),
        )
    }
    told = {what: (one.strength, one.contrast, one.healthy) for what, one in said.items() if one is not None}
    assert told == {
        "alone": (0.8, 0.8, None),
        "only here": (1.0, 1.0, "nothing of the kind"),
        "there too": (0.35, 0.35, "the same"),
        "not so": (0.0, 0.35, None),
    }


@pytest.mark.parametrize(
    ("probably", "wide", "speaks_for", "is_sure", "against"),
    [
        (0.10, False, False, False, True),
        (0.11, False, False, False, False),
        (0.49, True, False, False, False),
        (0.50, True, True, False, False),
        (0.74, True, True, False, False),
        (0.75, True, True, True, False),
        (0.75, False, True, False, False),
        (0.89, False, True, False, False),
        (0.90, False, True, True, False),
    ],
)
def test_one_in_ten_acquits_one_in_two_is_evidence_three_to_one_or_nine_to_one_is_sure(
    probably: float, wide: bool, speaks_for: bool, is_sure: bool, against: bool
) -> None:
    one = Evidence(DEW_MARGIN, 2.0, 3.0, 2.5, 0.4, probably, "the sheet", known=Value(2.0), wide=wide)
    assert (one.speaks_for, one.is_sure, one.speaks_against) == (speaks_for, is_sure, against)


def test_healthy_areas_had_the_same_up_to_a_contrast_of_half() -> None:
    one = Evidence(DEW_MARGIN, 2.0, 3.0, 2.5, 0.4, 0.9, "the sheet", contrast=0.5)
    assert one.as_healthy
    assert not replace(one, contrast=0.501).as_healthy
    assert not replace(one, healthy=None).as_healthy


@pytest.mark.parametrize(
    ("unit", "log", "value", "told"),
    [
        ("pct", False, 84.6, "85 %"),
        ("csp", False, 2.4, "2.4 CSP"),
        ("", False, 3.25, "3.2"),
        ("", True, 1.3, "130 %"),
        ("share", False, 0.07, "7 %"),
        ("share", False, 12.0, "12 times over"),
        ("share", False, 5.0, "5 times over"),
        ("share", False, 4.99, "499 %"),
        ("csp", True, 2.4, "2.4 CSP"),
    ],
)
def test_a_figure_is_told_in_its_own_unit_and_only_a_share_in_percent(
    unit: str, log: bool, value: float, told: str
) -> None:
    gauge = replace(DEW_MARGIN, unit=unit, log=log)
    assert number(Evidence(gauge, value, 3.0, None, 0.0, 0.0, ""), value, US_CREW) == told


@pytest.mark.parametrize(
    ("value", "healthy", "doubt", "wide"),
    [
        (0.0, 4.0, 0.1, True),  # two steps of 2 K exactly
        (0.0, 3.99, 0.1, False),
        (-0.25, 4.0, 1.0, True),  # 4.25 K; three of the doubts of a difference, 3 · √2 · 1 K, are 4.243
        (-0.24, 4.0, 1.0, False),
        (-4.0, 4.0, 2.0, False),  # 8 K, and 8.49 are asked for
        (-5.0, 4.0, 2.0, True),
    ],
)
def test_a_contrast_is_wide_from_two_steps_and_three_of_the_doubts_of_a_difference(
    value: float, healthy: float, doubt: float, wide: bool
) -> None:
    assert weighed(DEW_MARGIN, value, healthy, unshared=doubt).wide is wide
    assert weighed(DEW_MARGIN, value, healthy, sigma=doubt).wide is wide, "all of its doubt where none is shared"
    assert not weighed(DEW_MARGIN, value, None, unshared=doubt).wide


def test_a_contrast_just_at_three_doubts_is_wide() -> None:
    doubt = 4.5 / (3.0 * 2.0**0.5)
    assert weighed(DEW_MARGIN, -0.5, 4.0, unshared=doubt * (1.0 - 1e-12)).wide
    assert not weighed(DEW_MARGIN, -0.5, 4.0, unshared=doubt * (1.0 + 1e-9)).wide


def test_what_nobody_recorded_says_nothing_for_or_against_and_whether_another_area_knows_it() -> None:
    gap = Gap("the slab", "read it")
    for healthy, others, elsewhere in (
        ([], [], False),
        ([gap], [gap], False),
        ([Value(12.0)], [], True),
        ([gap], [gap, Value(12.0), None], True),
        ([Value(12.0)], [gap], True),
    ):
        found = weigh(COLDEST_SLAB, gap, healthy, others)
        assert found is not None
        assert (found.value, found.healthy, found.gap, found.known_elsewhere) == (None, None, gap, elsewhere)
        assert (found.strength, found.probably_past, found.limit) == (0.0, 0.0, COLDEST_SLAB.limit)
        assert (found.speaks_for, found.speaks_against, found.is_sure) == (False, False, False)
    assert weigh(COLDEST_SLAB, None, [Value(12.0)]) is None
    stated = weigh(STRINGY, gap, [])
    assert stated is not None
    assert (stated.limit, stated.limit_source) == (None, "what the crew stated")


def test_of_what_was_recorded_in_part_nobody_is_told_that_another_area_has_it() -> None:
    part = Gap("the last hour", "leave a logger there")
    for source, value in ((COLDEST_SLAB, Value(9.0, gap=part)), (STRINGY, Value("stringy", gap=part))):
        found = weigh(source, value, [Value(12.0)], [Value(12.0)])
        assert found is not None
        assert (found.gap, found.known_elsewhere, found.speaks_against) == (part, False, False)


def test_what_was_stated_is_told_in_its_own_words_and_counts_whole_or_not_at_all() -> None:
    seen = weigh(STRINGY, Value("stringy at 10:02"), [])
    assert seen is not None
    assert (seen.value, seen.probably_past, seen.is_sure, seen.told) == ("stringy at 10:02", 1.0, True, "")
    other = weigh(STRINGY, Value(0.0, told="poured well"), [])
    assert other is not None
    assert (other.value, other.strength, other.probably_past) == ("poured well", 0.0, 0.0)
    assert (other.is_sure, other.speaks_for, other.speaks_against) == (False, False, True)
    everywhere = weigh(STRINGY, Value("stringy", holds_elsewhere=True), [Value(0.0)])
    assert everywhere is not None
    assert everywhere.contrast == 0.35


def test_what_has_no_strength_is_no_evidence_however_sure_it_is_that_the_limit_was_passed() -> None:
    nothing = Evidence(DEW_MARGIN, 2.0, 3.0, 2.5, 0.0, 1.0, "the sheet", known=Value(2.0, told="batch 2, 09:10"))
    assert not nothing.speaks_for
    assert not nothing.is_sure
    assert nothing.told == "batch 2, 09:10"
    assert not replace(nothing, known=None).told


def test_the_limit_and_its_source_are_the_products_own_where_it_has_one() -> None:
    own = weigh(DEW_MARGIN, Value(4.0, limit=5.0, limit_source="the sheet of this top"), [], [Value(6.0), Value(8.0)])
    assert own is not None
    assert (own.limit, own.limit_source, own.others) == (5.0, "the sheet of this top", 7.0)
    plain = weigh(DEW_MARGIN, Value(4.0), [Value(5.0), Value("none"), Value(9.0)])
    assert plain is not None
    assert (plain.limit, plain.limit_source, plain.healthy, plain.others) == (3.0, DEW_MARGIN.limit_source, 7.0, None)
