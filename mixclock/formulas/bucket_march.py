"""Steps all members through a bucket's cells: one by one in plain Python, or all at once if numpy is loaded.

`bucket_kernel` explains the scheme. Only this module integrates it, and `bucket_arrays` does the same with numpy.
"""

import math
from collections.abc import Sequence

from mixclock.formulas.air import ZERO_C_IN_K
from mixclock.formulas.arrays import numpy_at_hand
from mixclock.formulas.bucket_arrays import march_at_once
from mixclock.formulas.bucket_kernel import (
    LEAST_DECAY,
    REFERENCE_K,
    Cells,
    March,
    MemberCourse,
    Members,
    Rates,
    Surroundings,
    packed,
)
from mixclock.formulas.history import History

WIDE_FROM = 64  # for fewer courses, turning lists into arrays and back costs more than it saves


def march(
    cells: Cells,
    rates: Rates,
    rise_k: Members,
    loss_per_s: Members,
    start_c: float | Members,
    around: Surroundings,
    courses: bool = True,
) -> March:
    """Step all members of all rows through all cells; `bucket_kernel` has the scheme.

    Args:
        cells: conversions (members × cuts).
        rates: rate law per row and member.
        rise_k: adiabatic rise [K] per member.
        loss_per_s: λ [1/s] per member.
        start_c: temperature at mixing [°C], one value or one per row.
        around: air, and readings of the mass; these are taken up as `corrected_c` says.
        courses: whether the courses are wanted, or only when the members end.

    Returns:
        March.
    """
    np = numpy_at_hand() if len(rates.log_k) * len(rise_k) >= WIDE_FROM else None
    if np is not None:
        return march_at_once(np, cells, rates, rise_k, loss_per_s, start_c, around, courses)
    ends_s: list[Members] = []
    first: list[MemberCourse] = []
    stretch = around.stretch or [1.0] * len(rise_k)
    for row, laws in enumerate(zip(rates.log_k, rates.energy_k, strict=True)):
        members = zip(cells.d_alpha, cells.d_xi, rise_k, loss_per_s, *laws, strict=True)
        start = start_c if isinstance(start_c, float | int) else start_c[row]
        air = around.of_row(row)
        if isinstance(air, History) or around.readings:
            ways = zip(members, stretch, strict=True)
            found = [_among_changes(member, start, air, around.readings, by) for member, by in ways]
        else:
            found = [_in_still_air(member, start, air) for member in members]
        ends_s.append([course.times_s[-1] for course in found])
        first = first or (found if courses else [])
    return March(ends_s, first)


Member = tuple[Members, Members, float, float, float, float]
"""Δα and Δξ by cell, rise [K], loss [1/s], ln k at 25 °C, E/R [K]."""


def _in_still_air(member: Member, start_c: float, air_c: float) -> MemberCourse:
    """One member in steady air without readings, written out."""
    d_alpha, d_xi, rise_k, loss, log_k, energy_k = member
    exp, expm1, air_k, less = math.exp, math.expm1, air_c + ZERO_C_IN_K, -energy_k / REFERENCE_K - log_k
    over = start_c - air_c
    slow, time_s = exp(energy_k / (over + air_k) + less), 0.0
    times, temps = [0.0], [start_c]
    for part, xi in zip(d_alpha, d_xi, strict=True):
        heat, loss_xi = rise_k * part, loss * xi
        decay = 0.5 * loss_xi * slow
        if decay < LEAST_DECAY:
            decay = LEAST_DECAY
        half = over + (over - 0.5 * heat / decay) * expm1(-decay)
        slow_half = exp(energy_k / (half + air_k) + less)
        decay = loss_xi * slow_half
        if decay < LEAST_DECAY:
            decay = LEAST_DECAY
        over += (over - heat / decay) * expm1(-decay)
        slow_end = exp(energy_k / (over + air_k) + less)
        time_s += xi * (slow + 4.0 * slow_half + slow_end) / 6.0
        slow = slow_end
        times.append(time_s)
        temps.append(over + air_c)
    return MemberCourse(*packed((times, temps)))


def _among_changes(
    member: Member, start_c: float, air: float | History, readings: Sequence[tuple[float, float]], stretch: float
) -> MemberCourse:
    """One member in air that moves, or in a mass that was read."""
    d_alpha, d_xi, rise_k, loss, log_k, energy_k = member
    exp, less = math.exp, -energy_k / REFERENCE_K - log_k
    temp_c, time_s = start_c, 0.0
    slow = exp(energy_k / (temp_c + ZERO_C_IN_K) + less)
    times, temps, missed = [0.0], [temp_c], [math.nan] * len(readings)
    for part, xi in zip(d_alpha, d_xi, strict=True):
        heat, loss_xi = rise_k * part, loss * xi
        air_c = air.at((time_s + 0.5 * xi * slow) * stretch) if isinstance(air, History) else air
        half_c = _relaxed(temp_c, air_c, 0.5 * heat, 0.5 * loss_xi * slow)
        slow_half = exp(energy_k / (half_c + ZERO_C_IN_K) + less)
        following_c = _relaxed(temp_c, air_c, heat, loss_xi * slow_half)
        slow_end = exp(energy_k / (following_c + ZERO_C_IN_K) + less)
        later_s = time_s + xi * (slow + 4.0 * slow_half + slow_end) / 6.0
        for index, (at_s, read_c) in enumerate(readings):
            if time_s * stretch <= at_s < later_s * stretch:
                share = (at_s / stretch - time_s) / (later_s - time_s)
                missed[index] = read_c - (temp_c + share * (following_c - temp_c))
                following_c = corrected_c(following_c, missed[index])
                slow_end = exp(energy_k / (following_c + ZERO_C_IN_K) + less)
        temp_c, time_s, slow = following_c, later_s, slow_end
        times.append(time_s)
        temps.append(temp_c)
    ended = (gap if gap == gap else read_c - temp_c for gap, (_, read_c) in zip(missed, readings, strict=True))
    return MemberCourse(times, temps, list(ended))  # a member that had ended before a reading has its last temperature


def _relaxed(temp_c: float, air_c: float, heat_k: float, decay: float) -> float:
    """T after a cell with `heat_k` spread evenly over it and λ·Δt = `decay`: the linear equation's own solution."""
    decay = max(decay, LEAST_DECAY)
    over = temp_c - air_c
    return temp_c + (over - heat_k / decay) * math.expm1(-decay)


def corrected_c(temp_c: float, missed_k: float) -> float:
    """A member that passes a reading takes it up: fully if the reading is hotter, by half if it is cooler.

    A probe or an infrared gun sees the wall, which is cooler than the core; so a cool reading earns half credit
    (judgement).
    """
    return temp_c + (missed_k if missed_k > 0.0 else 0.5 * missed_k)
