"""One bucket of one resin, against scipy's stiff solver and against what must hold of any bucket."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from mixclock.formulas.bucket import BucketShape, usual_across_m
from mixclock.formulas.history import History
from tests.examples import examples
from tests.formulas.oneresin import (
    Resin,
    adiabatic_time_s,
    calibrate,
    course,
    isothermal_time_s,
    loss_per_s,
    pot_life_s,
    time_to_temperature_s,
)

FAST = calibrate(Resin(), 0.15, 25.0, 1800.0)
SLOW = calibrate(Resin(), 0.15, 25.0, 6000.0)
PAIL = BucketShape(across_m=0.28)
STEP_SLACK = 1.0 + 1e-3  # the stepper's own error, a tenth of which it has


def stiff_end_s(resin: Resin, loss: float, material_c: float, air: float | History) -> float:
    """Time to the end point by scipy's LSODA on the two equations as they are written, in time."""
    gas = 8.314462618

    def slopes(time_s: float, state: np.ndarray) -> list[float]:
        alpha, temp_c = min(max(state[0], 0.0), 0.999), state[1]
        arrhenius = math.exp(-resin.energy_j_mol / gas * (1.0 / (temp_c + 273.15) - 1.0 / 298.15))
        rate = resin.rate_per_s * arrhenius * (resin.kappa + alpha**resin.m) * (1.0 - alpha) ** resin.n
        air_c = air.at(time_s) if isinstance(air, History) else air
        return [rate, resin.adiabatic_rise_k * rate - loss * (temp_c - air_c)]

    def ended(_: float, state: np.ndarray) -> float:
        return float(state[0] - resin.alpha_end)

    ended.terminal = True  # type: ignore[attr-defined]
    moves = max(air.times_s) / 40.0 if isinstance(air, History) else np.inf
    solved = scipy.integrate.solve_ivp(
        slopes, (0.0, 1e12), [0.0, material_c], "LSODA", rtol=1e-9, atol=1e-11, events=ended, max_step=moves
    )
    return float(solved.t_events[0][0])


def random_bucket(seed: int) -> tuple[Resin, BucketShape, float, float, float]:
    """From a thimble in a draught, which stays at the air's temperature, to a tonne, which keeps all its heat."""
    rng = np.random.default_rng(seed)
    resin = Resin(
        energy_j_mol=rng.uniform(30e3, 70e3),
        adiabatic_rise_k=rng.uniform(20.0, 210.0),
        alpha_end=rng.uniform(0.2, 0.65),
        kappa=rng.uniform(0.03, 0.4),
        m=rng.uniform(0.3, 1.2),
        n=rng.uniform(1.1, 2.1),
        h0_w_m2k=float(np.exp(rng.uniform(np.log(5.0), np.log(60.0)))),
        rate_per_s=float(np.exp(rng.uniform(np.log(1e-5), np.log(3e-3)))),
    )
    mass_kg = float(np.exp(rng.uniform(np.log(1e-3), np.log(1e3))))
    return resin, BucketShape(), mass_kg, float(rng.uniform(0.0, 40.0)), float(rng.uniform(0.0, 40.0))


@pytest.mark.parametrize("block", range(10))
def test_two_hundred_random_buckets_agree_with_a_stiff_solver(block: int) -> None:
    """0.2 %, a tenth of a minute in an hour: what the model must keep so that its error is the resin's alone."""
    for seed in range(20 * block, 20 * block + 20):
        resin, vessel, mass_kg, material_c, air_c = random_bucket(seed)
        loss = float(loss_per_s(vessel, mass_kg, resin.h0_w_m2k, resin.k_in_w_mk))
        ours = pot_life_s(resin, vessel, mass_kg, material_c, air_c)
        assert ours == pytest.approx(stiff_end_s(resin, loss, material_c, air_c), rel=2e-3), seed


@pytest.mark.parametrize("seed", range(12))
def test_a_day_that_warms_while_the_bucket_stands_agrees_with_a_stiff_solver(seed: int) -> None:
    """0.2 % as above, the air now a history."""
    resin, vessel, mass_kg, material_c, air_c = random_bucket(700 + seed)
    span_s = isothermal_time_s(resin, air_c)
    air = History((0.0, 0.3 * span_s, 0.8 * span_s), (air_c, air_c + 6.0, air_c - 4.0))
    loss = float(loss_per_s(vessel, mass_kg, resin.h0_w_m2k, resin.k_in_w_mk))
    ours = pot_life_s(resin, vessel, mass_kg, material_c, air)
    assert ours == pytest.approx(stiff_end_s(resin, loss, material_c, air), rel=2e-3)


def test_a_vanishing_mass_stays_as_cool_as_the_air() -> None:
    """0.1 %: a gram smeared over a metre loses its heat within a second."""
    smear = pot_life_s(FAST, BucketShape(across_m=1.0), 1e-3, 35.0, 20.0)
    assert smear == pytest.approx(isothermal_time_s(FAST, 20.0), rel=1e-3)
    drops_s = [pot_life_s(FAST, BucketShape(), mass_kg, 20.0, 20.0) for mass_kg in (1e-2, 1e-4, 1e-6)]
    assert drops_s == sorted(drops_s)
    assert drops_s[-1] < isothermal_time_s(FAST, 20.0)


def test_a_huge_mass_keeps_all_its_heat() -> None:
    """0.1 %: a thousand tonnes lose a ten-thousandth of it meanwhile."""
    assert pot_life_s(FAST, BucketShape(), 1e6, 20.0, -10.0) == pytest.approx(adiabatic_time_s(FAST, 20.0), rel=1e-3)


@examples(60, deadline=None)
@given(
    energy=st.floats(0.0, 200e3),
    rise_k=st.floats(0.0, 400.0),
    end=st.floats(0.01, 0.95),
    kappa=st.floats(1e-4, 10.0),
    m=st.floats(0.05, 5.0),
    n=st.floats(0.0, 5.0),
    rate=st.floats(1e-12, 1e3),
    mass_kg=st.floats(1e-6, 1e6),
    material_c=st.floats(-20.0, 60.0),
    air_c=st.floats(-40.0, 70.0),
)
def test_no_input_breaks_the_bucket(
    energy: float,
    rise_k: float,
    end: float,
    kappa: float,
    m: float,
    n: float,
    rate: float,
    mass_kg: float,
    material_c: float,
    air_c: float,
) -> None:
    resin = Resin(energy, rise_k, end, kappa, m, n, rate_per_s=rate)
    whole = course(resin, BucketShape(), mass_kg, material_c, air_c)
    assert np.isfinite(whole.times_s).all()
    assert np.isfinite(whole.temps_c).all()
    assert (np.diff(whole.times_s) >= 0.0).all()
    assert whole.conversions.min() >= 0.0
    assert whole.conversions.max() <= 1.0
    hottest = max(material_c, air_c) + rise_k * whole.conversions
    assert (whole.temps_c <= hottest + 1e-6).all()
    assert whole.temps_c.min() >= min(material_c, air_c) - 1e-6


@examples(40, deadline=None)
@given(
    mass_kg=st.floats(0.01, 100.0),
    material_c=st.floats(0.0, 45.0),
    air_c=st.floats(-10.0, 45.0),
    warmer_k=st.floats(0.0, 15.0),
    slow=st.booleans(),
)
def test_warmer_material_or_warmer_air_never_buys_time(
    mass_kg: float, material_c: float, air_c: float, warmer_k: float, slow: bool
) -> None:
    resin = SLOW if slow else FAST
    base_s = pot_life_s(resin, BucketShape(), mass_kg, material_c, air_c)
    assert pot_life_s(resin, BucketShape(), mass_kg, material_c + warmer_k, air_c) <= base_s * STEP_SLACK
    assert pot_life_s(resin, BucketShape(), mass_kg, material_c, air_c + warmer_k) <= base_s * STEP_SLACK


@examples(40, deadline=None)
@given(
    mass_kg=st.floats(0.01, 50.0),
    more=st.floats(1.0, 20.0),
    material_c=st.floats(0.0, 45.0),
    cooler_k=st.floats(0.0, 20.0),
    pail=st.booleans(),
)
def test_a_larger_batch_never_lasts_longer_in_air_no_warmer_than_itself(
    mass_kg: float, more: float, material_c: float, cooler_k: float, pail: bool
) -> None:
    vessel = PAIL if pail else BucketShape()
    small_s = pot_life_s(FAST, vessel, mass_kg, material_c, material_c - cooler_k)
    assert pot_life_s(FAST, vessel, mass_kg * more, material_c, material_c - cooler_k) <= small_s * STEP_SLACK


@examples(25, deadline=None)
@given(
    sheet_kg=st.floats(0.05, 20.0),
    sheet_c=st.floats(5.0, 35.0),
    minutes=st.floats(3.0, 600.0),
    rise=st.floats(20.0, 200.0),
)
def test_the_sheet_s_own_cup_ends_when_the_sheet_says(
    sheet_kg: float, sheet_c: float, minutes: float, rise: float
) -> None:
    """1e-6: the root is found to 1e-10 of ln k."""
    resin = calibrate(Resin(adiabatic_rise_k=rise), sheet_kg, sheet_c, 60.0 * minutes)
    assert pot_life_s(resin, BucketShape(), sheet_kg, sheet_c, sheet_c) == pytest.approx(60.0 * minutes, rel=1e-6)


def test_every_degree_of_material_costs_about_six_percent() -> None:
    """−6 % a kelvin is given to one digit: half of one either way."""
    lives = [pot_life_s(FAST, BucketShape(), 3.0, temp_c, temp_c) for temp_c in (24.5, 25.5)]
    assert 0.055 <= math.log(lives[0] / lives[1]) <= 0.065


def test_a_bucket_that_never_gets_hot_says_so() -> None:
    assert time_to_temperature_s(SLOW, BucketShape(), 0.05, 20.0, 20.0, 60.0) is None
    hot_s = time_to_temperature_s(FAST, PAIL, 12.0, 25.0, 25.0, 40.0)
    assert hot_s is not None
    assert 0.0 < hot_s < pot_life_s(FAST, PAIL, 12.0, 25.0, 25.0)
    assert time_to_temperature_s(FAST, PAIL, 12.0, 25.0, 25.0, 25.0) == 0.0


def test_the_course_passes_the_end_point_when_the_pot_life_says() -> None:
    whole = course(FAST, PAIL, 12.0, 22.0, 24.0)
    at_end = int(np.searchsorted(whole.conversions, FAST.alpha_end - 1e-12))
    assert whole.times_s[at_end] == pytest.approx(pot_life_s(FAST, PAIL, 12.0, 22.0, 24.0), rel=1e-9)


def test_a_wide_tray_sheds_more_heat_than_a_pail_of_the_same_batch() -> None:
    tray, pail = (float(loss_per_s(BucketShape(across_m=across), 6.0, 16.0, 0.4)) for across in (0.6, 0.2))
    assert tray > pail
    assert usual_across_m(20.0) == pytest.approx(0.285, abs=0.001)


@pytest.mark.parametrize(
    ("mass_kg", "material_c", "air_c", "words"),
    [
        (0.0, 20.0, 20.0, "mass is 0 kg"),
        (float("nan"), 20.0, 20.0, "kg"),
        (3.0, 75.0, 20.0, "between -20 and 60 °C"),
        (3.0, 20.0, 90.0, "between -40 and 70 °C"),
    ],
)
def test_a_bucket_that_cannot_be_is_refused(mass_kg: float, material_c: float, air_c: float, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        pot_life_s(FAST, BucketShape(), mass_kg, material_c, air_c)


def test_a_resin_that_cannot_be_is_refused() -> None:
    for wrong in ({"kappa": 0.0}, {"alpha_end": 1.0}, {"rate_per_s": 0.0}, {"energy_j_mol": -1.0}):
        with pytest.raises(ValueError, match="must"):
            replace(FAST, **wrong)
    with pytest.raises(ValueError, match="pot life is 0 s"):
        calibrate(Resin(), 0.15, 25.0, 0.0)
    with pytest.raises(ValueError, match="across the pail"):
        BucketShape(across_m=0.0)


def test_a_bucket_of_20_cm_loses_as_much_as_its_wall_and_its_resin_let_through() -> None:
    """By hand: 1/U = 1/16 + 0.2/(8·0.4) = 0.125, U = 8 W/m²K; A = 4·3/(1000·1.2·0.2) + π·0.04/2 = 0.1128 m²."""
    shape = BucketShape(across_m=0.2, density_kg_l=1.2, heat_capacity_j_kg_k=2000.0)
    area_m2 = 0.05 + math.pi * 0.02
    assert float(loss_per_s(shape, 3.0, 16.0, 0.4)) == pytest.approx(8.0 * area_m2 / (3.0 * 2000.0), rel=1e-12)
    assert shape.diameter_m(3.0) == 0.2


@pytest.mark.parametrize("mass_kg", [0.0, 0.99e-6, 1.01e6])
def test_no_bucket_holds_nothing_or_a_thousand_tonnes(mass_kg: float) -> None:
    for ask in (lambda: usual_across_m(mass_kg), lambda: loss_per_s(BucketShape(across_m=0.3), mass_kg, 16.0, 0.4)):
        with pytest.raises(ValueError, match="mass"):
            ask()


def test_a_vessel_that_nobody_measured_stands_as_high_as_wide() -> None:
    """By hand: π/4·D³·ρ = m; 1.1 kg/L and D = 0.3 m make 23.33 kg."""
    assert usual_across_m(math.pi / 4.0 * 0.027 * 1100.0, 1.1) == pytest.approx(0.3, rel=1e-12)
    with pytest.raises(ValueError, match="density"):
        usual_across_m(1.0, 5.01)
    with pytest.raises(ValueError, match="density"):
        usual_across_m(1.0, 0.29)
