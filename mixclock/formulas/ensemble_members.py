"""An ensemble's members: they keep their calibration, run through a bucket, and are weighed by its readings."""

import json
import math
from bisect import bisect_right
from collections.abc import Sequence
from functools import cached_property, lru_cache
from itertools import accumulate

from mixclock.formulas import bucket_kernel as kernel
from mixclock.formulas.arrays import numpy_at_hand
from mixclock.formulas.bucket import BucketShape, check_bucket, losses_per_s
from mixclock.formulas.bucket_kernel import Members
from mixclock.formulas.bucket_march import march
from mixclock.formulas.bucket_strides import (
    STRIDES,
    Surface,
    TooLongError,
    adiabatic_ends_s,
    member_strides,
    walk,
)
from mixclock.formulas.ensemble_draw import Draw, SheetPot, draw
from mixclock.formulas.ensemble_fit import Fit, fit, member_cells
from mixclock.formulas.history import History
from mixclock.formulas.ranges import require_positive, require_within
from mixclock.values import dataclass, replace

FORMAT = 1
READING_SIGMA_K = 2.0
LEAST_EFFECTIVE_SHARE = 0.125  # judgement: readings must leave at least an eighth of the members a say
LAST_CONVERSION, CELLS_BEYOND = 0.95, 16
EARLY_CELLS = 20
MANY_BUCKETS = 12  # that nobody asked for before: as long as they take without numpy, it takes to load it
MET = 1e-4  # of ln(time): so near a sheet is met


@dataclass(frozen=True)
class BucketLoad:
    """One mixed bucket. Times count from the moment when part B met part A.

    mass_kg: what stands in it. material_c: temperature at mixing. air: around it [°C], a value or a history.
    vessel: None for one as high as wide. readings: (time since mixing [s], temperature [°C]) of the mass itself.
    """

    mass_kg: float
    material_c: float
    air: float | History
    vessel: BucketShape | None = None
    readings: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        check_bucket(self.mass_kg, self.material_c, self.air)
        for at_s, read_c in self.readings:
            require_within("time of a bucket reading", at_s, 0.0, 1e8, "s after mixing")
            require_within("bucket reading", read_c, -20.0, 400.0, "°C")
        object.__setattr__(self, "readings", tuple(sorted(self.readings)))


@dataclass(frozen=True, eq=False)
class Calibration:
    """An ensemble brought into line with its sheet; plain numbers, kept as JSON.

    As a key it is equal only to itself, so that nobody compares thousands of numbers.
    """

    sheet: SheetPot
    drawn: Draw
    fitted: Fit
    lot: Members | None = None
    """Factors on the members' times for one lot, if somebody watched a cup of it; never stored."""
    misfit: Members | None = None
    """How badly each member fits what was seen of the lot; never stored."""

    @cached_property
    def cells(self) -> kernel.Cells:
        """Conversions up to each member's end point."""
        return member_cells(self.drawn)

    @cached_property
    def cells_beyond(self) -> kernel.Cells:
        """The same, and on to a conversion of 0.95."""
        on = kernel.beyond(self.drawn.alpha_end, LAST_CONVERSION, CELLS_BEYOND)
        return self.cells.followed_by(kernel.cut_cells(on, self.drawn.kappa, self.drawn.m, self.drawn.n))

    @cached_property
    def cells_early(self) -> kernel.Cells:
        """The first of them, as far as a bucket usually gets before it is poured."""
        return self.cells_beyond.first(EARLY_CELLS)

    @property
    def size(self) -> int:
        """How many members."""
        return len(self.drawn.rise_k)

    def to_json(self) -> str:
        """Text that `from_json` turns into the same calibration."""
        return json.dumps({"format": FORMAT, "sheet": self.sheet.as_told(), "arrays": _arrays(self)})

    @staticmethod
    def from_json(text: str) -> "Calibration":
        """The calibration that `to_json` wrote; ValueError when it is another format."""
        found = json.loads(text)
        if found.get("format") != FORMAT:
            raise ValueError(
                f"calibration has format {found.get('format')!r}; this version reads {FORMAT}: calibrate anew"
            )
        sheet = found["sheet"]
        points = tuple((float(temp_c), float(life_s)) for temp_c, life_s in sheet["points"])
        arrays = found["arrays"]
        drawn = Draw(**{name: arrays[name] for name in Draw.__annotations__})
        rates = kernel.Rates(arrays["log_k"], arrays["energy_k"])
        fitted = Fit(rates, arrays["log_model"], arrays["log_wanted"])
        return Calibration(
            SheetPot(**{**sheet, "points": points, "vessel": BucketShape(**sheet["vessel"])}), drawn, fitted
        )


def _arrays(calibration: Calibration) -> dict[str, Members | Sequence[Members]]:
    fitted = calibration.fitted
    named = {name: getattr(calibration.drawn, name) for name in Draw.__annotations__}
    named |= {"log_k": fitted.rates.log_k, "energy_k": fitted.rates.energy_k}
    return named | {"log_model": fitted.log_model, "log_wanted": fitted.log_wanted}


def calibrate_ensemble(sheet: SheetPot, size: int = 128) -> Calibration:
    """Draw the resins that a sheet allows, and fit each to its stated pot life.

    Args:
        sheet: stated pot life with its mass, vessel, end and body.
        size: members, 16 to 4096.

    Returns:
        Calibration, the same for the same sheet and size.

    Raises:
        ValueError: size out of range (the sheet refuses bad values itself).

    >>> calibration = calibrate_ensemble(SheetPot(points=((25.0, 1800.0),), mass_kg=0.15))
    >>> ends_s = run_members(calibration, BucketLoad(3.0, 25.0, 25.0)).ends_s[0]
    >>> round(weighted_quantile(ends_s, [1.0] * calibration.size, 0.5) / 60.0)
    26

    Source: ranges in `ensemble_draw`.
    """
    drawn = draw(sheet, size)
    return Calibration(sheet, drawn, fit(sheet, drawn))


@dataclass(frozen=True)
class Run:
    """Members of one bucket: their ends [s] (variants × members), and of the first variant the whole courses.

    adiabatic_s: when each would end without losing any heat.
    """

    ends_s: Sequence[Members]
    courses: Sequence[kernel.MemberCourse]
    adiabatic_s: Members


def run_members(calibration: Calibration, bucket: BucketLoad, factor: float = 1.0, beyond: bool = False) -> Run:
    """Run all members through a bucket; `factor` is the learned one on its times, `beyond` goes on past the end."""
    require_positive("factor", factor, "(times the sheet)")
    return (
        _remembered_beyond(calibration, bucket, factor, False)
        if beyond
        else _remembered_run(calibration, bucket, factor)
    )


def run_until(calibration: Calibration, bucket: BucketLoad, until_s: float, factor: float = 1.0) -> Run:
    """A run that goes on at least until then, past the end too. Its courses alone count, up to then: most buckets are
    poured in the first third of it, and no more is worked out for those."""
    require_positive("factor", factor, "(times the sheet)")
    early = _remembered_beyond(calibration, bucket, factor, not bucket.readings)
    if bucket.readings or all(course.times_s[-1] >= until_s for course in early.courses):
        return early
    return _remembered_beyond(calibration, bucket, factor, False)


@lru_cache(maxsize=8)
def _remembered_run(calibration: Calibration, bucket: BucketLoad, factor: float) -> Run:
    """A run to the end, remembered. Equal buckets run alike."""
    numpy_at_hand(worth_loading=_remembered_run.cache_info().misses > MANY_BUCKETS)
    return _run_of(calibration, bucket, factor)


@lru_cache(maxsize=24)
def _remembered_beyond(calibration: Calibration, bucket: BucketLoad, factor: float, early: bool) -> Run:
    """A run that goes on past the end, or its early part, remembered apart: each bucket is asked about many instants of
    its pouring, and between two of them about the ends of others."""
    return _run_of(calibration, bucket, factor, calibration.cells_early if early else calibration.cells_beyond)


def _run_of(calibration: Calibration, bucket: BucketLoad, factor: float, beyond: kernel.Cells | None = None) -> Run:
    stretch = _stretch(calibration, bucket, factor)
    if beyond is None and not bucket.readings and not isinstance(bucket.air, History):
        track = _remembered_track(calibration, bucket)  # in steady air it is the same however time is stretched
    else:
        track = _march(calibration, bucket, kernel.Surroundings(bucket.air, bucket.readings, stretch), beyond)
    courses = [course.stretched(by) for by, course in zip(stretch, track.courses, strict=True)]
    lot = calibration.lot or [1.0] * calibration.size
    adiabatic = _remembered_adiabatic_s(calibration, bucket.material_c)
    return Run(
        kernel.packed([by * end_s for by, end_s in zip(stretch, row, strict=True)] for row in track.ends_s),
        courses,
        [factor * by * end_s for by, end_s in zip(lot, adiabatic, strict=True)],
    )


@lru_cache(maxsize=64)
def _remembered_adiabatic_s(calibration: Calibration, start_c: float) -> list[float]:
    """When each member would end without losing any heat [s], remembered: the size of the bucket does not matter."""
    drawn, fitted = calibration.drawn, calibration.fitted
    laws = fitted.rates.log_k[0], fitted.rates.energy_k[0]
    ends_s = adiabatic_ends_s(member_strides(drawn, STRIDES[0]), *laws, drawn.rise_k, start_c)
    if fitted.log_model == fitted.log_wanted:
        return ends_s
    return [math.exp(log_s) for log_s in fitted.on_sheet([math.log(each) for each in ends_s])]


def _march(
    calibration: Calibration,
    bucket: BucketLoad,
    around: kernel.Surroundings,
    beyond: kernel.Cells | None = None,
    courses: bool = True,
) -> kernel.March:
    """The members through their cells, or through those of a run that goes on past the end."""
    drawn, rates = calibration.drawn, calibration.fitted.rates
    vessel = bucket.vessel or replace(calibration.sheet.vessel, across_m=None)
    losses = losses_per_s(vessel, bucket.mass_kg, drawn.h0_w_m2k, drawn.k_in_w_mk)
    air = around.of_row(0)
    if not (beyond is not None or around.readings or isinstance(air, History)):
        starts, airs = ([each] * len(rates.log_k) for each in (bucket.material_c, air))
        mass = Surface(starts, airs, drawn.rise_k, losses)
        for count in STRIDES:
            try:
                return walk(member_strides(drawn, count), rates, mass, courses)
            except TooLongError:
                continue  # it gives its heat away as it comes: shorter strides
    return march(beyond or calibration.cells, rates, drawn.rise_k, losses, bucket.material_c, around, courses)


def _stretch(calibration: Calibration, bucket: BucketLoad, factor: float) -> list[float]:
    """Real time over the model's time for each member: the learned factor, the lot's factor and the sheet's
    correction."""
    lot = calibration.lot or [1.0] * calibration.size
    if calibration.fitted.misses_by() < MET:
        return [factor * by for by in lot]
    onto_sheet = _remembered_stretch(calibration, replace(bucket, readings=()))
    return [factor * by * also for by, also in zip(lot, onto_sheet, strict=True)]


@lru_cache(maxsize=2)
def _remembered_track(calibration: Calibration, bucket: BucketLoad) -> kernel.March:
    """The way of a bucket of which nothing was read, in the model's time: asked for its correction and then for its
    end."""
    return _march(calibration, bucket, kernel.Surroundings(bucket.air))


@lru_cache(maxsize=256)
def _remembered_stretch(calibration: Calibration, bucket: BucketLoad) -> list[float]:
    """The sheet's correction of the model's times, remembered: a bucket's edge and its hand-over need the same."""
    track = _remembered_track(calibration, bucket)
    log_ends = [math.log(end_s) for end_s in track.ends_s[0]]
    on_sheet = calibration.fitted.on_sheet(log_ends)
    return [math.exp(there - here) for there, here in zip(on_sheet, log_ends, strict=True)]


def weighted_quantile(values: Members, weights: Members, share: float) -> float:
    """Quantile of weighted values, straight between the middles of their weights; infinite values count as largest.

    >>> weighted_quantile([3.0, 1.0, 2.0], [1.0, 1.0, 1.0], 0.5)
    2.0
    """
    return weighted_quantiles(values, weights, (share,))[0]


def weighted_quantiles(values: Members, weights: Members, shares: Sequence[float]) -> list[float]:
    """The same for several shares, for which the values are put in order once."""
    ranked = sorted(zip(values, weights, strict=True))
    total = math.fsum(weights)
    sums = accumulate(weight for _, weight in ranked)
    middles = [(up_to - 0.5 * weight) / total for up_to, (_, weight) in zip(sums, ranked, strict=True)]
    finite = sum(1 for value, _ in ranked if value < math.inf)
    return [_quantile(ranked, middles, finite, share) for share in shares]


def _quantile(ranked: Sequence[tuple[float, float]], middles: Members, finite: int, share: float) -> float:
    if not finite or (share > middles[finite - 1] and finite < len(ranked)):
        return math.inf
    after = bisect_right(middles, share, 0, finite)
    if after == 0 or after == finite:
        return ranked[min(after, finite - 1)][0]
    (low, _), (high, _) = ranked[after - 1], ranked[after]
    return low + (share - middles[after - 1]) / (middles[after] - middles[after - 1]) * (high - low)


def weights_after(run: Run, calibration: Calibration, sigma_k: float = READING_SIGMA_K) -> list[float]:
    """Weights from what the members of a run missed at its readings."""
    misfit = misfits(run, calibration, sigma_k)
    least, sharpness = min(misfit), 1.0
    if least == max(misfit):
        return [1.0 / len(misfit)] * len(misfit)  # nothing was read: all count alike
    for _ in range(60):
        raw = [math.exp(-sharpness * (each - least)) for each in misfit]
        total = math.fsum(raw)
        weights = [each / total for each in raw]
        if 1.0 / math.fsum(each * each for each in weights) >= LEAST_EFFECTIVE_SHARE * calibration.size:
            break
        sharpness *= 0.8
    return weights


def misfits(run: Run, calibration: Calibration, sigma_k: float = READING_SIGMA_K) -> list[float]:
    """How badly each member fits what was read in a bucket, on top of what was seen of its lot before."""
    before = calibration.misfit or [0.0] * calibration.size
    return [
        known + sum(0.5 * (gap_k / sigma_k) ** 2 for gap_k in course.missed_k)
        for known, course in zip(before, run.courses, strict=True)
    ]
