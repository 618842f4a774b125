"""Early and late hold the truth about synthetic resins that are wider than the ensemble; limits as set beforehand."""

from __future__ import annotations

import numpy as np
import pytest
import scipy

from tests.formulas import bandcoverage, truths

FEW, MANY = 96, 480  # `python -m tests.formulas.bandcoverage` takes all 2,000


@pytest.mark.parametrize("count", [FEW, pytest.param(MANY, marks=pytest.mark.long)])
def test_a_crew_that_goes_by_early_and_late_is_right_four_times_in_five(count: int) -> None:
    held = [bandcoverage.answer(case) for case in truths.draw_cases(count, bandcoverage.SEED)]
    found = bandcoverage.summarise(held)
    assert found.inside >= bandcoverage.INSIDE_AT_LEAST
    assert found.banded_inside >= bandcoverage.INSIDE_AT_LEAST
    assert found.before <= bandcoverage.BEFORE_AT_MOST
    assert found.width <= bandcoverage.WIDTH_AT_MOST
    for family in truths.FAMILIES:
        few = bandcoverage.summarise([one for one in held if one.family == family])
        assert few.before <= bandcoverage.BEFORE_AT_MOST, family
        assert few.inside >= bandcoverage.INSIDE_AT_LEAST, family


@pytest.mark.parametrize("family", truths.FAMILIES)
def test_the_synthetic_truths_are_true_to_their_own_equations(family: str) -> None:
    """0.01 % against scipy's stiff solver: far inside the band that they are to judge."""
    resins = truths.draw_resins(np.random.default_rng(7), 4, family)
    mass, temps = np.array([0.1, 0.5, 3.0, 20.0]), np.array([12.0, 20.0, 25.0, 33.0])
    across = truths.height_as_wide_m(mass, np.ones(4))
    ours = truths.end_times_s(resins, mass, across, temps, temps - 2.0)
    loss = truths.loss_per_s(resins, mass, across)
    for i in range(4):
        assert ours[i] == pytest.approx(_stiff_s(resins, i, loss[i], temps[i], temps[i] - 2.0), rel=1e-4)


def _stiff_s(resins: truths.Resins, i: int, loss: float, start_c: float, air_c: float) -> float:
    def slopes(_: float, state: np.ndarray) -> list[float]:
        alpha, inverse = max(state[0], 0.0), (1.0 / (state[1] + 273.15) - 1.0 / 298.15) / 8.314462618
        rate = (
            resins.rate_start[i] * np.exp(-resins.energy_start[i] * inverse)
            + resins.rate_auto[i] * np.exp(-resins.energy_auto[i] * inverse) * alpha ** resins.m[i]
        ) * (1.0 - alpha) ** resins.n[i]
        return [rate, resins.rise_k[i] * rate - loss * (state[1] - air_c)]

    def ended(_: float, state: np.ndarray) -> float:
        return float(state[0] - resins.alpha_end[i])

    ended.terminal = True  # type: ignore[attr-defined]
    solved = scipy.integrate.solve_ivp(slopes, (0.0, 1e9), [0.0, start_c], "LSODA", rtol=1e-9, atol=1e-11, events=ended)
    return float(solved.t_events[0][0])
