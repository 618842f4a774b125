"""Walks the members of an ensemble through a bucket in still air: few long strides of the fourth order.

Conversion is cut evenly in s with α = α_end·s³, which is fine where α^m is steep. In s the equations of `bucket_kernel`
are smooth, so the classical rule of Runge and Kutta meets a stiff solver within 0.1 % in eight strides
(`tests/formulas/test_strides.py`), and shorter ones only serve a mass that gives its heat away at once. Such a mass is
told by λ·Δt of a stride: over `MOST_LOST` the walk is given up, and taken again in half as long strides. Where even the
shortest are too long, the exponential steps of `bucket_march` go on, as they do in air that moves and after a reading.
"""

import math
from collections.abc import Iterable, Sequence
from functools import cached_property, lru_cache
from operator import mul
from typing import Any, NamedTuple

from mixclock.formulas.air import ZERO_C_IN_K
from mixclock.formulas.arrays import numpy_at_hand
from mixclock.formulas.bucket_kernel import REFERENCE_K, March, MemberCourse, Members, Rates, packed
from mixclock.formulas.ensemble_draw import Draw
from mixclock.values import dataclass

STRIDES = (8, 16, 32)
GRADING = 3
MOST_LOST = 6.0  # λ·Δt of a stride, thrice; the rule of Runge and Kutta is stable up to 2.78
ROUGHLY_LOST = 12.0  # where a search begins, a hundredth is true enough
LEAST_LOSS_PER_S = 1e-250  # of a mass that loses nothing: its time is counted in λt all the same
WIDE_FROM = 64  # for fewer walks, turning lists into arrays and back costs more than it saves


class TooLongError(ArithmeticError):
    """A mass loses its heat faster than strides of this length can follow."""


@dataclass(frozen=True)
class Strides:
    """Δs·α'(s) and Δs·ξ'(s) per member, at the ends and in the middle of each stride; and α there."""

    alpha: Sequence[Members]
    d_alpha: Sequence[Members]
    d_xi: Sequence[Members]

    def doubled(self) -> "Strides":
        """The same in strides twice as long."""
        return Strides(
            [row[::2] for row in self.alpha],
            [[2.0 * each for each in row[::2]] for row in self.d_alpha],
            [[2.0 * each for each in row[::2]] for row in self.d_xi],
        )

    @cached_property
    def ends_xi(self) -> list[float]:
        """ξ at each member's end, by Simpson's rule."""
        return [_by_simpson(row) for row in self.d_xi]

    @property
    def mean_alpha(self) -> list[float]:
        """The mean conversion of each member on its way, had it one temperature throughout."""
        rows = zip(self.alpha, self.d_xi, self.ends_xi, strict=True)
        return [_by_simpson(list(map(mul, alpha, d_xi))) / xi for alpha, d_xi, xi in rows]


def _by_simpson(row: Members) -> float:
    """What Δs times a slope adds up to, at the ends and in the middle of each stride."""
    return (row[0] + 4.0 * sum(row[1::2]) + 2.0 * sum(row[2:-1:2]) + row[-1]) / 6.0


class Surface(NamedTuple):
    """What a mass begins with and stands in: start and air [°C] per row, adiabatic rise [K] and λ [1/s] per member."""

    start_c: Members
    air_c: Members
    rise_k: Members
    loss_per_s: Members


@lru_cache(maxsize=8)
def _grid(count: int) -> tuple[tuple[float, float], ...]:
    """(α, Δs·α') at the ends and middles of `count` strides, of a member that ends at 1."""
    shares = [index / (2 * count) for index in range(2 * count + 1)]
    return tuple((share**GRADING, GRADING * share ** (GRADING - 1) / count) for share in shares)


def member_strides(drawn: Draw, count: int) -> Strides:
    """The members' ways up to their end points, kept with them."""
    if count not in drawn.ways:
        drawn.ways[count] = _made(drawn, count)
    found: Strides = drawn.ways[count]
    return found


def _made(drawn: Draw, count: int) -> Strides:
    alphas: list[Members] = []
    wides: list[Members] = []
    xis: list[Members] = []
    grid = _grid(count)
    for end, kappa, m, n in zip(drawn.alpha_end, drawn.kappa, drawn.m, drawn.n, strict=True):
        alpha = [end * at for at, _ in grid]
        wide = [end * by for _, by in grid]
        xi = [by / ((kappa + at**m) * (1.0 - at) ** n) for at, by in zip(alpha, wide, strict=True)]
        for rows, row in zip((alphas, wides, xis), packed((alpha, wide, xi)), strict=True):
            rows.append(row)
    return Strides(alphas, wides, xis)


def walk(strides: Strides, rates: Rates, mass: Surface, courses: bool = True, most_lost: float = MOST_LOST) -> March:
    """Walk all members of all rows; without `courses`, only when they end.

    most_lost: three times the largest λ·Δt of a stride.

    Raises:
        TooLongError: for a mass that these strides cannot follow.
    """
    np = numpy_at_hand() if len(rates.log_k) * len(mass.rise_k) >= WIDE_FROM else None
    try:
        if np is not None:
            return _walk_at_once(np, strides, rates, mass, courses, most_lost)
        return _walk_each(ways_of(strides, mass), rates, mass, courses, most_lost)
    except (OverflowError, ZeroDivisionError) as failure:
        raise TooLongError from failure


def ends_of(
    ways: Sequence["Way"], rates: Rates, mass: Surface, asked: Iterable[int], most_lost: float = MOST_LOST
) -> list[float]:
    """When those end that are asked about, in plain Python. They are counted row after row.

    Raises:
        TooLongError: for a mass that these strides cannot follow.
    """
    found, size = [], len(ways)
    log_k, energy_k = ([each for row in rows for each in row] for rows in (rates.log_k, rates.energy_k))
    try:
        for place in asked:
            row, member = divmod(place, size)
            begins = mass.start_c[row], mass.air_c[row]
            found.append(_walk_one(ways[member], log_k[place], energy_k[place], *begins, 0.5 * most_lost, None))
    except (OverflowError, ZeroDivisionError) as failure:
        raise TooLongError from failure
    return found


Way = tuple[float, float, list[tuple[float, float, float, float]], float]
"""Half of Δξ and of the heat [K] at the start; per stride the same in its middle and at its end; λ [1/s]."""


def ways_of(strides: Strides, mass: Surface) -> list[Way]:
    """What `_walk_one` takes of each member."""
    ways = []
    for xi, parts, rise, loss in zip(strides.d_xi, strides.d_alpha, mass.rise_k, mass.loss_per_s, strict=True):
        half_rise = 0.5 * rise
        half_xi, heat = [0.5 * part for part in xi], [half_rise * part for part in parts]
        along = [*zip(half_xi[1::2], half_xi[2::2], heat[1::2], heat[2::2], strict=True)]
        ways.append((half_xi[0], heat[0], along, max(loss, LEAST_LOSS_PER_S)))
    return ways


def _walk_each(ways: Sequence[Way], rates: Rates, mass: Surface, courses: bool, most_lost: float) -> March:
    ends_s: list[Members] = []
    told: list[list[float]] = [[] for _ in ways] if courses else []
    for row, laws in enumerate(zip(rates.log_k, rates.energy_k, mass.start_c, mass.air_c, strict=True)):
        log_k, energy_k, start_c, air_c = laws
        every = zip(ways, log_k, energy_k, told if courses and row == 0 else [None] * len(ways), strict=True)
        held = start_c, air_c, 0.5 * most_lost
        ends_s.append([_walk_one(way, log, energy, *held, cuts) for way, log, energy, cuts in every])
    return March(ends_s, [MemberCourse(cuts[::4], cuts[1::4], (), cuts[2::4], cuts[3::4]) for cuts in told])


def _walk_one(
    way: Way, log_k: float, energy_k: float, start_c: float, air_c: float, most_lost: float, told: list[float] | None
) -> float:
    """When one member ends. It is written out, since a new bucket spends most of its time here: half steps are added
    up, and time is counted in λt, so that each of the four slopes takes as few operations as it can.

    most_lost: half of that of `walk`. told: takes at each cut the time, the temperature, and how both go on there, by
    stride; all in one row.
    """
    xi, heat, strides, loss = way
    exp, air_k, less = math.exp, air_c + ZERO_C_IN_K, math.log(loss) - energy_k / REFERENCE_K - log_k
    over, lost = start_c - air_c, 0.0
    for xi_half, xi_end, heat_half, heat_end in strides:
        lost_1 = xi * exp(energy_k / (over + air_k) + less)
        rise_1 = heat - lost_1 * over
        if told is not None:
            told += (lost / (3.0 * loss), over + air_c, 2.0 * lost_1 / loss, 2.0 * rise_1)
        there = over + rise_1
        lost_2 = xi_half * exp(energy_k / (there + air_k) + less)
        rise_2 = heat_half - lost_2 * there
        there = over + rise_2
        lost_3 = xi_half * exp(energy_k / (there + air_k) + less)
        rise_3 = heat_half - lost_3 * there
        there = over + rise_3 + rise_3
        lost_4 = xi_end * exp(energy_k / (there + air_k) + less)
        lost_2 += lost_3
        if lost_2 + lost_4 > most_lost:
            raise TooLongError
        over += (rise_1 + 2.0 * (rise_2 + rise_3) + heat_end - lost_4 * there) / 3.0
        lost += lost_1 + lost_2 + lost_2 + lost_4
        xi, heat = xi_end, heat_end
    if told is not None:
        lost_1 = xi * exp(energy_k / (over + air_k) + less)
        told += (lost / (3.0 * loss), over + air_c, 2.0 * lost_1 / loss, 2.0 * (heat - lost_1 * over))
    return lost / (3.0 * loss)


def _walk_at_once(np: Any, strides: Strides, rates: Rates, mass: Surface, courses: bool, most_lost: float) -> March:
    """The same for all members at once, with numpy."""
    log_k, energy_k, loss = np.array(rates.log_k), np.array(rates.energy_k), np.array(mass.loss_per_s)
    xis, heats = np.array(strides.d_xi).T.copy(), (np.array(strides.d_alpha).T * np.array(mass.rise_k)).copy()
    less, air_c = -energy_k / REFERENCE_K - log_k, np.array(mass.air_c)[:, None]
    air_k, over = air_c + ZERO_C_IN_K, np.zeros(log_k.shape) + np.array(mass.start_c)[:, None] - air_c
    time, most, followed = np.zeros(log_k.shape), 0.0, []

    def after(over: Any, xi: Any, heat: Any) -> tuple[Any, Any, Any]:
        slow = xi * np.exp(energy_k / (over + air_k) + less)
        lost = loss * slow
        return slow, heat - lost * over, lost

    with np.errstate(all="ignore"):
        for cut in range(0, len(xis) - 1, 2):
            slow_1, rise_1, _ = after(over, xis[cut], heats[cut])
            followed.append((time[0], over[0] + air_c[0], slow_1[0], rise_1[0]))
            slow_2, rise_2, lost_2 = after(over + 0.5 * rise_1, xis[cut + 1], heats[cut + 1])
            slow_3, rise_3, lost_3 = after(over + 0.5 * rise_2, xis[cut + 1], heats[cut + 1])
            slow_4, rise_4, lost_4 = after(over + rise_3, xis[cut + 2], heats[cut + 2])
            most = max(most, (lost_2 + lost_3 + lost_4).max())
            over = over + (rise_1 + 2.0 * (rise_2 + rise_3) + rise_4) / 6.0
            time = time + (slow_1 + 2.0 * (slow_2 + slow_3) + slow_4) / 6.0
        slow, rise, _ = after(over, xis[-1], heats[-1])
        followed.append((time[0], over[0] + air_c[0], slow[0], rise[0]))
    if not most <= most_lost or not np.isfinite(time).all():
        raise TooLongError
    if not courses:
        return March(time.tolist(), [])
    times, temps, lasting, warming = (np.array(each).T.tolist() for each in zip(*followed, strict=True))
    rows = zip(times, temps, [()] * len(times), lasting, warming, strict=True)
    return March(time.tolist(), [MemberCourse(*row) for row in rows])


def adiabatic_ends_s(
    strides: Strides, log_k: Members, energy_k: Members, rise_k: Members, start_c: float
) -> list[float]:
    """When each member would end without losing any heat [s]: a quadrature of dξ/k(T_start + ΔT·α), Simpson's rule."""
    exp, start_k, found = math.exp, start_c + ZERO_C_IN_K, []
    for alpha, d_xi, log, energy, rise in zip(strides.alpha, strides.d_xi, log_k, energy_k, rise_k, strict=True):
        less = -energy / REFERENCE_K - log
        slow = [xi * exp(energy / (start_k + rise * at) + less) for at, xi in zip(alpha, d_xi, strict=True)]
        found.append((slow[0] + 4.0 * sum(slow[1::2]) + 2.0 * sum(slow[2:-1:2]) + slow[-1]) / 6.0)
    return found
