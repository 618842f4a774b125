"""Early, likely and late for a bucket: the resins that its sheet allows, all run at once.

    calibration = calibrate_ensemble(SheetPot(points=((25.0, 1800.0),), mass_kg=0.15))   # 3 to 20 ms, worth keeping
    edges = edge_times(calibration, Bucket(mass_kg=12.0, material_c=22.0, air=24.0))      # some ms

First come the 10th, 50th and 90th percentile of the members' end times. Then come the floors: a band is never narrower
than we may claim, and *early* is never later than safety and practice allow. The answer says which floor was binding.
"""

import math
from bisect import bisect_right
from functools import lru_cache
from typing import Literal

from mixclock.formulas.bucket_kernel import Members
from mixclock.formulas.ensemble_draw import SheetPot
from mixclock.formulas.ensemble_members import (
    BucketLoad,
    Calibration,
    Run,
    run_members,
    run_until,
    weighted_quantile,
    weighted_quantiles,
    weights_after,
)
from mixclock.formulas.history import History
from mixclock.formulas.hot import HOT_C, hot_from_c
from mixclock.formulas.practicecap import capped_s
from mixclock.formulas.ranges import require_within
from mixclock.values import dataclass

EARLY_SHARE, EARLY_SHARE_SLOW = 0.8, 0.4  # judgement; the second: a slow bucket's band is twice as wide
CLAIMED, CLAIMED_TWICE = 0.25, 0.50
SMALL_CUP_KG, SLOW_S = 0.5, 3600.0
ADIABATIC_FROM_KG = 3.0
COLDER_K = 1.0  # judgement: a thermometer's error
GEL_CONVERSION = 0.577  # Flory and Stockmayer (from memory)

Floor = Literal["spread", "share of likely", "one sheet point", "adiabatic", "hot", "practice"]
Ceiling = Literal["spread", "claimed band", "colder than the sheet"]


@dataclass(frozen=True)
class Edges:
    """When a bucket's pot life ends [s from mixing]; late None if no band may be claimed.

    early_by, late_by: what set them. hot_s: when it likely reaches 40 °C or 15 K over the mix; None if it does not
    before its end. adiabatic_s: likely time of a mass that loses no heat.
    """

    early_s: float
    likely_s: float
    late_s: float | None
    early_by: Floor
    late_by: Ceiling
    hot_s: float | None
    adiabatic_s: float


def edge_times(
    calibration: Calibration,
    bucket: BucketLoad,
    *,
    factor: float = 1.0,
    observed: bool = False,
    practice: bool = False,
    hot_floor: bool = True,
) -> Edges:
    """Early, likely and late end of a bucket's pot life [s from mixing], with the floors of a careful practice.

    Until somebody has observed an end, early is at most 0.8 of likely (0.4 of the part over an hour). Late is then at
    least 1.25 of likely (1.5 under half a kilogram or over an hour). With one sheet point, early also holds for 25 and
    60 kJ/mol.

    Three floors hold always. From 3 kg on, early is at most the adiabatic time. It is at most the moment at which the
    model is hot (`formulas.hot`). If `practice` applies, `practicecap` holds a big mass back. A kit that its maker
    timed to 40 °C rests on that figure alone, reserve included. Late is None for a bucket more than 1 K colder than its
    sheet.

    No floor makes a warmer bucket later, nor a larger one in air no warmer than itself. There is one exception: a mix
    colder than its air. Its 15 K count from the mix, and the air alone brings a colder mix there sooner.

    Args:
        calibration: the product's ensemble.
        bucket: mass, temperatures, vessel, readings.
        factor: learned factor on the times [-], above 0.
        observed: whether edges of this product have been observed, so that its band stands by itself.
        practice: whether this is a 100 % solids epoxy, which practice gives a short life in a big mass.
        hot_floor: whether early is held to the moment at which the mass is hot; without, the band is the law's alone.

    Returns:
        Edges [s].

    Raises:
        ValueError: factor not above 0.

    >>> from mixclock.formulas.ensemble_members import calibrate_ensemble
    >>> calibration = calibrate_ensemble(SheetPot(points=((25.0, 1800.0),), mass_kg=0.15))
    >>> edges = edge_times(calibration, BucketLoad(12.0, 22.0, 22.0), practice=True)
    >>> round(edges.early_s), edges.early_by, edges.late_by
    (500, 'practice', 'colder than the sheet')

    Source: floors as in the text above, judgement and common practice.
    """
    run = run_members(calibration, bucket, factor)
    weights = weights_after(run, calibration)
    ends_s = run.ends_s
    low, likely, high = weighted_quantiles(ends_s[0], weights, (0.1, 0.5, 0.9))
    by_maker = calibration.sheet.end == "hot"
    hot_c = hot_from_c(bucket.material_c)
    hot_s = _hot_s(run, max(HOT_C, hot_c) if by_maker else hot_c, weights)
    adiabatic_s = weighted_quantile(run.adiabatic_s, weights, 0.5)
    floors: dict[Floor, float] = {"spread": low}
    if hot_floor:
        floors["hot"] = hot_s
    if bucket.mass_kg >= ADIABATIC_FROM_KG and not by_maker:
        floors["adiabatic"] = adiabatic_s
    if not observed and not by_maker:
        floors["share of likely"] = _early_share_s(likely)
    if not observed and len(ends_s) > 1:
        floors["one sheet point"] = min(weighted_quantile(other, weights, 0.1) for other in ends_s[1:])
    if practice:
        held_s = capped_s(min(floors.values()), bucket.mass_kg, calibration.sheet.mass_kg, _warmest_c(bucket))
        floors["practice"] = held_s if held_s < min(floors.values()) else math.inf
    early_by = min(floors, key=lambda name: floors[name])
    late_s, late_by = _late(calibration.sheet, bucket, likely, high, observed)
    hot = hot_s if math.isfinite(hot_s) else None
    return Edges(floors[early_by], likely, late_s, early_by, late_by, hot, adiabatic_s)


def _warmest_c(bucket: BucketLoad) -> float:
    """The warmer of the material at mixing and the air around it then."""
    air_c = bucket.air.at(0.0) if isinstance(bucket.air, History) else bucket.air
    return max(bucket.material_c, air_c)


def _late(
    sheet: SheetPot, bucket: BucketLoad, likely: float, high: float, observed: bool
) -> tuple[float | None, Ceiling]:
    if bucket.material_c < sheet.coldest_c - COLDER_K:
        return None, "colder than the sheet"
    twice = bucket.mass_kg < SMALL_CUP_KG or likely > SLOW_S
    claimed = 0.0 if observed else likely * (1.0 + (CLAIMED_TWICE if twice else CLAIMED))
    return (high, "spread") if high >= claimed else (claimed, "claimed band")


def _early_share_s(likely_s: float) -> float:
    """The latest early that the claimed band allows: 0.8 of likely up to an hour, and 0.4 of the rest. It rises with
    likely."""
    return EARLY_SHARE * min(likely_s, SLOW_S) + EARLY_SHARE_SLOW * max(0.0, likely_s - SLOW_S)


def _hot_s(run: Run, from_c: float, weights: Members) -> float:
    return weighted_quantile([course.first_reach_s(from_c) for course in run.courses], weights, 0.5)


@dataclass(frozen=True, eq=False)
class HandOver:
    """What a batch has used up in its bucket. `xis` is ξ of each member at the pour, and `weights` how much it counts.

    Everything else is worked out when somebody asks: a job asks each pour for its likely ripeness alone.
    """

    calibration: Calibration
    xis: Members
    weights: Members

    @property
    def conversion(self) -> tuple[float, float, float]:
        """Conversion [-]: percentiles 10, 50, 90."""
        cells = self.calibration.cells_beyond
        alphas = [_value_at(xi, alpha, at) for xi, alpha, at in zip(cells.xi, cells.alpha, self.xis, strict=True)]
        low, likely, high = (weighted_quantile(alphas, self.weights, share) for share in (0.1, 0.5, 0.9))
        return low, likely, high

    @property
    def ripeness(self) -> tuple[float, float, float]:
        """Floor ripeness ξ0 [-]: percentiles 10, 50, 90."""
        low, high = (weighted_quantile(self._shares, self.weights, share) for share in (0.1, 0.9))
        return low, self.likely_ripeness, high

    @property
    def likely_ripeness(self) -> float:
        """The middle one of them."""
        return weighted_quantile(self._shares, self.weights, 0.5)

    @property
    def _shares(self) -> list[float]:
        return [at / gel for at, gel in zip(self.xis, _xi_at_gel(self.calibration), strict=True)]


def _value_at(known: Members, values: Members, at: float) -> float:
    """The value at a place, straight between the known ones and held at both ends.

    >>> _value_at([0.0, 2.0], [0.0, 1.0], 1.0), _value_at([0.0, 4.0], [0.0, 1.0], 9.0)
    (0.5, 1.0)
    """
    after = bisect_right(known, at)
    if 0 < after < len(known):  # as nearly always
        low = known[after - 1]
        return values[after - 1] + (at - low) / (known[after] - low) * (values[after] - values[after - 1])
    after = min(max(after, 1), len(known) - 1)
    low, high = known[after - 1], known[after]
    share = min(1.0, max(0.0, (at - low) / (high - low))) if high > low else min(1.0, max(0.0, at - low))
    return values[after - 1] + share * (values[after] - values[after - 1])


def hand_over(calibration: Calibration, bucket: BucketLoad, poured_s: float, factor: float = 1.0) -> HandOver:
    """Conversion at pouring, and ξ0 = isothermal time to that conversion ÷ isothermal time to gel.

    The two times are at one temperature, so their ratio is ∫dα/f to the one over ∫dα/f to the other.

    Args:
        calibration, bucket, factor: as for `edge_times`.
        poured_s: when it left the bucket [s from mixing], 0 to 1e8.

    Returns:
        HandOver; ripeness may pass 1 for a bucket poured after its gel.

    Raises:
        ValueError: time outside that range.

    >>> from mixclock.formulas.ensemble_members import calibrate_ensemble
    >>> calibration = calibrate_ensemble(SheetPot(points=((25.0, 1800.0),), mass_kg=0.15))
    >>> load = BucketLoad(3.0, 25.0, 25.0)
    >>> early, late = (hand_over(calibration, load, at_s).ripeness[1] for at_s in (380.0, 1370.0))
    >>> early < 0.1 < 0.3 < late
    True

    Source: conversion carries over from bucket to floor (judgement; no published check beyond the model's own limits).
    """
    require_within("time of pouring", poured_s, 0.0, 1e8, "s after mixing")
    run = run_until(calibration, bucket, poured_s, factor)
    courses = zip(run.courses, calibration.cells_beyond.xi, strict=True)
    xis = [_value_at(course.times_s, xi, poured_s) for course, xi in courses]
    return HandOver(calibration, xis, weights_after(run, calibration))


@lru_cache(maxsize=8)
def _xi_at_gel(calibration: Calibration) -> list[float]:
    """ξ of each member at its gel, or at its end where that comes later."""
    cells, to_gel = calibration.cells_beyond, 0.0 if calibration.sheet.end == "gel" else GEL_CONVERSION
    members = zip(cells.alpha, cells.xi, calibration.drawn.alpha_end, strict=True)
    return [_value_at(alpha, xi, max(alpha_end, to_gel)) for alpha, xi, alpha_end in members]
