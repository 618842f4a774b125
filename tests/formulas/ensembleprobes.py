"""What the ensemble thinks meanwhile: its course and its members' weights, which the product itself never shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from mixclock.formulas.ensemble_members import (
    READING_SIGMA_K,
    BucketLoad,
    Calibration,
    run_members,
    weighted_quantile,
    weights_after,
)
from mixclock.formulas.ranges import require_positive

Floats = np.ndarray


def equal_weights(calibration: Calibration) -> Floats:
    """The weights before any reading."""
    return np.full(calibration.size, 1.0 / calibration.size)


def reweigh(
    calibration: Calibration, bucket: BucketLoad, sigma_k: float = READING_SIGMA_K, factor: float = 1.0
) -> Floats:
    """Weights of the members after the bucket's own temperature readings.

    Gaussian in what each member missed at each reading, flattened until at least an eighth of the members speak.

    Args:
        calibration: the ensemble.
        bucket: the bucket with its readings.
        sigma_k: how far a reading and the lump may differ [K], above 0.
        factor: learned factor on the times [-].

    Returns:
        weights, one per member, adding up to 1.

    Raises:
        ValueError: sigma not above 0.

    Source: importance weights; the flattening is judgement.
    """
    require_positive("sigma", sigma_k, "K")
    return np.array(weights_after(run_members(calibration, bucket, factor), calibration, sigma_k))


@dataclass(frozen=True)
class MeanCourse:
    """The ensemble's temperature over time: percentiles 10, 50 and 90 [°C] at each time [s]."""

    times_s: Floats
    low_c: Floats
    likely_c: Floats
    high_c: Floats


def mean_course(
    calibration: Calibration,
    bucket: BucketLoad,
    times_s: Sequence[float],
    weights: Floats | None = None,
    factor: float = 1.0,
) -> MeanCourse:
    """Temperature of the mass at given times [s from mixing], for a picture.

    Args:
        calibration, bucket, factor: as for `edge_times`.
        times_s: times [s from mixing].

    Returns:
        MeanCourse [s, °C]; past a member's conversion of 0.95 its last temperature is held.

    Raises:
        ValueError: factor not above 0.

    Source: the model.
    """
    run = run_members(calibration, bucket, factor, beyond=True)
    weights = weights_after(run, calibration) if weights is None else weights
    at = np.asarray(times_s, dtype=float)
    every = np.array([np.interp(at, course.times_s, course.temps_c) for course in run.courses])
    low, likely, high = (
        np.array([weighted_quantile(column, weights, share) for column in every.T]) for share in (0.1, 0.5, 0.9)
    )
    return MeanCourse(at, low, likely, high)
