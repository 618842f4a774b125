"""`bucket_march.march` for all members at once, in the same steps. The caller hands numpy in."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from mixclock.formulas.air import ZERO_C_IN_K
from mixclock.formulas.bucket_kernel import (
    LEAST_DECAY,
    REFERENCE_K,
    Cells,
    March,
    MemberCourse,
    Members,
    Rates,
    Surroundings,
)
from mixclock.formulas.history import History

Column = Any
"""An array of numpy's, rows × members."""


def march_at_once(
    np: Any,
    cells: Cells,
    rates: Rates,
    rise_k: Members,
    loss_per_s: Members,
    start_c: float | Members,
    around: Surroundings,
    courses: bool = True,
) -> March:
    """What `bucket_march.march` gives."""
    log_k, energy_k = np.array(rates.log_k), np.array(rates.energy_k)
    less, rise, loss = -energy_k / REFERENCE_K - log_k, np.array(rise_k), np.array(loss_per_s)
    stretch = 1.0 if around.stretch is None else np.array(around.stretch)
    temp = np.zeros(log_k.shape) + _by_row(np, start_c)
    time = np.zeros(log_k.shape)
    air_at, moving = _air_around(np, around.air)
    over_air = air_at(time)
    slow = np.exp(energy_k / (temp + ZERO_C_IN_K) + less)
    times, temps = [time[0]], [temp[0]]
    missed = [np.full(log_k.shape, math.nan) for _ in around.readings]
    for part, xi in zip(*cells.columns, strict=True):
        heat, loss_xi = rise * part, loss * xi
        if moving:
            over_air = air_at((time + 0.5 * xi * slow) * stretch)
        half = _relaxed(np, temp, over_air, 0.5 * heat, 0.5 * loss_xi * slow)
        slow_half = np.exp(energy_k / (half + ZERO_C_IN_K) + less)
        following = _relaxed(np, temp, over_air, heat, loss_xi * slow_half)
        slow_end = np.exp(energy_k / (following + ZERO_C_IN_K) + less)
        later = time + xi * (slow + 4.0 * slow_half + slow_end) / 6.0
        for gaps, reading in zip(missed, around.readings, strict=True):
            following = _corrected(np, reading, (time * stretch, later * stretch), (temp, following), gaps)
        if around.readings:
            slow_end = np.exp(energy_k / (following + ZERO_C_IN_K) + less)
        temp, time, slow = following, later, slow_end
        if courses:
            times.append(time[0])
            temps.append(temp[0])
    if not courses:
        return March(time.tolist(), [])
    for (_, read_c), gaps in zip(around.readings, missed, strict=True):
        np.copyto(gaps, read_c - temp, where=np.isnan(gaps))  # the member had ended before the reading
    gaps_k = np.array([gaps[0] for gaps in missed]).T.tolist() if missed else [()] * len(rise_k)
    each = map(MemberCourse, np.array(times).T.tolist(), np.array(temps).T.tolist(), gaps_k)
    return March(time.tolist(), list(each))


def _by_row(np: Any, value: float | Members) -> Column:
    return value if isinstance(value, float | int) else np.array(value)[:, None]


def _air_around(np: Any, air: float | Members | History) -> tuple[Callable[[Column], Column], bool]:
    """Air temperature by each member's own time, and whether it moves."""
    if not isinstance(air, History):
        held = _by_row(np, air)
        return (lambda _: held), False
    if len(air.values) == 1:
        return (lambda _: air.values[0]), False
    times_s, values = np.array(air.times_s), np.array(air.values)
    return (lambda time_s: np.interp(time_s, times_s, values)), True


def _relaxed(np: Any, temp: Column, around: Column, heat: Column, decay: Column) -> Column:
    decay = np.maximum(decay, LEAST_DECAY)
    return temp + (temp - around - heat / decay) * np.expm1(-decay)


def _corrected(
    np: Any,
    reading: tuple[float, float],
    times: tuple[Column, Column],
    temps: tuple[Column, Column],
    missed: Column,
) -> Column:
    """Members that pass the reading's instant in this cell take the reading up, as `bucket_march.corrected_c` does."""
    at_s, read_c = reading
    passing = (times[0] <= at_s) & (at_s < times[1])
    if not passing.any():
        return temps[1]
    share = np.where(passing, (at_s - times[0]) / np.maximum(times[1] - times[0], 1e-300), 0.0)
    gap = read_c - (temps[0] + share * (temps[1] - temps[0]))
    np.copyto(missed, gap, where=passing)
    return np.where(passing, temps[1] + np.where(gap > 0.0, gap, 0.5 * gap), temps[1])
