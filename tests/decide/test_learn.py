"""What signs seen on the floor teach."""

from __future__ import annotations

import math

import pytest

from mixclock.decide.clocks import LearnedFactor, prior_sigma
from mixclock.decide.learn import EdgeObservation, factors_to_log, learn, learned_factors, observations_of
from mixclock.job.entry import Combined, FactorUsed, Poured, Reading, Saw
from tests.decide.worlds import MODEL, Log, instant, minutes_of


def seen(*ratios: float, window: str = "tack-free") -> list[EdgeObservation]:
    """Observations of one window."""
    return [
        EdgeObservation("Shed base", window, ratio, "tack free", number, "shed", instant(number), number)
        for number, ratio in enumerate(ratios, 1)
    ]


@pytest.mark.parametrize(
    ("window", "times"), [("foot-traffic", 1.6), ("full-cure", 1.6), ("tack-free", 1.25), ("pour-out", 1.25)]
)
def test_before_anything_was_seen_hardness_may_take_three_fifths_longer_and_what_sets_a_quarter(
    window: str, times: float
) -> None:
    """Nine in ten of a log-normal lie below its median times e to the power of 1.28 spreads (tables of the normal)."""
    assert math.exp(1.2815515655 * prior_sigma(window)) == pytest.approx(times, rel=1e-4)


def test_nothing_seen_leaves_the_sheet_as_it_is() -> None:
    """No bucket was seen either: a large one is not trusted to stand as long as its sheet says."""
    assert learn("tack-free", []) == LearnedFactor(factor=1.0, sigma=None, observations=0, mass_kg=0.0, lot_factor=1.0)


def test_one_sign_moves_the_clock_part_of_the_way() -> None:
    learned = learn("tack-free", seen(1.3))
    assert 1.0 < learned.factor < 1.3


def test_ten_signs_that_agree_move_it_nearly_all_the_way_and_narrow_the_band() -> None:
    learned = learn("tack-free", seen(*[1.28, 1.3, 1.32, 1.29, 1.31, 1.3, 1.27, 1.33, 1.3, 1.3]))
    assert 1.2 < learned.factor < 1.3
    assert learned.sigma is not None
    assert learned.sigma < 0.75 * prior_sigma("tack-free")


def test_signs_that_contradict_each_other_widen_the_band() -> None:
    learned = learn("tack-free", seen(0.6, 1.7, 0.55, 1.8, 0.65, 1.6))
    assert learned.sigma is not None
    assert learned.sigma > 1.3 * prior_sigma("tack-free")


def test_one_wild_sign_among_good_ones_hardly_counts() -> None:
    good = learn("tack-free", seen(1.1, 1.08, 1.12, 1.1))
    wild = learn("tack-free", seen(1.1, 1.08, 1.12, 1.1, 3.5))
    assert wild.factor == pytest.approx(good.factor, rel=0.05)


def test_a_slip_of_the_pen_is_shown_and_not_used() -> None:
    slip = seen(40.0)
    assert not slip[0].used
    assert learn("tack-free", slip).observations == 0


def test_the_factor_is_the_normal_inverse_gamma_posterior() -> None:
    # textbook update (Gelman et al., Bayesian Data Analysis, section 3.3; from memory), all weights near 1
    ratios = (1.1, 1.1, 1.1, 1.1)
    learned = learn("tack-free", seen(*ratios))
    assert math.log(learned.factor) == pytest.approx(4 * math.log(1.1) / (2 + 4), rel=0.02)


def worked_floor() -> Log:
    """A batch whose film was tack free after 7 h 30 min where the sheet says 6 h at 20 °C."""
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0))
    log.add(5, Poured(1))
    log.add(5 + 450, Saw("tack free", 1))
    return log


def test_a_sign_becomes_an_observation_of_its_edge_against_the_sheet_alone() -> None:
    observed = observations_of(worked_floor().standing(), MODEL)
    assert [(one.window, one.batch) for one in observed] == [("tack-free", 1)]
    assert observed[0].ratio == pytest.approx(450.0 / 360.0, rel=0.08)


def test_a_look_at_an_area_of_two_batches_is_one_observation_of_the_younger() -> None:
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    for number, minutes in ((1, 0), (2, 60)):
        log.add(minutes, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0))
        log.add(minutes + 5, Poured(number))
    log.add(5 + 450, Saw("tack free", area="bay 1"))
    (seen,) = observations_of(log.standing(), MODEL)
    assert seen.batch == 2
    assert seen.ratio == pytest.approx(390.0 / 360.0, rel=0.05)


def test_what_a_late_bucket_used_up_is_not_taken_for_a_fast_resin() -> None:
    ratios = []
    for poured in (4.0, 18.0):
        log = Log()
        log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
        log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0))
        log.add(poured, Poured(1))
        opens = log.window("tack-free", poured).opens
        assert opens is not None
        log.add(minutes_of(opens.likely), Saw("tack free", 1))
        ratios.append(observations_of(log.standing(), MODEL)[0].ratio)
    assert ratios == pytest.approx([1.0, 1.0], abs=1e-3)


def test_a_product_whose_sheet_is_asked_about_alone_is_seen_alone() -> None:
    standing = worked_floor().standing()
    top, base = standing.profile("Shed top"), standing.profile("Shed base")
    assert top is not None
    assert base is not None
    assert observations_of(standing, MODEL, top) == ()
    assert observations_of(standing, MODEL, base) == observations_of(standing, MODEL)


def test_what_was_learned_later_changes_no_earlier_batch() -> None:
    log = worked_floor()
    before = log.window("tack-free", 460).opens
    log.add(460, FactorUsed("Shed base", "tack-free", 1.2, 0.12, 1))
    log.add(470, Combined("Shed base", ("bay 2",), volume_l=4.0, material_c=20.0))
    log.add(475, Poured(2))
    assert log.window("tack-free", 480).opens == before
    second = log.window("tack-free", 480, batch=2)
    assert second.opens is not None
    assert before is not None
    assert minutes_of(second.opens.likely) - 475 > 1.1 * (minutes_of(before.likely) - 5)
    assert any("slower than the sheet" in said for said in second.because)


def test_a_job_logs_only_factors_that_differ_from_those_it_knows() -> None:
    known = {"tack-free": learn("tack-free", seen(1.2, 1.2))}
    first = factors_to_log("Shed base", known, {})
    assert [used.window for used in first] == ["tack-free"]
    assert factors_to_log("Shed base", known, {"tack-free": first[0]}) == []
    (back,) = factors_to_log("Shed base", {}, {"tack-free": first[0]})
    assert (back.factor, back.observations) == (1.0, 0)
    assert factors_to_log("Shed base", {}, {"tack-free": back}) == []
    assert factors_to_log("Shed base", {}, {}) == []


def test_factors_are_kept_per_product_and_window() -> None:
    factors = learned_factors([*seen(1.2, 1.2), *seen(0.8, window="pour-out")])
    assert set(factors) == {("shed base", "tack-free"), ("shed base", "pour-out")}
    assert factors[("shed base", "tack-free")].factor > 1.0 > factors[("shed base", "pour-out")].factor
