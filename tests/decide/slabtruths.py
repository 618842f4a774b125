"""Films on slabs as they might really be, and what their sheets say. Imports nothing of the product.

A maker's limit is true at the points that its sheet states: between and beyond them the law is another one than a line
through them. A raced end has a maker's scatter of its own. The slab swings through the day, drifts over days and is
read once, with a thermometer's error, within two hours before the pour. Solved on a grid of a minute, for each truth by
itself, by adding up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
GAS, ZERO = 8.314462618, 273.15
STEP_S = 60.0
HOURS = 3600.0

# name: kind, edge, hours at 20 °C (low, high), true energy inside (J/mol), and beyond the sheet on its unsafe side
WINDOWS = {
    "back-roll": ("raced", "closes", (0.25, 0.75), (38e3, 58e3), (38e3, 58e3)),
    "broadcast": ("raced", "closes", (0.4, 1.2), (38e3, 58e3), (38e3, 58e3)),
    "tack-free": ("limit", "opens", (3.0, 9.0), (38e3, 58e3), (20e3, 60e3)),
    "recoat opens": ("limit", "opens", (6.0, 18.0), (38e3, 58e3), (20e3, 75e3)),
    "recoat closes": ("limit", "closes", (24.0, 96.0), (38e3, 58e3), (0.0, 58e3)),
    "foot-traffic": ("limit", "opens", (10.0, 30.0), (50e3, 85e3), (20e3, 90e3)),
    "vehicle-traffic": ("limit", "opens", (48.0, 120.0), (50e3, 85e3), (20e3, 90e3)),
}
TABLES = {1: ((20.0,), (23.0,), (25.0,)), 2: ((10.0, 20.0), (20.0, 30.0)), 3: ((10.0, 20.0, 30.0), (5.0, 15.0, 25.0))}


@dataclass(frozen=True)
class Film:
    """One film: its sheet's points (°C, s), the slab as it was read, and when its window truly had its edge [s]."""

    window: str
    kind: str
    edge: str
    points: tuple[tuple[float, float], ...]
    poured_hour: float
    read_before_s: float
    read_c: float
    contact: bool
    true_s: float


def draw_films(count: int, seed: int) -> list[Film]:
    """`count` films, evenly over the windows."""
    rng = np.random.default_rng(seed)
    names = list(WINDOWS)
    return [_film(rng, names[number % len(names)]) for number in range(count)]


def _film(rng: np.random.Generator, window: str) -> Film:
    kind, edge, hours, inside, beyond = WINDOWS[window]
    tables = TABLES[int(rng.integers(1, 4))]
    stated_c = np.array(tables[int(rng.integers(0, len(tables)))])
    energy = rng.uniform(*inside)
    at_20_s = HOURS * np.exp(rng.uniform(*np.log(hours)))
    stated_s = at_20_s * np.exp(energy / GAS * (1.0 / (stated_c + ZERO) - 1.0 / (20.0 + ZERO)))
    poured_hour = float(rng.uniform(7.5, 16.0))
    horizon_s = (30.0 if kind == "raced" else 30.0 * 24.0) * HOURS
    course = _course(rng, poured_hour, min(horizon_s, 40.0 * float(stated_s.max())))
    read_before_s = float(rng.uniform(0.0, 2.0 * HOURS))
    contact = bool(rng.random() < 0.5)
    read_c = course.at(-read_before_s) + rng.normal(0.0, 0.5 if contact else 1.0)
    cold_j = rng.uniform(*beyond) if edge == "closes" and kind == "limit" else rng.uniform(*inside)
    hot_j = rng.uniform(*beyond) if edge == "opens" else rng.uniform(*inside)
    bump = rng.normal(0.0, 0.01 if window not in ("foot-traffic", "vehicle-traffic") else 0.02)
    scatter = np.exp(rng.normal(0.0, 0.12)) if kind == "raced" else 1.0
    true_s = course.reaches(lambda temp_c: scatter * _law_s(temp_c, stated_c, stated_s, cold_j, hot_j, bump))
    points = tuple(zip(stated_c.tolist(), stated_s.tolist(), strict=True))
    return Film(window, kind, edge, points, poured_hour, read_before_s, float(read_c), contact, true_s)


def _law_s(temp_c: Floats, stated_c: Floats, stated_s: Floats, cold_j: float, hot_j: float, bump: float) -> Floats:
    """True time at a temperature: the sheet's at its points, bent between them, another slope beyond them."""
    inverse = 1.0 / (temp_c + ZERO)
    log_s = np.interp(temp_c, stated_c, np.log(stated_s))
    below, above = temp_c < stated_c[0], temp_c > stated_c[-1]
    log_s = np.where(below, log_s + cold_j / GAS * (inverse - 1.0 / (stated_c[0] + ZERO)), log_s)
    log_s = np.where(above, log_s + hot_j / GAS * (inverse - 1.0 / (stated_c[-1] + ZERO)), log_s)
    away = np.min(np.abs(temp_c[:, None] - stated_c[None, :]), axis=1)
    return np.exp(log_s + bump * np.minimum(away, 10.0))


@dataclass(frozen=True)
class Course:
    """A slab's temperature on a grid that begins three hours before the pour."""

    times_s: Floats
    temps_c: Floats

    def at(self, time_s: float) -> float:
        """The temperature at a time from the pour on; negative before it."""
        return float(np.interp(time_s, self.times_s, self.temps_c))

    def reaches(self, law: object) -> float:
        """When ∫dt/τ is 1, from the pour on [s]; the last instant where it never is."""
        after = self.times_s >= 0.0
        rate = 1.0 / law(self.temps_c[after])  # type: ignore[operator]
        ripe = np.concatenate([[0.0], np.cumsum(0.5 * (rate[1:] + rate[:-1]) * STEP_S)])
        times = self.times_s[after]
        return float(np.interp(1.0, ripe, times)) if ripe[-1] >= 1.0 else float(times[-1])


def _course(rng: np.random.Generator, poured_hour: float, horizon_s: float) -> Course:
    """A day's swing that is highest at three, in some halls little and in some much, and a drift over days."""
    times_s = np.arange(-3.0 * HOURS, horizon_s, STEP_S)
    hour = poured_hour + times_s / HOURS
    swing_k = rng.uniform(0.5, 1.5) if rng.random() < 0.5 else rng.uniform(1.5, 4.0)
    mean_c = rng.uniform(11.0, 27.0)
    days = np.arange(0.0, horizon_s / (24.0 * HOURS) + 2.0)
    drift_k = np.cumsum(rng.normal(0.0, 0.7, len(days)))
    drift_k = np.clip(drift_k - drift_k[0], -3.0, 3.0)
    temps_c = mean_c + swing_k * np.cos(2.0 * np.pi * (hour - 15.0) / 24.0)
    return Course(times_s, temps_c + np.interp(times_s / (24.0 * HOURS), days, drift_k))
