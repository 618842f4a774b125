"""Early, likely and late of a bucket, with the floors of a careful practice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.formulas.bucket import BucketShape
from mixclock.formulas.ensemble import BucketLoad, Calibration, Edges, SheetPot, edge_times, hand_over
from mixclock.formulas.ensemble_members import calibrate_ensemble, run_members, weighted_quantile
from mixclock.formulas.history import History
from tests.examples import examples
from tests.formulas.ensembleprobes import equal_weights, mean_course, reweigh
from tests.formulas.oneresin import Resin, calibrate, pot_life_s

CUP = calibrate_ensemble(SheetPot(((25.0, 1800.0),), 0.15))
THREE = calibrate_ensemble(SheetPot(((10.0, 4200.0), (20.0, 2400.0), (30.0, 1200.0)), 1.0))
TWO = calibrate_ensemble(SheetPot(((15.0, 7200.0), (25.0, 4200.0)), 0.5, body="filled"))
DAWDLER = calibrate_ensemble(SheetPot(((25.0, 6000.0),), 0.15, end="workability"))
ALL = [CUP, THREE, TWO, DAWDLER]
STEP_SLACK = 1.0 + 3e-3  # twice the ensemble's stepping error


def in_order(edges: Edges) -> bool:
    return 0.0 <= edges.early_s <= edges.likely_s and (edges.late_s is None or edges.likely_s <= edges.late_s)


def no_later(sooner: Edges, later: Edges) -> bool:
    """All three no later, where no late edge counts as never."""
    fine = sooner.early_s <= later.early_s * STEP_SLACK and sooner.likely_s <= later.likely_s * STEP_SLACK
    if later.late_s is None:
        return fine
    return fine and sooner.late_s is not None and sooner.late_s <= later.late_s * STEP_SLACK


BUCKETS = {
    "which": st.sampled_from(ALL),
    "mass_kg": st.floats(0.05, 60.0),
    "material_c": st.floats(-5.0, 50.0),
    "air_c": st.floats(-10.0, 50.0),
}


@examples(60, deadline=None)
@given(**BUCKETS, observed=st.booleans(), cap=st.booleans(), factor=st.floats(0.5, 2.0))
def test_early_is_never_after_likely_nor_likely_after_late(
    which: Calibration, mass_kg: float, material_c: float, air_c: float, observed: bool, cap: bool, factor: float
) -> None:
    bucket = BucketLoad(mass_kg, material_c, air_c)
    assert in_order(edge_times(which, bucket, observed=observed, practice=cap, factor=factor))


@examples(60, deadline=None)
@given(**BUCKETS, warmer_k=st.floats(0.0, 10.0))
def test_a_warmer_mix_or_warmer_air_never_moves_a_deadline_later(
    which: Calibration, mass_kg: float, material_c: float, air_c: float, warmer_k: float
) -> None:
    base = edge_times(which, BucketLoad(mass_kg, material_c, air_c))
    warmer_mix = edge_times(which, BucketLoad(mass_kg, material_c + warmer_k, air_c))
    if base.early_by == "hot" and air_c > material_c:
        # the alarm counts 15 K from the mix, and air that warms a cold mix brings it nearer by itself
        warmer_mix = replace(warmer_mix, early_s=min(warmer_mix.early_s, base.early_s))
    assert no_later(warmer_mix, base)
    assert no_later(edge_times(which, BucketLoad(mass_kg, material_c, air_c + warmer_k)), base)


@examples(60, deadline=None)
@given(
    which=st.sampled_from(ALL),
    mass_kg=st.floats(0.05, 30.0),
    more=st.floats(1.0, 30.0),
    material_c=st.floats(-5.0, 50.0),
    cooler_k=st.floats(0.0, 25.0),
)
def test_a_larger_batch_never_gets_a_later_deadline(
    which: Calibration, mass_kg: float, more: float, material_c: float, cooler_k: float
) -> None:
    small = edge_times(which, BucketLoad(mass_kg, material_c, material_c - cooler_k))
    assert no_later(edge_times(which, BucketLoad(mass_kg * more, material_c, material_c - cooler_k)), small)


@pytest.mark.parametrize("which", ALL)
def test_the_sheet_s_own_cup_likely_ends_when_the_sheet_says(which: Calibration) -> None:
    """1 %: the median of 128 members whose sheet times scatter by 12 % evenly."""
    stated = [life_s for _, life_s in which.sheet.points]
    likely = [edge_times(which, BucketLoad(which.sheet.mass_kg, at_c, at_c)).likely_s for at_c, _ in which.sheet.points]
    assert stated
    assert likely == pytest.approx(stated, rel=0.01)


def test_a_sheet_whose_points_lie_on_no_straight_line_is_still_met_at_each() -> None:
    crooked = calibrate_ensemble(SheetPot(((10.0, 9000.0), (20.0, 8400.0), (30.0, 1500.0)), 1.0))
    likely = [edge_times(crooked, BucketLoad(1.0, temp_c, temp_c)).likely_s for temp_c in (10.0, 20.0, 30.0)]
    assert likely == pytest.approx([9000.0, 8400.0, 1500.0], rel=0.01)


@pytest.mark.parametrize(("mass_kg", "temp_c"), [(0.5, 25.0), (3.0, 20.0), (3.0, 30.0), (20.0, 25.0), (20.0, 35.0)])
def test_likely_is_near_what_the_usual_resin_alone_says(mass_kg: float, temp_c: float) -> None:
    """5 %: the ensemble's middle is not the default in every parameter, m least of all."""
    usual = calibrate(Resin(), 0.15, 25.0, 1800.0)
    alone_s = pot_life_s(usual, BucketShape(), mass_kg, temp_c, temp_c)
    assert edge_times(CUP, BucketLoad(mass_kg, temp_c, temp_c)).likely_s == pytest.approx(alone_s, rel=0.05)


def test_the_same_sheet_gives_the_same_ensemble_to_the_last_bit() -> None:
    again = calibrate_ensemble(SheetPot(((25.0, 1800.0),), 0.15))
    assert again.to_json() == CUP.to_json()


@pytest.mark.parametrize("which", ALL)
def test_a_calibration_kept_in_the_book_says_the_same_as_a_fresh_one(which: Calibration) -> None:
    kept = Calibration.from_json(which.to_json())
    bucket = BucketLoad(12.0, 24.0, 21.0, readings=((300.0, 27.0),))
    assert kept.sheet == which.sheet
    assert edge_times(kept, bucket) == edge_times(which, bucket)


def test_a_calibration_of_another_version_is_refused() -> None:
    with pytest.raises(ValueError, match="calibrate anew"):
        Calibration.from_json('{"format": 0}')


def test_early_is_at_most_four_fifths_of_likely_until_something_was_observed() -> None:
    bucket = BucketLoad(0.15, 20.0, 20.0)
    fresh, known = (edge_times(DAWDLER, bucket, observed=observed) for observed in (False, True))
    assert fresh.early_s <= 0.8 * fresh.likely_s < known.early_s
    assert known.early_by == "spread"


def test_from_three_kilograms_no_early_deadline_is_later_than_a_mass_that_keeps_its_heat() -> None:
    for mass_kg in (3.0, 9.0, 40.0):
        for temp_c in (12.0, 20.0, 28.0, 36.0):
            edges = edge_times(DAWDLER, BucketLoad(mass_kg, temp_c, temp_c - 8.0), observed=True)
            assert edges.early_s <= edges.adiabatic_s


def test_a_bucket_must_be_out_before_it_is_hot() -> None:
    edges = edge_times(CUP, BucketLoad(12.0, 25.0, 25.0), observed=True)
    assert edges.early_by == "hot"
    assert edges.early_s == edges.hot_s
    middle_c = float(np.interp(edges.early_s, *_likely_course(CUP, BucketLoad(12.0, 25.0, 25.0))))
    assert middle_c == pytest.approx(40.0, abs=0.5)


@pytest.mark.parametrize(("mix_c", "hot_c"), [(20.0, 35.0), (26.0, 40.0), (32.0, 44.0), (36.0, 48.0)])
def test_a_bucket_is_hot_by_the_one_rule_however_warm_it_was_mixed(mix_c: float, hot_c: float) -> None:
    """The rule: 15 K over the mix; but 40 °C once that is less, and 12 K over a mix of more than 28 °C."""
    load = BucketLoad(12.0, mix_c, mix_c)
    middle_c = float(np.interp(edge_times(CUP, load).hot_s, *_likely_course(CUP, load)))
    assert middle_c == pytest.approx(hot_c, abs=0.7)


def _likely_course(which: Calibration, bucket: BucketLoad) -> tuple[np.ndarray, np.ndarray]:
    found = mean_course(which, bucket, list(np.linspace(0.0, 3000.0, 301)))
    return found.times_s, found.likely_c


def test_cold_earns_little_credit_on_a_sheet_with_one_point() -> None:
    """Both published cups that the model misses at 10 °C are poured in time by the early deadline."""
    for gel_min, published_min in ((42.0, 137.0), (50.0, 245.0)):
        cup = calibrate_ensemble(SheetPot(((25.0, 60.0 * gel_min),), 0.15))
        edges = edge_times(cup, BucketLoad(0.15, 10.0, 10.0))
        assert edges.early_by == "one sheet point"
        assert edges.early_s < 60.0 * published_min < edges.likely_s


def test_a_bucket_colder_than_its_sheet_has_no_late_edge() -> None:
    assert edge_times(CUP, BucketLoad(3.0, 15.0, 25.0)).late_s is None
    assert edge_times(CUP, BucketLoad(3.0, 15.0, 25.0)).late_by == "colder than the sheet"
    assert edge_times(CUP, BucketLoad(3.0, 25.0, 15.0)).late_s is not None
    assert edge_times(THREE, BucketLoad(3.0, 9.5, 9.5)).late_s is not None  # a thermometer's error
    assert edge_times(THREE, BucketLoad(3.0, 8.0, 8.0)).late_s is None


def test_a_full_kit_of_solid_epoxy_gets_ten_minutes_and_a_little_less_of_it_hardly_more() -> None:
    full, part = BucketLoad(9.0, 20.0, 20.0), BucketLoad(8.9, 20.0, 20.0)
    held = edge_times(THREE, full, practice=True)
    assert held.early_s == pytest.approx(600.0)
    assert held.early_by == "practice"
    assert edge_times(THREE, full).early_s > 600.0
    assert 600.0 < edge_times(THREE, part, practice=True).early_s < 615.0


def test_a_full_kit_over_thirty_degrees_gets_two_to_five_minutes() -> None:
    for temp_c, minutes in ((29.4, 5.0), (35.0, 3.15)):
        early_s = edge_times(THREE, BucketLoad(9.0, temp_c, temp_c), practice=True).early_s
        assert early_s / 60.0 == pytest.approx(minutes, rel=0.01)


def test_practice_holds_back_by_the_warmer_of_pails_and_air() -> None:
    cool_air, warm_air = (
        edge_times(THREE, BucketLoad(9.0, 20.0, air_c), practice=True).early_s for air_c in (20.0, 30.0)
    )
    assert warm_air < 0.6 * cool_air


def test_what_practice_takes_grows_from_nothing_at_the_mass_that_the_sheet_tested() -> None:
    plain, held = (edge_times(THREE, BucketLoad(1.0, 22.0, 22.0), practice=cap).early_s for cap in (False, True))
    assert held == plain


def test_a_sheet_that_states_a_full_kit_rules_itself() -> None:
    kit = calibrate_ensemble(SheetPot(((21.0, 1500.0),), mass_kg=9.5))
    bucket = BucketLoad(9.5, 21.0, 21.0)
    assert edge_times(kit, bucket, practice=True).early_s == edge_times(kit, bucket).early_s


@examples(60, deadline=None)
@given(
    mass_kg=st.floats(0.2, 30.0), more=st.floats(1.0, 3.0), temp_c=st.floats(8.0, 40.0), warmer_k=st.floats(0.0, 10.0)
)
def test_more_or_warmer_resin_never_gains_time_where_practice_holds_it_back(
    mass_kg: float, more: float, temp_c: float, warmer_k: float
) -> None:
    some = edge_times(THREE, BucketLoad(mass_kg, temp_c, temp_c), practice=True).early_s
    bigger = edge_times(THREE, BucketLoad(mass_kg * more, temp_c, temp_c), practice=True).early_s
    warmer = edge_times(THREE, BucketLoad(mass_kg, temp_c + warmer_k, temp_c + warmer_k), practice=True).early_s
    assert bigger <= some * 1.0005
    assert warmer <= some * 1.0005


@pytest.mark.parametrize(
    ("printed_s", "kit_kg", "temp_c"), [(1500.0, 10.0, 20.0), (2400.0, 4.0, 23.0), (900.0, 25.0, 15.0)]
)
def test_a_kit_that_its_maker_timed_to_forty_degrees_gets_the_printed_time_as_it_stands(
    printed_s: float, kit_kg: float, temp_c: float
) -> None:
    kit = calibrate_ensemble(SheetPot(((temp_c, printed_s),), mass_kg=kit_kg, end="hot"))
    edges = edge_times(kit, BucketLoad(kit_kg, temp_c, temp_c))
    assert edges.early_s == pytest.approx(printed_s, rel=0.002)
    assert edges.likely_s == pytest.approx(printed_s, rel=0.002)
    warmer = edge_times(kit, BucketLoad(kit_kg, temp_c + 8.0, temp_c + 8.0))
    assert warmer.early_s < 0.8 * printed_s


def test_a_quarter_either_way_is_the_least_that_is_claimed_and_twice_that_for_a_small_cup() -> None:
    warm, small = edge_times(CUP, BucketLoad(3.0, 26.0, 26.0)), edge_times(CUP, BucketLoad(0.1, 26.0, 26.0))
    assert warm.late_s == pytest.approx(1.25 * warm.likely_s)
    assert small.late_s == pytest.approx(1.5 * small.likely_s)


def test_a_hotter_reading_brings_every_deadline_forward_and_a_cooler_one_earns_some_back() -> None:
    plain = edge_times(CUP, BucketLoad(12.0, 25.0, 25.0))
    ends = [
        edge_times(CUP, BucketLoad(12.0, 25.0, 25.0, readings=((600.0, read_c),)))
        for read_c in (27.0, 31.5, 36.0, 60.0)
    ]
    likely = [edges.likely_s for edges in ends]
    assert likely == sorted(likely, reverse=True)
    assert ends[0].likely_s > plain.likely_s > ends[2].likely_s
    assert all(in_order(edges) for edges in ends)


def test_a_reading_as_expected_sharpens_the_members_without_moving_them_much() -> None:
    """3 %: the likely course at ten minutes, read back."""
    bucket = BucketLoad(12.0, 25.0, 25.0)
    expected_c = float(mean_course(CUP, bucket, [600.0]).likely_c[0])
    read = BucketLoad(12.0, 25.0, 25.0, readings=((600.0, expected_c),))
    plain, sharp = edge_times(CUP, bucket, observed=True), edge_times(CUP, read, observed=True)
    assert sharp.likely_s == pytest.approx(plain.likely_s, rel=0.03)
    spreads = [_spread_s(each) for each in (read, bucket)]
    assert spreads[0] < spreads[1]


def _spread_s(bucket: BucketLoad) -> float:
    run, weights = run_members(CUP, bucket), reweigh(CUP, bucket)
    low, high = (weighted_quantile(run.ends_s[0], weights, share) for share in (0.1, 0.9))
    return high - low


@examples(40, deadline=None)
@given(
    readings=st.lists(st.tuples(st.floats(0.0, 7200.0), st.floats(-20.0, 400.0)), max_size=5),
    mass_kg=st.floats(0.1, 40.0),
)
def test_no_thermometer_however_wild_breaks_the_deadlines(readings: list[tuple[float, float]], mass_kg: float) -> None:
    bucket = BucketLoad(mass_kg, 22.0, 24.0, readings=tuple(readings))
    weights = reweigh(CUP, bucket)
    assert weights.sum() == pytest.approx(1.0)
    assert 1.0 / float((weights**2).sum()) >= 0.1 * CUP.size
    assert in_order(edge_times(CUP, bucket))


def test_without_readings_every_member_counts_the_same() -> None:
    assert reweigh(CUP, BucketLoad(3.0, 20.0, 20.0)) == pytest.approx(equal_weights(CUP))


def test_a_bucket_poured_late_buys_less_time_on_the_floor() -> None:
    bucket = BucketLoad(3.0, 25.0, 25.0)
    used = [hand_over(CUP, bucket, at_s).ripeness[1] for at_s in (0.0, 300.0, 900.0, 1400.0, 2400.0)]
    assert used[0] == 0.0
    assert used == sorted(used)
    assert used[-1] > 1.0
    low, likely, high = hand_over(CUP, bucket, 900.0).conversion
    assert 0.0 < low < likely < high < 0.6


def test_for_a_sheet_that_ends_before_gel_less_is_used_up_at_its_end() -> None:
    """Its pot life ends at workability, of which gel is still some way off."""
    bucket = BucketLoad(0.15, 25.0, 25.0)
    at_end = hand_over(DAWDLER, bucket, edge_times(DAWDLER, bucket).likely_s)
    assert at_end.ripeness[1] < 0.8


def test_air_that_warms_while_the_bucket_stands_brings_its_end_forward() -> None:
    still = edge_times(TWO, BucketLoad(2.0, 18.0, 18.0))
    warming = edge_times(TWO, BucketLoad(2.0, 18.0, History((0.0, 3600.0), (18.0, 30.0))))
    assert warming.likely_s < still.likely_s


def test_a_learned_factor_moves_the_deadlines_by_itself() -> None:
    plain, slower = (edge_times(CUP, BucketLoad(0.15, 25.0, 25.0), factor=factor) for factor in (1.0, 1.2))
    assert slower.likely_s == pytest.approx(1.2 * plain.likely_s, rel=1e-9)


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ((), "needs 1 to 12"),
        (((20.0, 600.0), (20.0, 500.0)), "stated twice"),
        (((20.0, 600.0), (30.0, 900.0)), "longer than at 20 °C"),
        (((20.0, 0.0),), "pot life is 0 s"),
        (((90.0, 600.0),), "between -20 and 60 °C"),
    ],
)
def test_a_pot_life_that_cannot_be_is_refused(points: tuple[tuple[float, float], ...], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        SheetPot(points)


def test_an_end_or_body_that_nobody_knows_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="gel, workability, unknown"):
        SheetPot(((20.0, 600.0),), end="hard")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="unfilled, filled, waterborne"):
        SheetPot(((20.0, 600.0),), body="heavy")  # type: ignore[arg-type]


def test_readings_that_no_bucket_gives_are_refused() -> None:
    with pytest.raises(ValueError, match="s after mixing"):
        BucketLoad(3.0, 20.0, 20.0, readings=((-5.0, 20.0),))
    with pytest.raises(ValueError, match="bucket reading is 900 °C"):
        BucketLoad(3.0, 20.0, 20.0, readings=((5.0, 900.0),))
