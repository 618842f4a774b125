"""The bucket's heat balance cut into cells, for many resins. `bucket_march` steps through them.

    dα/dt = k(T)·f(α),  f = (κ + α^m)(1 − α)^n;   dT/dt = ΔT·dα/dt − λ(T − T_air)

Conversion α only ever rises, so it serves as the step variable: in α the runaway is tame (T climbs by at most ΔT per
unit of α) and time is a quadrature, dt = dξ/k(T) with dξ = dα/f(α). In each cell T relaxes exactly towards its balance
(an exponential step), so cells may be long or short against 1/λ. By construction 0 ≤ α ≤ 1 and T never exceeds the
warmer of start and air plus ΔT·α. The grid α = α_end·s^2.5 is fine where α^m is steep.

Each resin is a *member*; a *row* is the same members under another law or in another cup.
"""

import math
from array import array
from collections.abc import Callable, Iterable, Sequence
from functools import cached_property
from itertools import accumulate, pairwise
from typing import Any, NamedTuple

from mixclock.formulas.arrays import numpy_at_hand
from mixclock.formulas.history import History
from mixclock.values import dataclass

Members = Sequence[float]
"""A number for each member."""

Residual = Callable[[list[float], Sequence[int]], list[float]]

REFERENCE_K = 298.15  # 25 °C, where rate constants are stated
GRADING = 2.5
MANY_MEMBERS = 16  # for fewer, turning lists into arrays and back costs more than it saves
LEAST_DECAY = 1e-300  # of a mass that loses nothing in a cell
# Gauss–Legendre on [0, 1], four points: Abramowitz and Stegun, table 25.4
_NODES = tuple(
    (1.0 + node) / 2.0 for node in (-0.8611363115940526, -0.3399810435848563, 0.3399810435848563, 0.8611363115940526)
)
_WEIGHTS = (0.17392742256872692, 0.32607257743127305, 0.32607257743127305, 0.17392742256872692)


def packed(rows: Iterable[Members]) -> list[Members]:
    """Rows of numbers that are kept for a day, in a fifth of the memory: a list keeps each number as an object.

    >>> packed([[0.0, 0.5]])
    [array('d', [0.0, 0.5])]
    """
    return [array("d", row) for row in rows]


@dataclass(frozen=True)
class Cells:
    """Conversion cut into cells: α at the cuts (members × cuts), and per cell Δα and Δξ = ∫dα/f (members × cells)."""

    alpha: Sequence[Members]
    d_alpha: Sequence[Members]
    d_xi: Sequence[Members]

    def coarse(self, each: int) -> "Cells":
        """The same in cells of `each` of these, which must be as many as go in evenly."""
        parts = [range(start, start + each) for start in range(0, len(self.d_xi[0]), each)]
        sums = [[sum(row[part.start : part.stop]) for part in parts] for row in self.d_xi]
        wide = [[sum(row[part.start : part.stop]) for part in parts] for row in self.d_alpha]
        return Cells([row[::each] for row in self.alpha], wide, sums)

    def followed_by(self, beyond: "Cells") -> "Cells":
        """These cells and then those, which begin where these end."""
        return Cells(
            packed([*first, *then[1:]] for first, then in zip(self.alpha, beyond.alpha, strict=True)),
            packed([*first, *then] for first, then in zip(self.d_alpha, beyond.d_alpha, strict=True)),
            packed([*first, *then] for first, then in zip(self.d_xi, beyond.d_xi, strict=True)),
        )

    def first(self, count: int) -> "Cells":
        """So many of these cells, from the beginning on."""
        return Cells(
            [row[: count + 1] for row in self.alpha],
            [row[:count] for row in self.d_alpha],
            [row[:count] for row in self.d_xi],
        )

    @property
    def ends_xi(self) -> list[float]:
        """ξ at each member's last cut."""
        return [sum(row) for row in self.d_xi]

    @property
    def mean_alpha(self) -> list[float]:
        """The mean conversion of each member on its way, had it one temperature throughout."""
        return [
            sum([xi * (low + high) for xi, (low, high) in zip(parts, pairwise(alpha), strict=True)])
            / (2.0 * sum(parts))
            for alpha, parts in zip(self.alpha, self.d_xi, strict=True)
        ]

    @cached_property
    def xi(self) -> list[list[float]]:
        """ξ from 0 on at each cut (members × cuts)."""
        return [list(accumulate(row, initial=0.0)) for row in self.d_xi]

    @cached_property
    def columns(self) -> tuple[Any, Any]:
        """Δα and Δξ as arrays of numpy's (cells × members)."""
        np = numpy_at_hand(worth_loading=True)
        return np.array(self.d_alpha).T.copy(), np.array(self.d_xi).T.copy()


@dataclass(frozen=True)
class Rates:
    """ln k(T) = log_k − energy_k·(1/T − 1/298.15), rows × members; k in 1/s, energy_k = E/R in kelvin."""

    log_k: Sequence[Members]
    energy_k: Sequence[Members]


class MemberCourse(NamedTuple):
    """What a member went through: time [s] and temperature [°C] at each cut, and what it missed at each reading [K].

    lasting_s, warming_k: how time and temperature go on at each cut, by stride, where it was walked in long strides:
    between two cuts both are then cubic (Hermite). Without, they are straight.
    """

    times_s: Sequence[float]
    temps_c: Sequence[float]
    missed_k: Sequence[float] = ()
    lasting_s: Sequence[float] = ()
    warming_k: Sequence[float] = ()

    def first_reach_s(self, temp_c: float) -> float:
        """When it first reaches a temperature [s]; inf where it never does.

        >>> MemberCourse([0.0, 60.0], [20.0, 26.0]).first_reach_s(23.0)
        30.0
        """
        cut = next((cut for cut, reached_c in enumerate(self.temps_c) if reached_c >= temp_c), None)
        if cut is None:
            return math.inf
        if cut == 0:
            return self.times_s[0]
        (early_s, late_s), (before_c, after_c) = self.times_s[cut - 1 : cut + 1], self.temps_c[cut - 1 : cut + 1]
        if not self.lasting_s:
            return early_s + (temp_c - before_c) / (after_c - before_c) * (late_s - early_s)
        lasting_s, warming_k = self.lasting_s, self.warming_k
        share = _share_at(before_c, after_c, warming_k[cut - 1], warming_k[cut], temp_c)
        return _cubic(early_s, late_s, lasting_s[cut - 1], lasting_s[cut], share)

    def stretched(self, by: float) -> "MemberCourse":
        """The same at another speed, to be kept."""
        times, temps = array("d", [by * each for each in self.times_s]), array("d", self.temps_c)
        if not self.lasting_s:  # as nearly always where many buckets are asked for
            return MemberCourse(times, temps, self.missed_k)
        lasting = array("d", [by * each for each in self.lasting_s])
        return MemberCourse(times, temps, self.missed_k, lasting, array("d", self.warming_k))


def _cubic(first: float, last: float, slope: float, last_slope: float, share: float) -> float:
    """Hermite's cubic between two values with their slopes.

    >>> _cubic(0.0, 1.0, 0.0, 3.0, 0.5)  # a cube
    0.125
    """
    left = 1.0 - share
    return left * left * ((1.0 + 2.0 * share) * first + share * slope) + share * share * (
        (3.0 - 2.0 * share) * last - left * last_slope
    )


def _share_at(first: float, last: float, slope: float, last_slope: float, wanted: float) -> float:
    """Where between 0 and 1 Hermite's cubic reaches a value between both ends: Newton, kept in a shrinking bracket."""
    rise = last - first
    square, cube = 3.0 * rise - 2.0 * slope - last_slope, slope + last_slope - 2.0 * rise
    low, high, share = 0.0, 1.0, (wanted - first) / rise
    for _ in range(40):
        missed = first - wanted + share * (slope + share * (square + share * cube))
        low, high = (share, high) if missed < 0.0 else (low, share)
        climbs = slope + share * (2.0 * square + share * 3.0 * cube)
        following = share - missed / climbs if climbs > 0.0 else -1.0
        if not low <= following <= high:
            following = 0.5 * (low + high)
        moved, share = following - share, following
        if -1e-7 < moved < 1e-7:
            break  # the next step would be its square
    return share


@dataclass(frozen=True)
class March:
    """When each member's last cut is reached [s] (rows × members), and the whole courses of the first row."""

    ends_s: Sequence[Members]
    courses: Sequence[MemberCourse]


class Surroundings(NamedTuple):
    """What stands around the members: air [°C] (one value, one per row, or a history counted from mixing) and readings.

    readings: (time since mixing [s], temperature [°C]) in order. stretch: real time over the model's, per member; air
    and readings are looked up at the model's time times this.
    """

    air: float | Members | History
    readings: Sequence[tuple[float, float]] = ()
    stretch: Members | None = None

    def of_row(self, row: int) -> float | History:
        """The air of one row."""
        if isinstance(self.air, History):
            return self.air if len(self.air.values) > 1 else self.air.values[0]
        return self.air if isinstance(self.air, float | int) else self.air[row]


def cut_cells(alpha: Sequence[Members], kappa: Members, m: Members, n: Members) -> Cells:
    """Cells between given conversions, α of shape (members, cuts); Δξ by a 4-point Gauss rule."""
    np = numpy_at_hand() if len(alpha) >= MANY_MEMBERS else None
    if np is not None:
        return _cut_at_once(np, alpha, np.array(kappa), np.array(m), np.array(n))
    wides, xis = [], []
    (node_1, node_2, node_3, node_4), (outer, inner, _, _) = _NODES, _WEIGHTS
    for cuts, less, power, order in zip(alpha, kappa, m, n, strict=True):
        wide, xi = [], []
        for low, high in pairwise(cuts):
            d_alpha = high - low
            at_1, at_2 = low + d_alpha * node_1, low + d_alpha * node_2
            at_3, at_4 = low + d_alpha * node_3, low + d_alpha * node_4
            slow = outer / ((less + at_1**power) * (1.0 - at_1) ** order)
            slow += inner / ((less + at_2**power) * (1.0 - at_2) ** order)
            slow += inner / ((less + at_3**power) * (1.0 - at_3) ** order)
            slow += outer / ((less + at_4**power) * (1.0 - at_4) ** order)
            wide.append(d_alpha)
            xi.append(d_alpha * slow)
        wides.append(array("d", wide))
        xis.append(array("d", xi))
    return Cells(alpha, wides, xis)


def _cut_at_once(np: Any, alpha: Sequence[Members], kappa: Any, m: Any, n: Any) -> Cells:
    """The same with numpy."""
    cuts = np.array(alpha).T
    low, d_alpha = cuts[:-1], np.diff(cuts, axis=0)
    slow = sum(
        weight / ((kappa + at**m) * (1.0 - at) ** n)
        for weight, at in ((weight, low + d_alpha * node) for weight, node in zip(_WEIGHTS, _NODES, strict=True))
    )
    return Cells(alpha, packed(d_alpha.T), packed((d_alpha * slow).T))


def graded(alpha_end: Members, count: int) -> list[Members]:
    """Cuts from 0 to alpha_end, finest at 0; members × (count + 1)."""
    shares = [(index / count) ** GRADING for index in range(count + 1)]
    return packed([share * end for share in shares] for end in alpha_end)


def beyond(alpha_end: Members, alpha_last: float, count: int) -> list[Members]:
    """Cuts from alpha_end on to alpha_last, evenly in ln(1 − α); members × (count + 1)."""
    shares = [index / count for index in range(1, count + 1)]
    return packed(
        [end, *(1.0 - (1.0 - end) ** (1.0 - at) * (1.0 - alpha_last) ** at for at in shares)] for end in alpha_end
    )


class Bracket(NamedTuple):
    """Where a root lies: between `low` and `high`, likely near `start`, where the function falls by `slope`."""

    low: Members
    high: Members
    start: Members
    slope: Members


def solve_falling(residual: Residual, bracket: Bracket, tolerance: float = 1e-7) -> tuple[list[float], list[float]]:
    """Roots of falling functions, and their slopes there: Newton by secants, each kept in its bracket.

    Each ends with a step shorter than the tolerance, which leaves an error of about the tolerance's square. `residual`
    takes where all of them stand, and which of them it is asked about.

    >>> square = solve_falling(lambda at, _: [4.0 - at[0] ** 2], Bracket([0.0], [5.0], [3.0], [-1.5]))
    >>> round(square[0][0], 9)
    2.0
    """
    low, high, at, slopes = (list(each) for each in bracket)
    asked: Sequence[int] = range(len(at))
    values = residual(at, asked)
    for _ in range(60):
        left, before, moves = list[int](), list[float](), list[float]()
        for i, value in zip(asked, values, strict=True):
            begun = at[i]
            if value > 0.0:
                low[i] = begun
            else:
                high[i] = begun
            step = begun - value / slopes[i]
            if not low[i] <= step <= high[i]:
                step = 0.5 * (low[i] + high[i])
            at[i] = step
            if not -tolerance < step - begun < tolerance:
                left.append(i)
                before.append(value)
                moves.append(step - begun)
        if not left:
            break
        asked, values = left, residual(at, left)
        for i, value, earlier, moved in zip(asked, values, before, moves, strict=True):
            secant = (value - earlier) / moved if moved else 0.0
            if secant < -0.2:
                slopes[i] = secant
    return at, slopes
