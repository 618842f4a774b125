"""The long strides through a bucket in still air, against scipy's stiff solver and against short steps."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy

from mixclock.formulas.bucket_kernel import MemberCourse, Rates
from mixclock.formulas.bucket_strides import (
    STRIDES,
    Surface,
    TooLongError,
    adiabatic_ends_s,
    member_strides,
    walk,
)
from mixclock.formulas.ensemble import BucketLoad, SheetPot, edge_times
from mixclock.formulas.ensemble_members import calibrate_ensemble, run_members
from mixclock.formulas.history import History
from tests.formulas.oneresin import Resin, loss_per_s, member_of
from tests.formulas.test_bucket import random_bucket, stiff_end_s

GAS_R = 8.314462618


def walked(resin: Resin, loss: float, material_c: float, air_c: float) -> MemberCourse | None:
    """Its course in the longest strides that can follow it; None where none can."""
    rates = Rates([[math.log(resin.rate_per_s)]], [[resin.energy_j_mol / GAS_R]])
    for count in STRIDES:
        try:
            mass = Surface([material_c], [air_c], [resin.adiabatic_rise_k], [loss])
            return walk(member_strides(member_of(resin), count), rates, mass).courses[0]
        except TooLongError:
            continue
    return None


@pytest.mark.parametrize("block", range(4))
def test_a_bucket_in_still_air_ends_in_long_strides_when_a_stiff_solver_says(block: int) -> None:
    """0.1 %: half of what the short steps keep. What the strides cannot follow, they leave to these."""
    followed = 0
    for seed in range(300 + 25 * block, 325 + 25 * block):
        resin, vessel, mass_kg, material_c, air_c = random_bucket(seed)
        loss = float(loss_per_s(vessel, mass_kg, resin.h0_w_m2k, resin.k_in_w_mk))
        course = walked(resin, loss, material_c, air_c)
        if course is not None:
            followed += 1
            assert course.times_s[-1] == pytest.approx(stiff_end_s(resin, loss, material_c, air_c), rel=1e-3), seed
    assert followed >= 10


def test_a_bucket_is_hot_in_long_strides_when_a_stiff_solver_says() -> None:
    """0.2 % of the time to 15 K over the mix, which lies between two cuts."""
    resin, loss, start_c = Resin(rate_per_s=4e-4), 2e-4, 22.0

    def slopes(_: float, state: np.ndarray) -> list[float]:
        alpha, temp_c = max(state[0], 0.0), state[1]
        arrhenius = math.exp(-resin.energy_j_mol / GAS_R * (1.0 / (temp_c + 273.15) - 1.0 / 298.15))
        rate = resin.rate_per_s * arrhenius * (resin.kappa + alpha**resin.m) * (1.0 - alpha) ** resin.n
        return [rate, resin.adiabatic_rise_k * rate - loss * (temp_c - 20.0)]

    def hot(_: float, state: np.ndarray) -> float:
        return float(state[1] - start_c - 15.0)

    solved = scipy.integrate.solve_ivp(slopes, (0.0, 1e6), [0.0, start_c], "LSODA", rtol=1e-9, atol=1e-11, events=hot)
    course = walked(resin, loss, start_c, 20.0)
    assert course is not None
    assert course.first_reach_s(start_c + 15.0) == pytest.approx(float(solved.t_events[0][0]), rel=2e-3)


def test_a_mass_that_gives_its_heat_away_at_once_is_left_to_short_steps() -> None:
    slow = Resin(rate_per_s=1e-6)
    assert walked(slow, 0.05, 20.0, 20.0) is None


def test_a_mass_that_keeps_all_its_heat_takes_as_long_in_long_strides() -> None:
    """0.05 %, beside scipy's quadrature."""
    resin = Resin(rate_per_s=4e-4)

    def slowness_s(alpha: float) -> float:
        temp_k = 293.15 + resin.adiabatic_rise_k * alpha
        slower = math.exp(resin.energy_j_mol / GAS_R * (1.0 / temp_k - 1.0 / 298.15))
        return slower / resin.rate_per_s / ((resin.kappa + alpha**resin.m) * (1.0 - alpha) ** resin.n)

    laws = [math.log(resin.rate_per_s)], [resin.energy_j_mol / GAS_R]
    strides = member_strides(member_of(resin), STRIDES[0])
    ours = adiabatic_ends_s(strides, *laws, [resin.adiabatic_rise_k], 20.0)
    assert ours == pytest.approx([scipy.integrate.quad(slowness_s, 0.0, resin.alpha_end)[0]], rel=5e-4)


@pytest.mark.parametrize("life_min", [10.0, 45.0, 180.0])
def test_each_resin_of_a_sheet_ends_in_its_cup_when_the_sheet_says(life_min: float) -> None:
    """0.05 % for the member's own law, 0.5 % for the two that only hold early back."""
    calibration = calibrate_ensemble(SheetPot(((20.0, 60.0 * life_min),), 0.15))
    own, *sides = run_members(calibration, BucketLoad(0.15, 20.0, 20.0)).ends_s
    wanted = [math.exp(each) for each in calibration.fitted.log_wanted[0]]
    assert list(own) == pytest.approx(wanted, rel=5e-4)
    assert [list(row) for row in sides] == [pytest.approx(wanted, rel=5e-3)] * 2


@pytest.mark.parametrize("mass_kg", [0.15, 1.0, 12.0])
def test_still_air_by_long_strides_and_the_same_air_by_short_steps_give_one_deadline(mass_kg: float) -> None:
    """0.3 %: a history that stands still is walked in short steps, since it might move."""
    calibration = calibrate_ensemble(SheetPot(((25.0, 1800.0),), 0.15))
    still = edge_times(calibration, BucketLoad(mass_kg, 22.0, 24.0))
    stepped = edge_times(calibration, BucketLoad(mass_kg, 22.0, History((0.0, 3600.0), (24.0, 24.0))))
    assert [still.early_s, still.likely_s] == pytest.approx([stepped.early_s, stepped.likely_s], rel=3e-3)
