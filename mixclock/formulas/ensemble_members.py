"""An ensemble's members: kept with their calibration, run through a bucket, weighed by its readings."""

import json
import math
from collections.abc import Sequence
from dataclasses import asdict, fields
from functools import cached_property, lru_cache

import numpy as np

from mixclock.formulas import bucket_kernel as kernel
from mixclock.formulas.bucket import BucketShape, check_bucket, loss_per_s
from mixclock.formulas.bucket_kernel import Floats
from mixclock.formulas.ensemble_draw import Draw, SheetPot, draw
from mixclock.formulas.ensemble_fit import Fit, fit, member_cells
from mixclock.formulas.history import History
from mixclock.formulas.ranges import require_positive, require_within
from mixclock.values import dataclass, replace

FORMAT = 1
READING_SIGMA_K = 2.0
LEAST_EFFECTIVE_SHARE = 0.125  # judgement: readings may not leave fewer than an eighth of the members to speak
LAST_CONVERSION, CELLS_BEYOND = 0.95, 16


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


@dataclass(frozen=True)
class Calibration:
    """An ensemble brought into line with its sheet; plain arrays, kept as JSON."""

    sheet: SheetPot
    drawn: Draw
    fitted: Fit
    lot: Floats | None = None
    """Factors on the members' times for one lot, where a cup of it was seen; not kept."""
    misfit: Floats | None = None
    """How badly each member fits what was seen of the lot; not kept."""

    @cached_property
    def cells(self) -> kernel.Cells:
        """Conversions up to each member's end point."""
        return member_cells(self.drawn)

    @cached_property
    def cells_beyond(self) -> kernel.Cells:
        """The same, and on to a conversion of 0.95."""
        on = kernel.beyond(self.drawn.alpha_end, LAST_CONVERSION, CELLS_BEYOND)
        alpha = np.concatenate([self.cells.alpha, on])
        return kernel.cut_cells(alpha, self.drawn.kappa, self.drawn.m, self.drawn.n)

    @property
    def size(self) -> int:
        """How many members."""
        return len(self.drawn.rise_k)

    def to_json(self) -> str:
        """Text that `from_json` turns into the same calibration."""
        arrays = {name: value.tolist() for name, value in _arrays(self).items()}
        return json.dumps({"format": FORMAT, "sheet": asdict(self.sheet), "arrays": arrays})

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
        arrays = {name: np.array(values, dtype=float) for name, values in found["arrays"].items()}
        drawn = Draw(**{item.name: arrays[item.name] for item in fields(Draw)})
        rates = kernel.Rates(arrays["log_k"], arrays["energy_k"])
        fitted = Fit(rates, arrays["log_model"], arrays["log_wanted"])
        return Calibration(
            SheetPot(**{**sheet, "points": points, "vessel": BucketShape(**sheet["vessel"])}), drawn, fitted
        )


def _arrays(calibration: Calibration) -> dict[str, Floats]:
    rates = calibration.fitted.rates
    named = {item.name: getattr(calibration.drawn, item.name) for item in fields(Draw)}
    named |= {"log_k": rates.log_k, "energy_k": rates.energy_k}
    return named | {"log_model": calibration.fitted.log_model, "log_wanted": calibration.fitted.log_wanted}


def calibrate_ensemble(sheet: SheetPot, size: int = 128) -> Calibration:
    """Draw the resins that a sheet allows and bring each into line with its stated pot life.

    Args:
        sheet: stated pot life with its mass, vessel, end and body.
        size: members, 16 to 4096.

    Returns:
        Calibration, the same for the same sheet and size.

    Raises:
        ValueError: size out of range (the sheet refuses bad values itself).

    >>> calibration = calibrate_ensemble(SheetPot(points=((25.0, 1800.0),), mass_kg=0.15))
    >>> ends_s = run_members(calibration, BucketLoad(3.0, 25.0, 25.0)).times_s[-1, 0]
    >>> round(weighted_quantile(ends_s, np.ones(calibration.size), 0.5) / 60.0)
    26

    Source: ranges in `ensemble_draw`.
    """
    drawn = draw(sheet, size)
    cells = member_cells(drawn)
    return Calibration(sheet, drawn, fit(sheet, drawn, cells))


@dataclass(frozen=True)
class Run:
    """Members of one bucket: time and temperature at each cut (cuts × variants × members), and what readings missed."""

    times_s: Floats
    temps_c: Floats
    missed_k: tuple[Floats, ...]
    adiabatic_s: Floats


@dataclass(frozen=True, eq=False)
class _SameCalibration:
    """A calibration as a key: the same object is the same key."""

    calibration: Calibration

    def __hash__(self) -> int:
        return id(self.calibration)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _SameCalibration) and other.calibration is self.calibration


def run_members(calibration: Calibration, bucket: BucketLoad, factor: float = 1.0, beyond: bool = False) -> Run:
    """Run all members through a bucket; `factor` is the learned one on its times, `beyond` goes on past the end."""
    require_positive("factor", factor, "(times the sheet)")
    return _remembered_run(_SameCalibration(calibration), bucket, factor, beyond)


@lru_cache(maxsize=16)
def _remembered_run(same: _SameCalibration, bucket: BucketLoad, factor: float, beyond: bool) -> Run:
    """Equal buckets run alike, and one bucket is asked at many instants of its pouring."""
    calibration = same.calibration
    drawn, fitted = calibration.drawn, calibration.fitted
    lot = 1.0 if calibration.lot is None else calibration.lot
    stretch = factor * lot * _sheet_stretch(calibration, bucket)
    cells = calibration.cells_beyond if beyond else calibration.cells
    track = _march(calibration, bucket, cells, stretch, bucket.readings)
    adiabatic = kernel.adiabatic_time_s(calibration.cells, fitted.rates, drawn.rise_k, bucket.material_c)[0]
    return Run(
        track.times_s * stretch,
        track.temps_c,
        track.missed_k,
        factor * lot * np.exp(fitted.on_sheet(np.log(adiabatic))),
    )


def _march(
    calibration: Calibration,
    bucket: BucketLoad,
    cells: kernel.Cells,
    stretch: Floats | float,
    readings: Sequence[tuple[float, float]],
) -> kernel.March:
    drawn = calibration.drawn
    vessel = bucket.vessel or replace(calibration.sheet.vessel, across_m=None)
    loss = loss_per_s(vessel, bucket.mass_kg, drawn.h0_w_m2k, drawn.k_in_w_mk)
    return kernel.march(
        cells, calibration.fitted.rates, drawn.rise_k, loss, bucket.material_c, bucket.air, readings, stretch
    )


def _sheet_stretch(calibration: Calibration, bucket: BucketLoad) -> Floats | float:
    """What brings the model's times onto a sheet of three points or more; 1 where it meets the sheet by itself."""
    if np.max(np.abs(calibration.fitted.log_model - calibration.fitted.log_wanted)) < 1e-4:
        return 1.0
    return _remembered_stretch(_SameCalibration(calibration), replace(bucket, readings=()))


@lru_cache(maxsize=256)
def _remembered_stretch(same: _SameCalibration, bucket: BucketLoad) -> Floats:
    """A bucket's edge and what it hands over need the same stretch: it is marched once."""
    calibration = same.calibration
    log_end = np.log(_march(calibration, bucket, calibration.cells, 1.0, ()).times_s[-1])
    return np.asarray(np.exp(calibration.fitted.on_sheet(log_end) - log_end))


def weighted_quantile(values: Floats, weights: Floats, share: float) -> float:
    """Quantile of weighted values, straight between the middles of their weights; infinite values count as largest.

    >>> weighted_quantile(np.array([3.0, 1.0, 2.0]), np.ones(3), 0.5)
    2.0
    """
    order = np.argsort(values)
    ranked, weight = values[order], weights[order]
    middles = (np.cumsum(weight) - 0.5 * weight) / weight.sum()
    finite = np.isfinite(ranked)
    if not finite.any() or (share > middles[finite][-1] and not finite.all()):
        return math.inf
    return float(np.interp(share, middles[finite], ranked[finite]))


def weights_after(run: Run, calibration: Calibration, sigma_k: float = READING_SIGMA_K) -> Floats:
    """Weights from what the members of a run missed at its readings."""
    misfit = np.zeros(calibration.size) if calibration.misfit is None else calibration.misfit.copy()
    for missed in run.missed_k:
        misfit += 0.5 * (missed[0] / sigma_k) ** 2
    misfit -= misfit.min()
    sharpness = 1.0
    for _ in range(60):
        weights = np.exp(-sharpness * misfit)
        weights /= weights.sum()
        if 1.0 / np.sum(weights**2) >= LEAST_EFFECTIVE_SHARE * calibration.size:
            break
        sharpness *= 0.8
    return np.asarray(weights)
