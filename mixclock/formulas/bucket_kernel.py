"""The bucket's heat balance, stepped for many resins at once. The one place that integrates it.

    dα/dt = k(T)·f(α),  f = (κ + α^m)(1 − α)^n;   dT/dt = ΔT·dα/dt − λ(T − T_air)

Conversion α only ever rises, so it serves as the step variable: in α the runaway is tame (T climbs by at most ΔT per
unit of α) and time is a quadrature, dt = dξ/k(T) with dξ = dα/f(α). In each cell T relaxes exactly towards its balance
(an exponential step), so cells may be long or short against 1/λ. By construction 0 ≤ α ≤ 1 and T never exceeds the
warmer of start and air plus ΔT·α. The grid α = α_end·s^2.5 is fine where α^m is steep.
"""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from mixclock.formulas.air import ZERO_C_IN_K
from mixclock.formulas.history import History
from mixclock.values import dataclass

Floats = NDArray[np.float64]
Residual = Callable[[Floats], Floats]

REFERENCE_K = 298.15  # 25 °C, where rate constants are stated
GRADING = 2.5
_NODES = (np.array([-0.8611363115940526, -0.3399810435848563, 0.3399810435848563, 0.8611363115940526]) + 1.0) / 2.0
_WEIGHTS = np.array([0.34785484513745385, 0.6521451548625461, 0.6521451548625461, 0.34785484513745385]) / 2.0


@dataclass(frozen=True)
class Cells:
    """Conversion cut into cells: α at the cuts (cuts × members), and per cell Δα and Δξ = ∫dα/f."""

    alpha: Floats
    d_alpha: Floats
    d_xi: Floats


@dataclass(frozen=True)
class Rates:
    """ln k(T) = log_k − energy_k·(1/T − 1/298.15) per member; k in 1/s, energy_k = E/R in kelvin."""

    log_k: Floats
    energy_k: Floats

    def time_s(self, temp_c: Floats) -> Floats:
        """1/k(T) [s]."""
        inverse = 1.0 / (temp_c + ZERO_C_IN_K)
        return np.asarray(np.exp(self.energy_k * (inverse - 1.0 / REFERENCE_K) - self.log_k))


@dataclass(frozen=True)
class March:
    """What the members went through: time [s] and temperature [°C] at each cut (cuts × members).

    missed_k: per reading, what was read minus what each member had there (readings × members).
    """

    times_s: Floats
    temps_c: Floats
    missed_k: tuple[Floats, ...] = ()


def cut_cells(alpha: Floats, kappa: Floats, m: Floats, n: Floats) -> Cells:
    """Cells between given conversions, α of shape (cuts, members); Δξ by a 4-point Gauss rule."""
    low, d_alpha = alpha[:-1], np.diff(alpha, axis=0)
    inside = low[..., None] + d_alpha[..., None] * _NODES
    slowness = 1.0 / ((kappa[:, None] + inside ** m[:, None]) * (1.0 - inside) ** n[:, None])
    return Cells(alpha, d_alpha, d_alpha * (slowness @ _WEIGHTS))


def graded(alpha_end: Floats, count: int) -> Floats:
    """Cuts from 0 to alpha_end, finest at 0; shape (count + 1, members)."""
    return np.asarray(np.linspace(0.0, 1.0, count + 1)[:, None] ** GRADING * alpha_end)


def beyond(alpha_end: Floats, alpha_last: float, count: int) -> Floats:
    """Cuts from alpha_end on to alpha_last, evenly in ln(1 − α); the first cut itself left out."""
    shares = np.linspace(0.0, 1.0, count + 1)[1:, None]
    return np.asarray(1.0 - (1.0 - alpha_end) ** (1.0 - shares) * (1.0 - alpha_last) ** shares)


def air_around(air: float | Floats | History) -> Callable[[Floats], Floats | float]:
    """Air temperature [°C] by each member's own time; the readings are laid out once, not at each step."""
    if not isinstance(air, History):
        return lambda _: air
    if len(air.values) == 1:
        return lambda _: air.values[0]
    times_s, values = np.asarray(air.times_s), np.asarray(air.values)
    return lambda time_s: np.interp(time_s, times_s, values)


def march(
    cells: Cells,
    rates: Rates,
    rise_k: Floats,
    loss_per_s: Floats,
    start_c: float | Floats,
    air: float | History | Floats,
    readings: Sequence[tuple[float, float]] = (),
    stretch: Floats | float = 1.0,
) -> March:
    """Step all members through all cells; see the module's text for the scheme.

    Args:
        cells: conversions (cuts × members).
        rates: rate law per member, or per variant and member.
        rise_k: adiabatic rise [K] per member.
        loss_per_s: λ [1/s] per member.
        start_c: temperature at mixing [°C].
        air: air temperature [°C], one value, one per member, or a history counted from mixing.
        readings: (time since mixing [s], temperature [°C]) in order; taken up as `_corrected` says.
        stretch: real time over the model's [-]; air and readings are looked up at the model's time times this.

    Returns:
        Track.
    """
    shape = np.broadcast_shapes(rates.log_k.shape, rise_k.shape, np.shape(start_c))
    temp = np.broadcast_to(np.asarray(start_c, dtype=float), shape).copy()
    time = np.zeros(shape)
    slow = rates.time_s(temp)
    times, temps = [time], [temp]
    missed: list[Floats] = [np.full(shape, np.nan) for _ in readings]
    heats, xis = cells.d_alpha * rise_k, cells.d_xi
    moving = isinstance(air, History) and len(air.values) > 1
    air_at = air_around(air)
    around = air_at(time)
    for heat, xi in zip(heats, xis, strict=True):
        if moving:
            around = air_at((time + 0.5 * xi * slow) * stretch)
        loss_xi = loss_per_s * xi
        half = _relaxed(temp, around, 0.5 * heat, 0.5 * loss_xi * slow)
        slow_half = rates.time_s(half)
        following = _relaxed(temp, around, heat, loss_xi * slow_half)
        slow_end = rates.time_s(following)
        later = time + xi * (slow + 4.0 * slow_half + slow_end) / 6.0
        for index, reading in enumerate(readings):
            following = _corrected(reading, (time * stretch, later * stretch), (temp, following), missed[index])
        if readings:
            slow_end = rates.time_s(following)
        temp, time, slow = following, later, slow_end
        times.append(time)
        temps.append(temp)
    for (_, read_c), gap in zip(readings, missed, strict=True):
        np.copyto(gap, read_c - temp, where=np.isnan(gap))  # the member had ended before the reading
    return March(np.array(times), np.array(temps), tuple(missed))


def _relaxed(temp: Floats, around: Floats | float, heat: Floats, decay: Floats) -> Floats:
    """T after a cell with `heat` [K] spread evenly over it and λ·Δt = `decay`: the linear equation's own solution."""
    decay = np.maximum(decay, 1e-300)
    return np.asarray(temp + (heat - decay * (temp - around)) * (-np.expm1(-decay) / decay))


def _corrected(
    reading: tuple[float, float], times: tuple[Floats, Floats], temps: tuple[Floats, Floats], missed: Floats
) -> Floats:
    """Members that pass the reading's instant in this cell take it up: wholly when hotter, by half when cooler.

    A probe or an infrared gun sees the wall, which is cooler than the core; so a cool reading earns half credit
    (judgement).
    """
    at_s, read_c = reading
    passing = (times[0] <= at_s) & (at_s < times[1])
    if not passing.any():
        return temps[1]
    share = np.where(passing, (at_s - times[0]) / np.maximum(times[1] - times[0], 1e-300), 0.0)
    gap = read_c - (temps[0] + share * (temps[1] - temps[0]))
    np.copyto(missed, gap, where=passing)
    return np.where(passing, temps[1] + np.where(gap > 0.0, gap, 0.5 * gap), temps[1])


def adiabatic_time_s(cells: Cells, rates: Rates, rise_k: Floats, start_c: float | Floats) -> Floats:
    """Time [s] to the last cut without any loss: one quadrature of dξ/k(T_start + ΔT·α), Simpson per cell."""
    middle = cells.alpha[:-1] + 0.5 * cells.d_alpha
    ends = rates.time_s(start_c + rise_k * cells.alpha[:, *([None] * (rates.log_k.ndim - 1)), :])
    inside = rates.time_s(start_c + rise_k * middle[:, *([None] * (rates.log_k.ndim - 1)), :])
    xi = cells.d_xi[:, *([None] * (rates.log_k.ndim - 1)), :]
    return np.asarray(np.sum(xi * (ends[:-1] + 4.0 * inside + ends[1:]) / 6.0, axis=0))


def isothermal_time_s(cells: Cells, rates: Rates, temp_c: float | Floats) -> Floats:
    """Time [s] to the last cut with the temperature held: ξ_end / k(T)."""
    held = np.asarray(temp_c, dtype=float) + np.zeros(rates.log_k.shape)
    return np.asarray(cells.d_xi.sum(axis=0) * rates.time_s(held))


def solve_log_k(residual: Residual, low: Floats, high: Floats, tolerance: float = 1e-7) -> Floats:
    """Roots of a falling function of ln k, per member, between two bounds: Newton by secants, kept in the bracket."""
    at = 0.5 * (low + high)
    value, slope = residual(at), np.full(low.shape, -1.5)
    for _ in range(60):
        low, high = np.where(value > 0.0, at, low), np.where(value > 0.0, high, at)
        following = at - value / slope
        following = np.where((following < low) | (following > high), 0.5 * (low + high), following)
        moved = following - at
        if np.max(np.abs(moved)) < tolerance:
            return np.asarray(following)
        new = residual(following)
        secant = (new - value) / np.where(moved == 0.0, np.inf, moved)
        slope = np.where(secant < -0.2, secant, slope)
        at, value = following, new
    return np.asarray(at)
