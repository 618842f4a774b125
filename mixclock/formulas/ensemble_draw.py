"""The resins that a data sheet allows: which parameters, over which ranges, and how they are drawn.

The draw is an additive sequence (the generalised golden ratio) with each dimension's ranks spread evenly: no random
generator, so it is the same on every machine and in every version.
"""

import math
from collections.abc import Sequence
from functools import cached_property, lru_cache
from itertools import pairwise
from typing import Any, Literal, get_args

from mixclock.formulas.bucket import MATERIAL_RANGE_C, BucketShape
from mixclock.formulas.bucket_kernel import Members
from mixclock.formulas.hot import HOT_C
from mixclock.formulas.ranges import require_within
from mixclock.values import dataclass, field

End = Literal["gel", "workability", "unknown", "hot"]
Body = Literal["unfilled", "filled", "waterborne"]

# (low, most likely, high); E read from an 8-temperature chart, kinetics quoted second-hand from
# doi 10.1016/j.tca.2015.11.014, heat passage fitted to three published peaks; the rest judgement
ENERGY_J_MOL = (35e3, 47e3, 60e3)
RISE_K: dict[Body, tuple[float, float, float]] = {
    "unfilled": (130.0, 170.0, 200.0),
    "filled": (60.0, 110.0, 140.0),
    "waterborne": (20.0, 45.0, 80.0),
}
ALPHA_END: dict[str, tuple[float, float, float]] = {
    "gel": (0.50, 0.577, 0.60),
    "workability": (0.30, 0.375, 0.45),
    "unknown": (0.25, 0.45, 0.60),
}
KAPPA = (0.05, 0.136, 0.25)
M = (0.4, 0.4, 1.0)
N = (1.3, 1.54, 1.9)
H0_W_M2K, K_IN_W_MK, PASSAGE_FACTOR = 16.0, 0.4, 1.4
SHEET_SIGMA = 0.12  # judgement: scatter of a stated time, 1 σ of its logarithm
POINT_SIGMA = 0.05  # judgement: the part of it that differs from stated point to stated point
HOT_ALPHA_RANGE = (0.03, 0.60)
MOST_POINTS = 12
SIZES = (16, 4096)


@dataclass(frozen=True)
class SheetPot:
    """A sheet's pot life: the mass and vessel that it is stated for, and time by temperature.

    points: (temperature [°C], pot life [s]), no temperature twice, none longer than a colder one's.
    end: what ends it. body: how much heat a kilogram of the mixture sets free.
    """

    points: tuple[tuple[float, float], ...]
    mass_kg: float = 0.15
    end: End = "gel"
    body: Body = "unfilled"
    vessel: BucketShape = field(default_factory=BucketShape)

    def __post_init__(self) -> None:
        require_within("sheet mass", self.mass_kg, 1e-3, 1e3, "kg")
        if self.end not in get_args(End):
            raise ValueError(f"pot life's end is {self.end!r}; it must be one of {', '.join(get_args(End))}")
        if self.body not in RISE_K:
            raise ValueError(f"body is {self.body!r}; it must be one of {', '.join(RISE_K)}")
        object.__setattr__(self, "points", _checked(self.points))

    def as_told(self) -> dict[str, object]:
        """Its figures by name, with the vessel's. It avoids the library's `asdict`, so that a command need not load
        that."""
        return {**vars(self), "vessel": dict(vars(self.vessel))}

    @property
    def coldest_c(self) -> float:
        """Lowest temperature that its pot life is stated for [°C]."""
        return self.points[0][0]


def _checked(points: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    ordered = tuple(sorted((float(temp_c), float(life)) for temp_c, life in points))
    if not 1 <= len(ordered) <= MOST_POINTS:
        raise ValueError(f"pot life has {len(ordered)} points; it needs 1 to {MOST_POINTS}")
    for temp_c, life in ordered:
        require_within("pot life's temperature", temp_c, *MATERIAL_RANGE_C, "°C")
        require_within("pot life", life, 1.0, 1e8, "s")
    for (cold_c, cold_s), (warm_c, warm_s) in pairwise(ordered):
        if warm_c - cold_c < 0.01:
            raise ValueError(f"pot life at {cold_c:g} °C is stated twice; keep one time per temperature")
        if warm_s > cold_s:
            raise ValueError(
                f"pot life at {warm_c:g} °C ({warm_s / 60:g} min) is longer than at {cold_c:g} °C "
                f"({cold_s / 60:g} min); look at the sheet again"
            )
    return ordered


@dataclass(frozen=True)
class Draw:
    """Members' parameters, and the factors on the sheet's times (points × members)."""

    energy_j_mol: Members
    rise_k: Members
    alpha_end: Members
    kappa: Members
    m: Members
    n: Members
    h0_w_m2k: Members
    k_in_w_mk: Members
    sheet_factor: Sequence[Members]

    @cached_property
    def ways(self) -> dict[int, Any]:
        """What `bucket_strides` worked out of them, by the number of strides, so that each is made once."""
        return {}


@lru_cache(maxsize=4)
def even_points(size: int, dimensions: int) -> list[list[float]]:
    """Points in the unit cube (dimensions × size): additive golden-ratio sequence, each row's ranks spread evenly.
    Every sheet of as many points shares them.

    >>> sorted(even_points(4, 3)[2])
    [0.125, 0.375, 0.625, 0.875]
    """
    phi = 2.0
    for _ in range(60):  # root of φ^(d+1) = φ + 1
        phi = (1.0 + phi) ** (1.0 / (dimensions + 1))
    return [_spread_evenly([(0.5 + index * phi**-step) % 1.0 for index in range(1, size + 1)])
            for step in range(1, dimensions + 1)]  # fmt: skip


def _spread_evenly(raw: Sequence[float]) -> list[float]:
    """Each value's rank as a share, in the middle of its part."""
    spread = [0.0] * len(raw)
    for rank, index in enumerate(sorted(range(len(raw)), key=raw.__getitem__)):
        spread[index] = (rank + 0.5) / len(raw)
    return spread


def triangular(shares: Members, low: float, peak: float, high: float) -> list[float]:
    """Quantiles of a triangular distribution.

    >>> triangular([0.5], 0.0, 1.0, 2.0)
    [1.0]
    """
    at_peak, rising, falling = (peak - low) / (high - low), (high - low) * (peak - low), (high - low) * (high - peak)
    return [
        low + math.sqrt(share * rising) if share < at_peak else high - math.sqrt((1.0 - share) * falling)
        for share in shares
    ]


# Acklam's rational form of the normal quantile, highest power first
_FAR = (-7.784894002430293e-3, -3.223964580411365e-1, -2.400758277161838, -2.549732539343734, 4.374664141464968,
        2.938163982698783)  # fmt: skip
_FAR_BELOW = (7.784695709041462e-3, 3.224671290700398e-1, 2.445134137142996, 3.754408661907416, 1.0)
_NEAR = (-3.969683028665376e1, 2.209460984245205e2, -2.759285104469687e2, 1.383577518672690e2, -3.066479806614716e1,
         2.506628277459239)  # fmt: skip
_NEAR_BELOW = (-5.447609879822406e1, 1.615858368580409e2, -1.556989798598866e2, 6.680131188771972e1,
               -1.328068155288572e1, 1.0)  # fmt: skip
_FAR_FROM = 0.02425


def normal(shares: Members) -> list[float]:
    """Standard normal quantiles (Acklam's rational form, error under 1.2e-9 relative).

    >>> round(normal([0.9])[0], 4)
    1.2816
    """
    return [_normal(share) for share in shares]


def _normal(share: float) -> float:
    tail = min(share, 1.0 - share)
    if tail < _FAR_FROM:
        q = math.sqrt(-2.0 * math.log(tail))
        far = _polynomial(_FAR, q) / _polynomial(_FAR_BELOW, q)
        return far if share < 0.5 else -far
    r = (share - 0.5) ** 2
    return (share - 0.5) * _polynomial(_NEAR, r) / _polynomial(_NEAR_BELOW, r)


def _polynomial(powers: Sequence[float], at: float) -> float:
    value = 0.0
    for factor in powers:
        value = value * at + factor
    return value


def _alpha_end(sheet: SheetPot, shares: Members, rises_k: Members) -> list[float]:
    """Conversion at the end of the pot life. If the maker stopped at 40 °C, it is the conversion that heats the mass to
    that."""
    if sheet.end != "hot":
        return triangular(shares, *ALPHA_END[sheet.end])
    mean_c, (least, most) = sum(temp_c for temp_c, _ in sheet.points) / len(sheet.points), HOT_ALPHA_RANGE
    return [min(most, max(least, (HOT_C - mean_c) / rise_k)) for rise_k in rises_k]


def draw(sheet: SheetPot, size: int = 128) -> Draw:
    """`size` resins that the sheet allows, with a factor on each of its stated times.

    Args:
        sheet: the stated pot life.
        size: how many members, 16 to 4096.

    Returns:
        Draw.

    Raises:
        ValueError: size outside that range.
    """
    require_within("ensemble size", size, *SIZES, "members")
    count = len(sheet.points)
    u = even_points(size, 9 + (count if count > 1 else 0))
    wall, resin = ([PASSAGE_FACTOR ** (2.0 * share - 1.0) for share in row] for row in u[6:8])
    rise_k = triangular(u[1], *RISE_K[sheet.body])
    return Draw(
        energy_j_mol=triangular(u[0], *ENERGY_J_MOL),
        rise_k=rise_k,
        alpha_end=_alpha_end(sheet, u[2], rise_k),
        kappa=triangular(u[3], *KAPPA),
        m=triangular(u[4], *M),
        n=triangular(u[5], *N),
        h0_w_m2k=[H0_W_M2K * by for by in wall],
        k_in_w_mk=[K_IN_W_MK * by for by in resin],
        sheet_factor=[[math.exp(off) for off in row] for row in _scatter(sheet, u[8:])],
    )


def _scatter(sheet: SheetPot, shares: Sequence[Members]) -> list[list[float]]:
    """Logarithms of the factors on the stated times (points × members)."""
    if sheet.end == "hot":  # the maker's reserve covers the scatter already, so the printed figure counts as it is
        return [[0.0] * len(shares[0]) for _ in sheet.points]
    if len(sheet.points) == 1:
        return [[SHEET_SIGMA * off for off in normal(shares[0])]]
    shared = (SHEET_SIGMA**2 - POINT_SIGMA**2) ** 0.5
    together = [shared * off for off in normal(shares[0])]
    own = (normal(row) for row in shares[1:])
    return [[both + POINT_SIGMA * off for both, off in zip(together, row, strict=True)] for row in own]
