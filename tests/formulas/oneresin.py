"""The bucket's model for one resin at a time, as it is read in a textbook: what published figures and solvers judge.

The product marches an ensemble of resins at once through the same kernel (`mixclock.formulas.bucket_kernel`). Here one
resin goes through it alone, so that a pot life or a peak can be laid beside what somebody else printed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from mixclock.formulas import bucket_kernel as kernel
from mixclock.formulas.bucket import MATERIAL_RANGE_C, BucketShape, check_bucket, losses_per_s
from mixclock.formulas.bucket_march import march
from mixclock.formulas.bucket_strides import adiabatic_ends_s, member_strides
from mixclock.formulas.ensemble_draw import Draw
from mixclock.formulas.history import History
from mixclock.formulas.ranges import require_positive, require_within
from mixclock.formulas.rate_law import GAS_R_J_MOL_K

CELLS = 240  # error against a stiff solver under 0.01 %
CELLS_BEYOND = 120
ALPHA_LAST = 0.98


@dataclass(frozen=True)
class Resin:
    """One resin's kinetics and heat.

    energy_j_mol: activation energy. adiabatic_rise_k: rise at full conversion without loss. alpha_end: conversion at
    the end point of its pot life. kappa, m, n: shape of the reaction. h0_w_m2k, k_in_w_mk: heat passage at the wall
    and through the resin. rate_per_s: k at 25 °C. Defaults: doi 10.1016/j.tca.2015.11.014
    (κ, m, n; second-hand), Flory and Stockmayer (gel; from memory), the rest fitted or
    judgement.
    """

    energy_j_mol: float = 47e3
    adiabatic_rise_k: float = 170.0
    alpha_end: float = 0.577
    kappa: float = 0.136
    m: float = 0.40
    n: float = 1.54
    h0_w_m2k: float = 16.0
    k_in_w_mk: float = 0.4
    rate_per_s: float = 5e-4

    def __post_init__(self) -> None:
        require_within("activation energy", self.energy_j_mol, 0.0, 200e3, "J/mol")
        require_within("adiabatic rise", self.adiabatic_rise_k, 0.0, 400.0, "K")
        require_within("end conversion", self.alpha_end, 0.01, 0.95, "")
        require_within("kappa", self.kappa, 1e-4, 10.0, "")
        require_within("m", self.m, 0.05, 5.0, "")
        require_within("n", self.n, 0.0, 5.0, "")
        for name, value in (("h0", self.h0_w_m2k), ("k_in", self.k_in_w_mk), ("rate", self.rate_per_s)):
            require_positive(name, value, "")


@dataclass(frozen=True)
class Course:
    """A bucket over time, from mixing on: seconds, °C, conversion; as long as each other."""

    times_s: np.ndarray
    temps_c: np.ndarray
    conversions: np.ndarray


def member_of(resin: Resin) -> Draw:
    """An ensemble of this one resin."""
    return Draw([resin.energy_j_mol], [resin.adiabatic_rise_k], [resin.alpha_end], [resin.kappa], [resin.m], [resin.n],
                [resin.h0_w_m2k], [resin.k_in_w_mk], [[1.0]])  # fmt: skip


def _rates(resin: Resin) -> kernel.Rates:
    return kernel.Rates([[math.log(resin.rate_per_s)]], [[resin.energy_j_mol / GAS_R_J_MOL_K]])


def _cells(resin: Resin, alpha_last: float | None = None) -> kernel.Cells:
    shape = [resin.kappa], [resin.m], [resin.n]
    cells = kernel.cut_cells(kernel.graded([resin.alpha_end], CELLS), *shape)
    if alpha_last is not None and alpha_last > resin.alpha_end:
        cells = cells.followed_by(kernel.cut_cells(kernel.beyond([resin.alpha_end], alpha_last, CELLS_BEYOND), *shape))
    return cells


def loss_per_s(vessel: BucketShape, mass_kg: float, h0_w_m2k: float, k_in_w_mk: float) -> float:
    """λ [1/s] of one resin."""
    return losses_per_s(vessel, mass_kg, [h0_w_m2k], [k_in_w_mk])[0]


def _track(
    resin: Resin, vessel: BucketShape, mass_kg: float, material_c: float, air: float | History, cells: kernel.Cells
) -> kernel.MemberCourse:
    check_bucket(mass_kg, material_c, air)
    loss = loss_per_s(vessel, mass_kg, resin.h0_w_m2k, resin.k_in_w_mk)
    around = kernel.Surroundings(air)
    return march(cells, _rates(resin), [resin.adiabatic_rise_k], [loss], material_c, around).courses[0]


def calibrate(
    shape: Resin, sheet_mass_kg: float, sheet_temp_c: float, pot_life_s: float, vessel: BucketShape | None = None
) -> Resin:
    """The resin whose stated mass, as warm as its air, ends at its stated pot life: `shape` with k found.

    Args:
        shape: everything but the rate.
        sheet_mass_kg: mass that the sheet's pot life is stated for [kg].
        sheet_temp_c: temperature that it is stated for [°C], -20 to 60.
        pot_life_s: stated pot life [s], 1 to 1e8.
        vessel: the sheet's cup; as high as wide when left out.

    Returns:
        Resin.

    Raises:
        ValueError: outside those ranges.

    >>> fast = calibrate(Resin(), 0.15, 25.0, 1800.0)
    >>> round(pot_life_s(fast, BucketShape(), 3.0, 25.0, 25.0) / 60.0, 1)
    25.7

    Source: root of the model in ln k, between its adiabatic and its isothermal bound.
    """
    require_within("pot life", pot_life_s, 1.0, 1e8, "s")
    vessel = vessel or BucketShape()
    unit = replace(shape, rate_per_s=1.0)
    low, high = (math.log(bound(unit, sheet_temp_c) / pot_life_s) for bound in (adiabatic_time_s, isothermal_time_s))

    def residual(log_k: list[float], _: object) -> list[float]:
        resin = replace(shape, rate_per_s=math.exp(log_k[0]))
        return [math.log(_end_s(resin, vessel, sheet_mass_kg, sheet_temp_c, sheet_temp_c) / pot_life_s)]

    bracket = kernel.Bracket([low - 0.01], [high + 0.01], [0.5 * (low + high)], [-1.5])
    (log_k,), _ = kernel.solve_falling(residual, bracket, tolerance=1e-10)
    return replace(shape, rate_per_s=math.exp(log_k))


def _end_s(resin: Resin, vessel: BucketShape, mass_kg: float, material_c: float, air: float | History) -> float:
    return _track(resin, vessel, mass_kg, material_c, air, _cells(resin)).times_s[-1]


def pot_life_s(resin: Resin, vessel: BucketShape, mass_kg: float, material_c: float, air: float | History) -> float:
    """Time [s] from mixing until this bucket reaches the resin's end point.

    Args:
        resin: kinetics and heat.
        vessel: diameter, density, heat capacity.
        mass_kg: mass in the bucket [kg], 1e-6 to 1e6.
        material_c: temperature at mixing [°C], -20 to 60.
        air: air temperature [°C], -40 to 70, one value or a history counted from mixing.

    Returns:
        pot life [s].

    Raises:
        ValueError: outside those ranges.

    >>> slow = calibrate(Resin(), 0.15, 25.0, 6000.0)
    >>> round(pot_life_s(slow, BucketShape(), 3.0, 25.0, 25.0) / 60.0)
    61

    Source: the lumped model of this module.
    """
    return _end_s(resin, vessel, mass_kg, material_c, air)


def course(
    resin: Resin,
    vessel: BucketShape,
    mass_kg: float,
    material_c: float,
    air: float | History,
    alpha_last: float = ALPHA_LAST,
) -> Course:
    """The bucket's temperature and conversion over time, past its end point to `alpha_last`.

    Args:
        resin, vessel, mass_kg, material_c, air: as for `pot_life_s`.
        alpha_last: conversion at which to stop [-], up to 0.999.

    Returns:
        Course [s, °C, -].

    Raises:
        ValueError: outside those ranges.

    >>> peak = course(calibrate(Resin(), 0.15, 25.0, 1800.0), BucketShape(), 3.0, 25.0, 25.0).temps_c.max()
    >>> bool(150.0 < peak < 195.0)
    True

    Source: the lumped model of this module.
    """
    require_within("last conversion", alpha_last, resin.alpha_end, 0.999, "")
    cells = _cells(resin, alpha_last)
    track = _track(resin, vessel, mass_kg, material_c, air, cells)
    return Course(np.array(track.times_s), np.array(track.temps_c), np.array(cells.alpha[0]))


def time_to_temperature_s(
    resin: Resin, vessel: BucketShape, mass_kg: float, material_c: float, air: float | History, temp_c: float
) -> float | None:
    """Time [s] from mixing until the bucket first reaches a temperature; None where it never does.

    Args:
        resin, vessel, mass_kg, material_c, air: as for `pot_life_s`.
        temp_c: temperature to reach [°C].

    Returns:
        time [s], or None.

    Raises:
        ValueError: outside the ranges of `pot_life_s`.

    >>> fast = calibrate(Resin(), 0.15, 25.0, 1800.0)
    >>> hot_s = time_to_temperature_s(fast, BucketShape(), 3.0, 25.0, 25.0, 40.0)
    >>> round(hot_s / pot_life_s(fast, BucketShape(), 3.0, 25.0, 25.0), 2)
    0.62

    Source: the lumped model of this module.
    """
    track = _track(resin, vessel, mass_kg, material_c, air, _cells(resin, ALPHA_LAST))
    reached = track.first_reach_s(temp_c)
    return reached if math.isfinite(reached) else None


def adiabatic_time_s(resin: Resin, material_c: float) -> float:
    """Time [s] to the end point in a mass so large that no heat leaves it: ∫dα / (k(T_0 + ΔT·α)·f(α)).

    Args:
        resin: kinetics and heat.
        material_c: temperature at mixing [°C], -20 to 60.

    Returns:
        time [s].

    Raises:
        ValueError: outside that range.

    >>> round(adiabatic_time_s(calibrate(Resin(), 0.15, 25.0, 1800.0), 25.0) / 60.0, 1)
    24.4

    Source: the model of this module with λ = 0.
    """
    require_within("material temperature", material_c, *MATERIAL_RANGE_C, "°C")
    rates, alone = _rates(resin), member_of(resin)
    strides = member_strides(alone, CELLS)
    return adiabatic_ends_s(strides, rates.log_k[0], rates.energy_k[0], alone.rise_k, material_c)[0]


def isothermal_time_s(resin: Resin, temp_c: float, alpha: float | None = None) -> float:
    """Time [s] to a conversion in a film so thin that it stays at one temperature: ∫dα/f / k(T).

    Args:
        resin: kinetics.
        temp_c: temperature [°C], -40 to 200.
        alpha: conversion [-], 0.01 to 0.95; the resin's end point when left out.

    Returns:
        time [s].

    Raises:
        ValueError: outside those ranges.

    >>> round(isothermal_time_s(calibrate(Resin(), 0.15, 25.0, 1800.0), 25.0) / 60.0)
    138

    Source: the model of this module with λ → ∞.
    """
    require_within("temperature", temp_c, -40.0, 200.0, "°C")
    until = resin if alpha is None else replace(resin, alpha_end=alpha)
    faster = math.exp(resin.energy_j_mol / GAS_R_J_MOL_K * (1.0 / 298.15 - 1.0 / (temp_c + 273.15)))
    return _cells(until).ends_xi[0] / (resin.rate_per_s * faster)
