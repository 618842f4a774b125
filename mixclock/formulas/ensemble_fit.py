"""Fits each member to its sheet: by k alone for one stated point, by k(T) for several.

One point: the member keeps the activation energy that it drew, and k is found. The same resins with 25 and 60 kJ/mol
stand beside it, for the floors under an early edge.

Several points: least squares in ln t find k and the member's own activation energy (exactly, for two points). The
energy is held within 10 to 150 kJ/mol. A straight Arrhenius line may still miss some points. A map of the model's time
onto the sheet's (`Fit.on_sheet`) closes that gap, so that the member meets every stated point.

We tried a law with bends at the stated temperatures and dropped it. Self-heating carries each bucket through the bends
of the warmer points, and most members could not meet three points with any sane slopes.

A search begins at the mean warmth that `_mean_share` expects of a cup, a hundredth of ln(time) off; so one step is
mostly enough, and only members that it moved far are walked again. The two laws at the sides begin with the warmth that
the member's own law found. Several points are first sought in strides twice as long, at half the cost.
"""

import math
from collections.abc import Sequence
from functools import cached_property

from mixclock.formulas import bucket_kernel as kernel
from mixclock.formulas.air import ZERO_C_IN_K
from mixclock.formulas.arrays import numpy_at_hand
from mixclock.formulas.bucket import losses_per_s
from mixclock.formulas.bucket_kernel import REFERENCE_K, Bracket, Cells, Members, Rates, Surroundings
from mixclock.formulas.bucket_march import march
from mixclock.formulas.bucket_strides import (
    MOST_LOST,
    ROUGHLY_LOST,
    STRIDES,
    Strides,
    Surface,
    TooLongError,
    Way,
    ends_of,
    member_strides,
    walk,
    ways_of,
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
REFINED, BESIDE = 1.5e-3, 5e-3  # of ln(time): by the slope that a search begins with, a step misses by a part of it
NEWTON_STEPS, FINE_STEPS = 12, 4
NUDGE_RATE, NUDGE_ENERGY_K = 1e-3, 5.0
STEEP = 0.05  # of ln(time): after a longer step the slopes are found anew
SEARCHED_LOST = 1.02 * MOST_LOST  # a search begins a little beside the cup that it finds
FLATTEST = 0.4  # no cup's ln(time) falls by more than 2.5 times ln k
# a first guess of a cup's mean warmth: see `_mean_share`
MEAN_SHARE, BY_MEAN, BY_HEAT, LOST_BY_HEAT, BY_LOST, BY_LOST_SQUARED = 1.034, 1.054, 0.1254, 0.1975, 0.3685, 0.2776


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
    return losses_per_s(sheet.vessel, sheet.mass_kg, drawn.h0_w_m2k, drawn.k_in_w_mk)


def fit(sheet: SheetPot, drawn: Draw) -> Fit:
    """The fit with which each member ends at the time that its sheet states."""
    losses = member_losses(sheet, drawn)
    for count in STRIDES:
        try:
            cups = _Cups(sheet, drawn, member_strides(drawn, count), losses)
            return _fitted(cups)
        except TooLongError:
            continue  # a small cup of a slow resin gives its heat away as it comes: shorter strides
    cups = _Cups(sheet, drawn, member_cells(drawn), losses)
    return _fitted(cups)


def _fitted(cups: "_Cups") -> Fit:
    return _fit_one(cups) if len(cups.sheet.points) == 1 else _fit_several(cups, cups.coarse())


@dataclass(frozen=True)
class _Cups:
    """The sheet's own cups, one for each member, and the ways by which they are walked through."""

    sheet: SheetPot
    drawn: Draw
    ways: Strides | Cells
    losses: Members
    most_lost: float = SEARCHED_LOST

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
            track = walk(self.ways, rates, self._surface(temps_c), courses=False, most_lost=self.most_lost)
        else:
            track = march(self.ways, rates, rise_k, self.losses, temps_c, Surroundings(temps_c))
        return [[math.log(end_s) for end_s in row] for row in track.ends_s]

    def some_log_times(self, rates: Rates, temps_c: Sequence[float], asked: Sequence[int]) -> list[float]:
        """The same of those that are asked about, counted row after row."""
        every = len(asked) == len(rates.log_k) * len(self.losses)
        if isinstance(self.ways, Strides) and (not every or numpy_at_hand() is None):
            ends_s = ends_of(self._plain_ways, rates, self._surface(temps_c), asked, self.most_lost)
            return [math.log(end_s) for end_s in ends_s]
        found = [each for row in self.log_times(rates, temps_c) for each in row]
        return found if every else [found[place] for place in asked]

    def _surface(self, temps_c: Sequence[float]) -> Surface:
        return Surface(temps_c, temps_c, self.drawn.rise_k, self.losses)

    @cached_property
    def _plain_ways(self) -> list[Way]:
        assert isinstance(self.ways, Strides)
        return ways_of(self.ways, self._surface(self.temps_c))

    @cached_property
    def log_xi(self) -> list[float]:
        """ln ξ at each member's end."""
        return [math.log(xi) for xi in self.ways.ends_xi]

    @cached_property
    def likely_shares(self) -> list[float]:
        """The part of `_mean_share` that the sheet's figures do not move."""
        rows = zip(self.ways.mean_alpha, self.drawn.alpha_end, strict=True)
        return [MEAN_SHARE * (mean / end) ** BY_MEAN for mean, end in rows]


def _fit_one(cups: _Cups) -> Fit:
    """The member's own law, and then the two at the sides."""
    sides = ([energy] * len(cups.losses) for energy in (COLD_SIDE_J_MOL, HOT_SIDE_J_MOL))
    own, *others = [[each / GAS_R_J_MOL_K for each in row] for row in (cups.drawn.energy_j_mol, *sides)]
    wanted, temps_c = cups.log_wanted, cups.temps_c
    found, _ = _log_k_for(cups, temps_c, wanted, [own], _bracket(cups, temps_c, wanted, [own]), REFINED)
    beside = _beside(_bracket(cups, temps_c * 2, wanted * 2, others), found, cups, own, others)
    flat, _ = _log_k_for(cups, temps_c * 2, wanted * 2, others, beside, BESIDE)
    return Fit(Rates([found, *_in_rows(flat, 2)], [own, *others]), wanted, wanted)


def _beside(wide: Bracket, found: Members, cups: _Cups, energy_k: Members, others: Sequence[Members]) -> Bracket:
    """Where the roots of other laws lie: by the warmth that the member's own law ran at, as `_mean_share` turns it.

    found: ln k of the members' own law.
    """
    start, slope, drawn = [], [], cups.drawn
    goals, held_k = cups.log_wanted[0], cups.temps_c[0] + ZERO_C_IN_K
    lost = [loss * math.exp(goal) for loss, goal in zip(cups.losses, goals, strict=True)]
    for row in others:
        rows = found, goals, cups.log_xi, energy_k, row, drawn.rise_k, drawn.alpha_end, lost
        for log_k, goal, log_xi, energy, other, rise_k, alpha, lost_share in zip(*rows, strict=True):
            mean_k = 1.0 / ((goal - log_xi + log_k) / energy + 1.0 / REFERENCE_K)
            most_k = rise_k * alpha
            expected, _ = _mean_share(1.0, lost_share, energy * most_k / held_k**2)
            found_share = (mean_k - held_k) / most_k
            share, by_rate = _mean_share(found_share / expected, lost_share, other * most_k / held_k**2)
            start.append(log_xi - goal + other * (1.0 / (held_k + share * most_k) - 1.0 / REFERENCE_K))
            slope.append(by_rate)
    return wide._replace(start=start, slope=slope)


def _bracket(cups: _Cups, temps_c: Sequence[float], wanted: Sequence[Members], energy_k: Sequence[Members]) -> Bracket:
    """The bracket of ln k for a cup's end. The cup is no cooler than its air, and no hotter than if it kept all its
    heat."""
    low, high, start, slope = [], [], [], []
    for temp_c, goals, energies in zip(temps_c, wanted, energy_k, strict=True):
        drawn, held_k = cups.drawn, temp_c + ZERO_C_IN_K
        rows = cups.log_xi, goals, energies, drawn.rise_k, drawn.alpha_end, cups.losses, cups.likely_shares
        for log_xi, goal, energy, rise_k, alpha, loss, likely in zip(*rows, strict=True):
            most_k = rise_k * alpha
            at_reference = log_xi - goal - energy / REFERENCE_K
            share, by_rate = _mean_share(likely, loss * math.exp(goal), energy * most_k / held_k**2)
            high.append(at_reference + energy / held_k + 0.05)
            low.append(at_reference + energy / (held_k + most_k) - 0.05)
            start.append(at_reference + energy / (held_k + share * most_k))
            slope.append(by_rate)
    return Bracket(low, high, start, slope)


def _mean_share(likely: float, lost: float, heat: float) -> tuple[float, float]:
    """The share of what a cup could warm by at which its clock runs on the mean, and how ln(time) falls with ln k.

    1.034·(ᾱ/α)^1.054 / √(1 + 0.369·l + 0.278·l²) / (1 + 0.125·B), with l = λt/(1 + 0.198·B) and ᾱ the mean conversion
    on the way, had it one temperature. Fitted to our own cups, within 0.03 of ln(time) mostly: only where a search
    begins.

    likely: its first factor [-]. lost: λt [-]. heat: B = E/R·ΔT·α/T² [-].
    """
    less = lost / (1.0 + LOST_BY_HEAT * heat)
    linear, square = BY_LOST * less, BY_LOST_SQUARED * less * less
    lower = 1.0 + linear + square
    share = likely / (math.sqrt(lower) * (1.0 + BY_HEAT * heat))
    return share, -1.0 / max(FLATTEST, 1.0 - heat * share * (0.5 * linear + square) / lower)


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

    def residual(log_k: list[float], asked: Sequence[int]) -> list[float]:
        found = cups.some_log_times(Rates(_in_rows(log_k, len(energy_k)), energy_k), temps_c, asked)
        return [each - goals[place] for each, place in zip(found, asked, strict=True)]

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
