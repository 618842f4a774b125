"""Resins as they might really be, and what their sheets and buckets would say. Imports nothing of the product.

Wider than the product's ensemble in everything: two activation energies, κ 0.03–0.40, m 0.3–1.2, n 1.1–2.1, the wall's
passage ×/÷ 2, the sheet's time off by 15 % (1 σ), a sheet's cup of unknown shape. Solved by an explicit fourth-order
Runge–Kutta in a variable of its own, for all truths at once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
GAS, ZERO = 8.314462618, 273.15
STEPS = 700
DENSITY, HEAT_CAPACITY = 1100.0, 1900.0

FAMILIES = {
    "unfilled epoxy, to gel": {"rise": (130.0, 200.0), "end": (0.50, 0.60), "minutes": (12.0, 60.0), "points": 1},
    "filled epoxy, to gel": {"rise": (60.0, 140.0), "end": (0.50, 0.60), "minutes": (12.0, 60.0), "points": 1},
    "unfilled, to unworkable": {"rise": (130.0, 200.0), "end": (0.30, 0.45), "minutes": (12.0, 60.0), "points": 1},
    "slow epoxy, to gel": {"rise": (130.0, 200.0), "end": (0.50, 0.60), "minutes": (60.0, 150.0), "points": 1},
    "sheet with two temperatures": {"rise": (130.0, 200.0), "end": (0.50, 0.60), "minutes": (12.0, 60.0), "points": 2},
    "sheet with three temperatures": {"rise": (60.0, 200.0), "end": (0.50, 0.60), "minutes": (12.0, 60.0), "points": 3},
}
BODY = {"filled epoxy, to gel": "filled"}
END = {"unfilled, to unworkable": "workability"}
STATED_C = {
    1: ((25.0,), (23.0,), (20.0,)),
    2: ((15.0, 25.0), (20.0, 30.0)),
    3: ((10.0, 20.0, 30.0), (15.0, 25.0, 35.0)),
}


@dataclass(frozen=True)
class Resins:
    """Parameters of many true resins, one array element each."""

    rate_start: Floats  # k1 κ at 25 °C, 1/s
    rate_auto: Floats  # k2 at 25 °C, 1/s
    energy_start: Floats  # J/mol
    energy_auto: Floats
    m: Floats
    n: Floats
    rise_k: Floats
    alpha_end: Floats
    passage: Floats  # W/m²K at the wall
    conductivity: Floats  # W/mK


@dataclass(frozen=True)
class Sheet:
    """What one truth's data sheet states."""

    points: tuple[tuple[float, float], ...]
    mass_kg: float
    end: str
    body: str


@dataclass(frozen=True)
class Case:
    """One bucket, its sheet, and when it truly ends [s]."""

    family: str
    sheet: Sheet
    mass_kg: float
    across_m: float
    material_c: float
    air_c: float
    true_s: float


def loss_per_s(resins: Resins, mass_kg: Floats, across_m: Floats) -> Floats:
    """Loss over heat content of a filled cylinder, floor and lid included."""
    through = 1.0 / (1.0 / resins.passage + across_m / (8.0 * resins.conductivity))
    area = 4.0 * mass_kg / (DENSITY * across_m) + math.pi * across_m**2 / 2.0
    return through * area / (mass_kg * HEAT_CAPACITY)


def end_times_s(resins: Resins, mass_kg: Floats, across_m: Floats, start_c: Floats, air_c: Floats) -> Floats:
    """True time to the end point of each resin in its bucket."""
    loss = loss_per_s(resins, mass_kg, across_m)

    def slopes(s: float, temp_c: Floats) -> tuple[Floats, Floats]:
        """d(temperature)/ds and d(time)/ds with α = α_end·s³, which irons out α^m at the start."""
        alpha, stretch = resins.alpha_end * s**3, 3.0 * resins.alpha_end * s**2
        inverse = (1.0 / (temp_c + ZERO) - 1.0 / 298.15) / GAS
        rate = (
            resins.rate_start * np.exp(-resins.energy_start * inverse)
            + resins.rate_auto * np.exp(-resins.energy_auto * inverse) * alpha**resins.m
        ) * (1.0 - alpha) ** resins.n
        time = stretch / rate
        return resins.rise_k * stretch - loss * (temp_c - air_c) * time, time

    temp, time, h = np.array(start_c, dtype=float), np.zeros(len(start_c)), 1.0 / STEPS
    for index in range(STEPS):
        s = index * h
        t1, d1 = slopes(s, temp)
        t2, d2 = slopes(s + h / 2, temp + h / 2 * t1)
        t3, d3 = slopes(s + h / 2, temp + h / 2 * t2)
        t4, d4 = slopes(s + h, temp + h * t3)
        temp = temp + h / 6 * (t1 + 2 * t2 + 2 * t3 + t4)
        time = time + h / 6 * (d1 + 2 * d2 + 2 * d3 + d4)
    return time


def draw_resins(rng: np.random.Generator, count: int, family: str) -> Resins:
    """True resins of a family; how fast they are is drawn through the time that 3 kg would take without any loss."""
    spec = FAMILIES[family]
    kappa, alpha_end = rng.uniform(0.03, 0.40, count), rng.uniform(*spec["end"], count)
    fast = Resins(
        rate_start=kappa,
        rate_auto=np.ones(count),
        energy_start=rng.uniform(40e3, 65e3, count),
        energy_auto=rng.uniform(35e3, 60e3, count),
        m=rng.uniform(0.3, 1.2, count),
        n=rng.uniform(1.1, 2.1, count),
        rise_k=rng.uniform(*spec["rise"], count),
        alpha_end=alpha_end,
        passage=16.0 * 2.0 ** rng.uniform(-1.0, 1.0, count),
        conductivity=0.4 * 1.4 ** rng.uniform(-1.0, 1.0, count),
    )
    large = np.full(count, 1e6)
    unit_s = end_times_s(fast, large, large**0.3, np.full(count, 25.0), np.full(count, 25.0))
    wanted_s = 60.0 * np.exp(rng.uniform(*np.log(spec["minutes"]), count))
    scale = unit_s / wanted_s
    return Resins(**{**vars(fast), "rate_start": kappa * scale, "rate_auto": scale})


def height_as_wide_m(mass_kg: Floats, height_over_width: Floats) -> Floats:
    """Diameter of a filled cylinder."""
    return np.cbrt(4.0 * mass_kg / (math.pi * DENSITY * height_over_width))


def draw_cases(count: int, seed: int) -> list[Case]:
    """`count` buckets, evenly over the families: 0.5 to 20 kg, material and air of a working day."""
    rng = np.random.default_rng(seed)
    cases = []
    for number, family in enumerate(FAMILIES):
        share = count // len(FAMILIES) + (number < count % len(FAMILIES))
        cases += _family_cases(rng, share, family)
    return cases


def _family_cases(rng: np.random.Generator, count: int, family: str) -> list[Case]:
    resins = draw_resins(rng, count, family)
    tables = STATED_C[FAMILIES[family]["points"]]
    stated_c = np.array(tables)[rng.integers(0, len(tables), count)]
    sheet_kg = rng.choice([0.1, 0.15, 0.2, 0.5, 1.0], count)
    cup_m = height_as_wide_m(sheet_kg, 2.0 ** rng.uniform(-1.0, 1.0, count))
    off = np.exp(0.15 * rng.standard_normal(count))
    stated_s = np.array([off * end_times_s(resins, sheet_kg, cup_m, column, column) for column in stated_c.T])
    mass_kg = np.exp(rng.uniform(np.log(0.5), np.log(20.0), count))
    across_m = height_as_wide_m(mass_kg, 2.0 ** rng.uniform(-1.0, 1.0, count))
    air_c = rng.uniform(14.0, 33.0, count)
    material_c = np.clip(air_c + 3.0 * rng.standard_normal(count), 10.0, 36.0)
    true_s = end_times_s(resins, mass_kg, across_m, material_c, air_c)
    end, body = END.get(family, "gel"), BODY.get(family, "unfilled")
    return [
        Case(
            family,
            Sheet(
                tuple(zip(stated_c[i].tolist(), stated_s[:, i].tolist(), strict=True)), float(sheet_kg[i]), end, body
            ),
            float(mass_kg[i]),
            float(across_m[i]),
            float(material_c[i]),
            float(air_c[i]),
            float(true_s[i]),
        )
        for i in range(count)
    ]
