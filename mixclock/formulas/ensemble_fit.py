"""Fits each member to its sheet: by k alone for one stated point, by k(T) for several.

One point: the member keeps the activation energy that it drew, and k is found. The same resins with 25 and 60 kJ/mol
stand beside it, for the floors under an early edge.

Several points: least squares in ln t find k and the member's own activation energy (exactly, for two points). The
energy is held within 10 to 150 kJ/mol. A straight Arrhenius line may still miss some points. A map of the model's time
onto the sheet's (`Fit.on_sheet`) closes that gap, so that the member meets every stated point.

We tried a law with bends at the stated temperatures and dropped it. Self-heating carries each bucket through the bends
of the warmer points, and most members could not meet three points with any sane slopes.

Each root is first sought in strides twice as long, at half the cost; one more step in the fine ones is then mostly
enough. The two laws at the sides begin with the warmth that the member's own law found.
"""

import math
from collections.abc import Sequence

from mixclock.formulas import bucket_kernel as kernel
from mixclock.formulas.air import ZERO_C_IN_K
from mixclock.formulas.bucket import loss_per_s
from mixclock.formulas.bucket_kernel import REFERENCE_K, Bracket, Cells, Members, Rates, Surroundings
from mixclock.formulas.bucket_march import march
from mixclock.formulas.bucket_strides import (
    MOST_LOST,
    ROUGHLY_LOST,
    STRIDES,
    Strides,
    Surface,
    TooLongError,
    member_strides,
    walk,
)
from mixclock.formulas.ensemble_draw import Draw, SheetPot
from mixclock.formulas.rate_law import GAS_R_J_MOL_K
from mixclock.values import dataclass

CELLS = 40  # 0.15 % at worst against a stiff solver, where the sheet itself scatters by 12 %
EACH_COARSE = 4
USUAL_J_MOL, COLD_SIDE_J_MOL, HOT_SIDE_J_MOL = 47e3, 25e3, 60e3
SLOPE_RANGE_K = (10e3 / GAS_R_J_MOL_K, 150e3 / GAS_R_J_MOL_K)
NEAR_ENOUGH, CLOSE_ENOUGH = 1e-3, 1e-4  # of ln(time): after a step this small, the error is about its square
ROUGHLY = 5e-2  # of ln(time): by a slope that misses by a tenth, long strides are then as true as they can be
BESIDE = 0.06  # of ln(time): a side begins with a slope that misses by a twentieth
REFINED = 1.5e-2  # of ln(time): by the slope that long strides found, such a step misses by some hundredths of it
NEWTON_STEPS, FINE_STEPS = 12, 4
NUDGE_RATE, NUDGE_ENERGY_K = 1e-3, 5.0
STEEP = 0.05  # of ln(time): after a longer step the slopes are found anew
MEAN_SHARE, BY_LOSS, BY_HEAT = 0.45, 0.15, 0.09  # a first guess of a cup's mean warmth: see `_mean_share`


@dataclass(frozen=True)
class Fit:
    """Rates (variants × members), and at each stated point (× members) ln t of the model and ln t that is wanted.

    The two differ if a straight Arrhenius line cannot meet all of a sheet's points. `on_sheet` closes the gap.
    """

    rates: Rates
    log_model: Sequence[Members]
    log_wanted: Sequence[Members]

    def on_sheet(self, log_times: Members) -> list[float]:
        """ln t of each member, corrected so that it meets the sheet's own points.

        The correction depends on the model's time alone. It is straight between the stated points, and a plain shift
        beyond them. It rises as long as the sheet's times fall with temperature, so it keeps the order of times.
        """
        if self.log_model == self.log_wanted:
            return list(log_times)
        points = list(zip(self.log_model, self.log_wanted, strict=True))
        return [
            log_time + _shift(log_time, [(model[member], wanted[member]) for model, wanted in points])
            for member, log_time in enumerate(log_times)
        ]

    def misses_by(self) -> float:
        """The largest gap between model and sheet, of ln t."""
        rows = zip(self.log_model, self.log_wanted, strict=True)
        return max(abs(model - wanted) for row in rows for model, wanted in zip(*row, strict=True))


def _shift(log_time: float, points: Sequence[tuple[float, float]]) -> float:
    """By how much a member's ln t moves. Its points (of the model, wanted) come coldest first."""
    (cold, wanted), *others = points
    gap = wanted - cold
    shift = gap
    for warm, wanted_there in others:
        share = min(1.0, max(0.0, (cold - log_time) / max(cold - warm, 1e-9)))
        gap_there = wanted_there - warm
        shift += share * (gap_there - gap)
        cold, gap = warm, gap_there
    return shift


def member_cells(drawn: Draw) -> Cells:
    """The members' cells up to their end points."""
    return kernel.cut_cells(kernel.graded(drawn.alpha_end, CELLS), drawn.kappa, drawn.m, drawn.n)


def member_losses(sheet: SheetPot, drawn: Draw) -> list[float]:
    """λ [1/s] of each member in the sheet's own cup."""
    passages = zip(drawn.h0_w_m2k, drawn.k_in_w_mk, strict=True)
    return [loss_per_s(sheet.vessel, sheet.mass_kg, wall, resin) for wall, resin in passages]


def fit(sheet: SheetPot, drawn: Draw) -> Fit:
    """The fit with which each member ends at the time that its sheet states."""
    losses = member_losses(sheet, drawn)
    for count in STRIDES:
        try:
            cups = _Cups(sheet, drawn, member_strides(drawn, count), losses)
            return _fitted(cups, cups.coarse())
        except TooLongError:
            continue  # a small cup of a slow resin gives its heat away as it comes: shorter strides
    cups = _Cups(sheet, drawn, member_cells(drawn), losses)
    return _fitted(cups, cups.coarse())


def _fitted(cups: "_Cups", coarse: "_Cups") -> Fit:
    return _fit_one(cups, coarse) if len(cups.sheet.points) == 1 else _fit_several(cups, coarse)


@dataclass(frozen=True)
class _Cups:
    """The sheet's own cups, one for each member, and the ways by which they are walked through."""

    sheet: SheetPot
    drawn: Draw
    ways: Strides | Cells
    losses: Members
    most_lost: float = MOST_LOST

    @property
    def temps_c(self) -> list[float]:
        return [temp_c for temp_c, _ in self.sheet.points]

    @property
    def log_wanted(self) -> list[list[float]]:
        """ln t that each member is to take (points × members)."""
        rows = zip(self.sheet.points, self.drawn.sheet_factor, strict=True)
        return [[math.log(life_s * factor) for factor in factors] for (_, life_s), factors in rows]

    def coarse(self) -> "_Cups":
        """The same by wider ways."""
        ways = self.ways.doubled() if isinstance(self.ways, Strides) else self.ways.coarse(EACH_COARSE)
        return _Cups(self.sheet, self.drawn, ways, self.losses, ROUGHLY_LOST)

    def log_times(self, rates: Rates, temps_c: Sequence[float]) -> list[list[float]]:
        """ln t of the members in cups as warm as their air (rows × members)."""
        rise_k = self.drawn.rise_k
        if isinstance(self.ways, Strides):
            cups = Surface(temps_c, temps_c, rise_k, self.losses)
            track = walk(self.ways, rates, cups, courses=False, most_lost=self.most_lost)
        else:
            track = march(self.ways, rates, rise_k, self.losses, temps_c, Surroundings(temps_c))
        return [[math.log(end_s) for end_s in row] for row in track.ends_s]


def _fit_one(cups: _Cups, coarse: _Cups) -> Fit:
    sides = ([energy] * len(cups.losses) for energy in (COLD_SIDE_J_MOL, HOT_SIDE_J_MOL))
    own, *others = [[each / GAS_R_J_MOL_K for each in row] for row in (cups.drawn.energy_j_mol, *sides)]
    wanted, temps_c = cups.log_wanted, cups.temps_c
    first = _bracket(cups, temps_c, wanted, [own])
    first = _solved(first, *_log_k_for(coarse, temps_c, wanted, [own], first, ROUGHLY))
    beside = _beside(_bracket(cups, temps_c * 2, wanted * 2, others), first, cups, own, others)
    beside = _solved(beside, *_log_k_for(coarse, temps_c * 2, wanted * 2, others, beside, BESIDE))
    every = Bracket(*([*one, *two] for one, two in zip(first, beside, strict=True)))
    flat, _ = _log_k_for(cups, temps_c * 3, wanted * 3, [own, *others], every, REFINED)
    return Fit(Rates(_in_rows(flat, 3), [own, *others]), wanted, wanted)


def _solved(bracket: Bracket, roots: Members, slopes: Members) -> Bracket:
    """The same bracket, to go on from what was found."""
    return bracket._replace(start=roots, slope=slopes)


def _beside(wide: Bracket, own: Bracket, cups: _Cups, energy_k: Members, others: Sequence[Members]) -> Bracket:
    """Where the roots of other laws lie: by the warmth that the member's own law ran at, as `_mean_share` turns it."""
    start, slope, drawn = [], [], cups.drawn
    goals, every_xi = cups.log_wanted[0], [math.log(xi) for xi in cups.ways.ends_xi]
    held_k = cups.temps_c[0] + ZERO_C_IN_K
    for row in others:
        found = zip(own.start, own.slope, strict=True)
        members = zip(found, goals, every_xi, energy_k, row, drawn.rise_k, drawn.alpha_end, strict=True)
        for (log_k, by_rate), goal, log_xi, energy, other, rise_k, alpha in members:
            mean_k = 1.0 / ((goal - log_xi + log_k) / energy + 1.0 / REFERENCE_K)
            heat = BY_HEAT * rise_k * alpha / held_k**2
            turned = (1.0 + heat * energy) / (1.0 + heat * other)
            over_k = (mean_k - held_k) * turned
            start.append(log_xi - goal + other * (1.0 / (held_k + over_k) - 1.0 / REFERENCE_K))
            slope.append(-1.0 / max(0.1, 1.0 - (1.0 / by_rate + 1.0) * turned * other / energy))
    return wide._replace(start=start, slope=slope)


def _bracket(cups: _Cups, temps_c: Sequence[float], wanted: Sequence[Members], energy_k: Sequence[Members]) -> Bracket:
    """The bracket of ln k for a cup's end. The cup is no cooler than its air, and no hotter than if it kept all its
    heat."""
    low, high, start, slope = [], [], [], []
    every_xi = [math.log(xi) for xi in cups.ways.ends_xi]
    for temp_c, goals, energies in zip(temps_c, wanted, energy_k, strict=True):
        drawn, held_k = cups.drawn, temp_c + ZERO_C_IN_K
        members = zip(every_xi, goals, energies, drawn.rise_k, drawn.alpha_end, cups.losses, strict=True)
        for log_xi, goal, energy, rise_k, alpha, loss in members:
            most_k = rise_k * alpha
            at_reference = log_xi - goal - energy / REFERENCE_K
            share, falls = _mean_share(loss * math.exp(goal), energy * most_k / held_k**2)
            high.append(at_reference + energy / held_k + 0.05)
            low.append(at_reference + energy / (held_k + most_k) - 0.05)
            start.append(at_reference + energy / (held_k + share * most_k))
            slope.append(max(-2.5, -1.0 / max(0.1, 1.0 + falls)))
    return Bracket(low, high, start, slope)


def _mean_share(lost: float, heat: float) -> tuple[float, float]:
    """The share of what a cup could warm by at which its clock runs on the mean: 0.45 / (1 + 0.15·λt) / (1 + 0.09·B).

    Fitted to our own cups, within 0.1 of ln(time) mostly: only where a search begins. With it, by how much ln(time)
    falls as the share does, for each ln(time).

    lost: λt [-]. heat: B = E/R·ΔT·α/T² [-].
    """
    share = MEAN_SHARE / ((1.0 + BY_LOSS * lost) * (1.0 + BY_HEAT * heat))
    return share, -heat * share * BY_LOSS * lost / (1.0 + BY_LOSS * lost)


def _log_k_for(
    cups: _Cups,
    temps_c: Sequence[float],
    wanted: Sequence[Members],
    energy_k: Sequence[Members],
    bracket: Bracket,
    tolerance: float,
) -> tuple[list[float], list[float]]:
    """ln k at 25 °C with which a bucket as warm as its air ends as wanted, row after row, and the slopes there."""
    goals = [goal for row in wanted for goal in row]

    def residual(log_k: list[float]) -> list[float]:
        found = cups.log_times(Rates(_in_rows(log_k, len(energy_k)), energy_k), temps_c)
        return [each - goal for each, goal in zip([each for row in found for each in row], goals, strict=True)]

    return kernel.solve_falling(residual, bracket, tolerance)


def _in_rows(flat: Members, rows: int) -> list[list[float]]:
    size = len(flat) // rows
    return [list(flat[row * size : (row + 1) * size]) for row in range(rows)]


def _fit_several(cups: _Cups, coarse: _Cups) -> Fit:
    """Gauss–Newton on (ln k, E/R) per member, the two by two system written out."""
    size, points, wanted = len(cups.losses), len(cups.temps_c), cups.log_wanted
    usual = [[USUAL_J_MOL / GAS_R_J_MOL_K] * size for _ in range(points)]
    bracket = _bracket(cups, cups.temps_c, wanted, usual)
    flat, _ = _log_k_for(coarse, cups.temps_c, wanted, usual, bracket, ROUGHLY)
    found = _Lines([sum(column) / points for column in zip(*_in_rows(flat, points), strict=True)], usual[0])
    slopes, moved = _slopes(coarse, found), math.inf
    for _ in range(NEWTON_STEPS):
        missed = _missed(coarse.log_times(found.rates(points), cups.temps_c), wanted)
        found, moved = found.moved_on(slopes, missed)
        if moved < NEAR_ENOUGH:
            break
        if moved > STEEP:
            slopes = _slopes(coarse, found)
    for left in reversed(range(FINE_STEPS)):
        model = cups.log_times(found.rates(points), cups.temps_c)
        following, moved = found.moved_on(slopes, _missed(model, wanted))
        if moved < CLOSE_ENOUGH or not left:
            break  # `on_sheet` closes what is left
        found = following
    return Fit(found.rates(1), model, wanted)


@dataclass(frozen=True)
class _Lines:
    """An Arrhenius line for each member: ln k at 25 °C and E/R [K]."""

    log_k: Members
    energy_k: Members

    def rates(self, rows: int) -> Rates:
        """The same line for each of `rows` cups."""
        return Rates([self.log_k] * rows, [self.energy_k] * rows)

    def moved_on(self, slopes: "_Slopes", missed: Sequence[Members]) -> tuple["_Lines", float]:
        """One step of least squares for every member, and the longest of them, of ln(time)."""
        log_k, energy_k, most = [], [], 0.0
        columns = zip(*(zip(*rows, strict=True) for rows in (*slopes.rows(), missed)), strict=True)
        for begun, energy, (by_rate, by_energy, gaps) in zip(self.log_k, self.energy_k, columns, strict=True):
            step_rate, step_energy = _least_squares(by_rate, by_energy, gaps)
            step_rate = min(1.0, max(-1.0, step_rate))
            following = min(SLOPE_RANGE_K[1], max(SLOPE_RANGE_K[0], energy - step_energy))
            log_k.append(begun - step_rate)
            energy_k.append(following)
            most = max(most, abs(step_rate), abs(following - energy) * 1e-4)  # 1 K of E/R is 1e-4 of ln t, or less
        return _Lines(log_k, energy_k), most


@dataclass(frozen=True)
class _Slopes:
    """How ln t at each stated point moves with ln k, and with E/R (points × members)."""

    by_rate: Sequence[Members]
    by_energy: Sequence[Members]

    def rows(self) -> tuple[Sequence[Members], Sequence[Members]]:
        return self.by_rate, self.by_energy


def _slopes(cups: _Cups, at: _Lines) -> _Slopes:
    points = len(cups.temps_c)
    log_k = [at.log_k, [each + NUDGE_RATE for each in at.log_k], at.log_k]
    energy_k = [at.energy_k, at.energy_k, [each + NUDGE_ENERGY_K for each in at.energy_k]]
    rates = Rates(*([row for row in rows for _ in range(points)] for rows in (log_k, energy_k)))
    found = cups.log_times(rates, cups.temps_c * 3)
    base, faster, steeper = (found[start : start + points] for start in (0, points, 2 * points))
    return _Slopes(_by(faster, base, NUDGE_RATE), _by(steeper, base, NUDGE_ENERGY_K))


def _by(moved: Sequence[Members], base: Sequence[Members], nudge: float) -> list[list[float]]:
    return [
        [(there - here) / nudge for there, here in zip(*rows, strict=True)] for rows in zip(moved, base, strict=True)
    ]


def _missed(model: Sequence[Members], wanted: Sequence[Members]) -> list[list[float]]:
    return _by(model, wanted, 1.0)


def _least_squares(first: Members, second: Members, wanted: Members) -> tuple[float, float]:
    """(a, b) that bring a·first + b·second closest to `wanted`, summed over the stated points."""
    ff = fs = ss = fw = sw = 0.0
    for one, two, goal in zip(first, second, wanted, strict=True):
        ff, fs, ss, fw, sw = ff + one * one, fs + one * two, ss + two * two, fw + one * goal, sw + two * goal
    determinant = ff * ss - fs * fs + 1e-300
    return (ss * fw - fs * sw) / determinant, (ff * sw - fs * fw) / determinant
