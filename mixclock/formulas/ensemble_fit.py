"""Each member brought into line with its sheet: with k alone for one stated point, with k(T) for several.

One point: the member keeps the activation energy that it drew, and k is found. Beside it stand the same resins with
25 and 60 kJ/mol, for the floors under an early edge. Several points: k and the member's own activation energy are found
by least squares in ln t (two points: exactly), the energy held within 10 to 150 kJ/mol. What a straight Arrhenius line
leaves is taken up by a map of the model's time onto the sheet's (`Fit.on_sheet`), so that every stated point is met. A
law with bends at the stated temperatures was tried and dropped: self-heating carries each bucket through the bends of
the warmer points, and most members could not meet three points with any sane slopes.
"""

import numpy as np

from mixclock.formulas import bucket_kernel as kernel
from mixclock.formulas.bucket import loss_per_s
from mixclock.formulas.bucket_kernel import Floats, Rates
from mixclock.formulas.ensemble_draw import Draw, SheetPot
from mixclock.formulas.rate_law import GAS_R_J_MOL_K
from mixclock.values import dataclass

CELLS = 40  # 0.15 % at worst against a stiff solver, where the sheet itself scatters by 12 %
USUAL_J_MOL, COLD_SIDE_J_MOL, HOT_SIDE_J_MOL = 47e3, 25e3, 60e3
SLOPE_RANGE_K = (10e3 / GAS_R_J_MOL_K, 150e3 / GAS_R_J_MOL_K)
CLOSE_ENOUGH = 1e-5  # of ln(time)
NEWTON_STEPS = 12
_NUDGE_RATE = np.array([0.0, 1e-3, 0.0])[:, None, None]
_NUDGE_ENERGY_K = np.array([0.0, 0.0, 5.0])[:, None, None]


@dataclass(frozen=True)
class Fit:
    """Rates (variants × members), and at each stated point (× members) ln t of the model and ln t that is wanted.

    The two differ where a straight Arrhenius line cannot meet all of a sheet's points; `on_sheet` closes the gap.
    """

    rates: Rates
    log_model: Floats
    log_wanted: Floats

    def on_sheet(self, log_time: Floats) -> Floats:
        """ln t after the sheet's own points have had the last word.

        A function of the model's time alone, straight between the stated points and shifted beyond them; it rises
        as long as the sheet's times fall with temperature, so whatever is sooner before it is sooner after it.
        """
        gap = self.log_wanted - self.log_model
        shift = log_time * 0.0 + gap[0]
        for index in range(len(gap) - 1):
            cold, warm = self.log_model[index], self.log_model[index + 1]
            share = np.clip((cold - log_time) / np.maximum(cold - warm, 1e-9), 0.0, 1.0)
            shift = shift + share * (gap[index + 1] - gap[index])
        return np.asarray(log_time + shift)


def member_cells(drawn: Draw) -> kernel.Cells:
    """The members' cells up to their end points."""
    return kernel.cut_cells(kernel.graded(drawn.alpha_end, CELLS), drawn.kappa, drawn.m, drawn.n)


def fit(sheet: SheetPot, drawn: Draw, cells: kernel.Cells) -> Fit:
    """The fit with which each member ends when its sheet says."""
    if len(sheet.points) == 1:
        return _fit_one(sheet, drawn, cells)
    return _fit_several(sheet, drawn, cells)


def _stated(sheet: SheetPot, drawn: Draw) -> tuple[Floats, Floats]:
    """Stated temperatures (points × 1) and each member's times there (points × members)."""
    temps_c = np.array([[temp_c] for temp_c, _ in sheet.points])
    return temps_c, np.array([[life_s] for _, life_s in sheet.points]) * drawn.sheet_factor


def _loss(sheet: SheetPot, drawn: Draw) -> Floats:
    return loss_per_s(sheet.vessel, sheet.mass_kg, drawn.h0_w_m2k, drawn.k_in_w_mk)


def _fit_one(sheet: SheetPot, drawn: Draw, cells: kernel.Cells) -> Fit:
    energy_j_mol = np.array([[0.0], [COLD_SIDE_J_MOL], [HOT_SIDE_J_MOL]]) + np.zeros_like(drawn.energy_j_mol)
    energy_j_mol[0] = drawn.energy_j_mol
    energy_k = energy_j_mol / GAS_R_J_MOL_K
    temps_c = np.full((3, 1), sheet.points[0][0])
    wanted_s = sheet.points[0][1] * drawn.sheet_factor
    log_k = _log_k_for(sheet, drawn, cells, temps_c, wanted_s, energy_k)
    return Fit(Rates(log_k, energy_k), np.log(wanted_s), np.log(wanted_s))


def _log_k_for(
    sheet: SheetPot, drawn: Draw, cells: kernel.Cells, temps_c: Floats, wanted_s: Floats, energy_k: Floats
) -> Floats:
    """ln k at 25 °C (rows × members) with which a bucket as warm as its air ends at a wanted time."""
    loss = _loss(sheet, drawn)

    def residual(log_k: Floats) -> Floats:
        track = kernel.march(cells, Rates(log_k, energy_k), drawn.rise_k, loss, temps_c, temps_c)
        return np.asarray(np.log(track.times_s[-1] / wanted_s))

    unit = Rates(np.zeros(np.broadcast_shapes(temps_c.shape, energy_k.shape)), energy_k)
    low = np.log(kernel.adiabatic_time_s(cells, unit, drawn.rise_k, temps_c) / wanted_s) - 0.01
    high = np.log(kernel.isothermal_time_s(cells, unit, temps_c) / wanted_s) + 0.01
    return kernel.solve_log_k(residual, low, high, CLOSE_ENOUGH)


def _fit_several(sheet: SheetPot, drawn: Draw, cells: kernel.Cells) -> Fit:
    """Gauss–Newton on (ln k, E/R) per member, the two by two system written out."""
    temps_c, wanted_s = _stated(sheet, drawn)
    loss = _loss(sheet, drawn)

    def log_times(log_k: Floats, energy_k: Floats) -> Floats:
        track = kernel.march(cells, Rates(log_k, energy_k), drawn.rise_k, loss, temps_c, temps_c)
        return np.asarray(np.log(track.times_s[-1]))

    energy_k = np.full((1, 1, len(drawn.rise_k)), USUAL_J_MOL / GAS_R_J_MOL_K)
    log_k = _log_k_for(sheet, drawn, cells, temps_c, wanted_s, energy_k[0]).mean(axis=0)[None, None]
    for _ in range(NEWTON_STEPS):
        base, faster, steeper = log_times(log_k + _NUDGE_RATE, energy_k + _NUDGE_ENERGY_K)
        missed = base - np.log(wanted_s)
        by_rate, by_energy = (faster - base) / _NUDGE_RATE[1], (steeper - base) / _NUDGE_ENERGY_K[2]
        step_rate, step_energy = _least_squares(by_rate, by_energy, missed)
        following = np.clip(energy_k - step_energy, *SLOPE_RANGE_K)
        log_k, moved_k = log_k - np.clip(step_rate, -1.0, 1.0), np.abs(following - energy_k).max()
        energy_k = following
        if moved_k < 1.0 and np.abs(step_rate).max() < CLOSE_ENOUGH:
            break
    return Fit(Rates(log_k[0], energy_k[0]), log_times(log_k[0], energy_k[0]), np.log(wanted_s))


def _least_squares(first: Floats, second: Floats, wanted: Floats) -> tuple[Floats, Floats]:
    """(a, b) that bring a·first + b·second closest to `wanted`, per member, summed over the stated points."""
    ff, fs, ss = (first * first).sum(axis=0), (first * second).sum(axis=0), (second * second).sum(axis=0)
    fw, sw = (first * wanted).sum(axis=0), (second * wanted).sum(axis=0)
    determinant = ff * ss - fs * fs + 1e-300
    return (ss * fw - fs * sw) / determinant, (ff * sw - fs * fw) / determinant
