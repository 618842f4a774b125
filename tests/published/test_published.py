"""Figures that others published, against what the formulas say. The rows are in the TOML files beside this one."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from mixclock.decide.edges import edge_of
from mixclock.decide.weather import steady
from mixclock.formulas import acid, air, coverage
from mixclock.formulas.bucket import BucketShape
from mixclock.formulas.cure import History
from mixclock.formulas.practicecap import practice_cap_s
from mixclock.formulas.rate_law import law_from_points, tau_s
from mixclock.job.profile import SheetPoint, SheetSpan
from mixclock.job.profilereading import read_profile
from tests.decide.worlds import BASE
from tests.formulas import limits
from tests.formulas.histories import equivalent_age_s
from tests.formulas.oneresin import (
    Resin,
    calibrate,
    course,
    isothermal_time_s,
    pot_life_s,
)
from tests.formulas.wetbulb import dew_point_from_wet_bulb_c
from tests.published.cupchecks import CUP_CHECKS
from tests.published.floorchecks import FLOOR_CHECKS
from tests.published.takeoffchecks import TAKEOFF_CHECKS

HERE = Path(__file__).parent
UM_PER_MIL, L_PER_GAL, M2_PER_FT2 = 25.4, 3.785411784, 0.3048**2
NEEDED = {"check", "source", "table", "conditions", "value", "unit", "tolerance", "kind", "why"}


def equivalent_age_d(days: list[float], temps_c: list[float]) -> float:
    """Steps of constant temperature: each edge is a jump."""
    edges_s = [86400.0 * sum(days[:index]) for index in range(len(days) + 1)]
    times = [edge for index in range(len(days)) for edge in edges_s[index : index + 2]]
    history = History(tuple(times), tuple(temp for temp in temps_c for _ in range(2)))
    return equivalent_age_s(history, 0.0, edges_s[-1]) / 86400.0


def chart_from_two_points_min(temp_f: float, stated_f: list[float], stated_min: list[float]) -> float:
    celsius = [(f - 32.0) / 1.8 for f in (*stated_f, temp_f)]
    return tau_s(law_from_points(list(zip(celsius[:2], stated_min, strict=True)), 47e3), celsius[2])


def law_from_two_points_h(points: list[list[float]], temp_c: float) -> float:
    """A sheet's figure at a third temperature, by the line through two."""
    return tau_s(law_from_points([(at_c, hours) for at_c, hours in points], 47e3), temp_c)


def limit_h(window: str, points: list[list[float]], temp_c: float, closing: bool) -> float:
    """What a crew is told of a maker's limit on a slab that keeps its temperature [h]."""
    start = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
    span = SheetSpan(tuple(SheetPoint(hours * 3600.0, at_c) for at_c, hours in points))
    edge = edge_of(window, span, read_profile(BASE), steady(temp_c), start, closing=closing).edge
    return ((edge.early if closing else edge.safe_open) - start).total_seconds() / 3600.0


def opened_too_soon_h(window: str, points: list[list[float]], temp_c: float, published_h: float) -> float:
    """By how much an opening is told before the sheet's own figure [h]."""
    return max(0.0, published_h - limit_h(window, points, temp_c, closing=False))


def cup_to_film_min(cup_kg: float, pot_life_min: float, temp_c: float) -> float:
    return isothermal_time_s(calibrate(Resin(), cup_kg, temp_c, 60.0 * pot_life_min), temp_c) / 60.0


def peak(gel_kg: float, gel_min: float, peak_kg: float, temp_c: float) -> tuple[float, float]:
    resin = calibrate(Resin(), gel_kg, temp_c, 60.0 * gel_min)
    past = course(resin, BucketShape(), peak_kg, temp_c, temp_c)
    top = int(past.temps_c.argmax())
    return float(past.times_s[top]) / 60.0, float(past.temps_c[top])


def pot_life_min(sheet_kg: float, sheet_min: float, sheet_c: float, mass_kg: float, temp_c: float) -> float:
    resin = calibrate(Resin(), sheet_kg, sheet_c, 60.0 * sheet_min)
    return pot_life_s(resin, BucketShape(), mass_kg, temp_c, temp_c) / 60.0


def bucket_ignition() -> float:
    """The loss at which our own stepper stops balancing, as a Semenov number; the resin is all but endless."""
    energy, rise, air_c = 200e3, 400.0, 25.0
    resin = Resin(energy_j_mol=energy, adiabatic_rise_k=rise, alpha_end=0.9, kappa=1.0, m=5.0, n=0.0, rate_per_s=1e-9)
    low, high = 0.2, 0.6
    while high - low > 2e-4:
        number = 0.5 * (low + high)
        loss = limits.semenov_number(energy, rise, 1e-9, 1.0, air_c) / number
        runs_away = steady_excess_k(resin, loss, air_c) > 60.0
        low, high = (low, number) if runs_away else (number, high)
    return low


def steady_excess_k(resin: Resin, loss: float, air_c: float) -> float:
    """How far over the air the mass stands before a twentieth of it is used up."""
    from mixclock.formulas import bucket_kernel as kernel
    from mixclock.formulas.bucket_march import march

    cells = kernel.cut_cells([[0.05 * step / 4000 for step in range(4001)]], [1.0], [5.0], [0.0])
    rates = kernel.Rates([[math.log(resin.rate_per_s)]], [[resin.energy_j_mol / 8.314462618]])
    around = kernel.Surroundings(air_c)
    track = march(cells, rates, [400.0 * 250.0], [loss * 250.0], air_c, around).courses[0]
    return max(track.temps_c) - air_c


CHECKS: dict[str, Callable[..., float]] = {
    "saturation_pressure_pa": air.saturation_pressure_pa,
    "absolute_humidity_g_m3": lambda air_c, rh_pct: air.absolute_humidity_g_m3(air_c, rh_pct),
    "dew_point_c": air.dew_point_c,
    "dew_point_from_wet_bulb_c": dew_point_from_wet_bulb_c,
    "spread_ft2_gal": lambda wet_mil: coverage.spread_m2_l(wet_mil * UM_PER_MIL) * L_PER_GAL / M2_PER_FT2,
    "spread_ft2_gal_dry": lambda dry_mil, solids_pct: (
        coverage.spread_m2_l(coverage.wet_um_for_dry(dry_mil * UM_PER_MIL, solids_pct)) * L_PER_GAL / M2_PER_FT2
    ),
    "diluted_acid_wt_pct": acid.diluted_acid_wt_pct,
    "bicarbonate_kg": acid.bicarbonate_kg,
    "equivalent_age_d": equivalent_age_d,
    "chart_from_two_points_min": chart_from_two_points_min,
    "cup_to_film_min": cup_to_film_min,
    "film_gel_min": cup_to_film_min,
    "time_to_peak_min": lambda **conditions: peak(**conditions)[0],
    "peak_c": lambda **conditions: peak(**conditions)[1],
    "critical_delta": limits.critical_delta,
    "semenov_critical": limits.semenov_critical,
    "bucket_ignition": bucket_ignition,
    "law_from_two_points_h": law_from_two_points_h,
    "opened_too_soon_h": opened_too_soon_h,
    "limit_closes_h": lambda points, temp_c: limit_h("recoat", points, temp_c, closing=True),
    "practice_cap_min": lambda mass_kg, temp_c: practice_cap_s(mass_kg, temp_c) / 60.0,
    "gel_conversion": limits.gel_conversion,
    "pot_life_min": pot_life_min,
    **CUP_CHECKS,
    **FLOOR_CHECKS,
    **TAKEOFF_CHECKS,
}


def all_rows() -> list[Any]:
    """Each row as a test case; one with a known miss is expected to fail, and must."""
    cases = []
    for path in sorted(HERE.glob("*.toml")):
        for number, row in enumerate(tomllib.loads(path.read_text(encoding="utf-8"))["rows"], start=1):
            marks = [pytest.mark.xfail(reason=row["miss"], strict=True, raises=AssertionError)] if "miss" in row else []
            cases.append(pytest.param(row, id=f"{path.stem}-{number}-{row['check']}", marks=marks))
    return cases


@pytest.mark.parametrize("row", all_rows())
def test_what_others_published_is_what_the_formulas_say(row: dict[str, Any]) -> None:
    found = CHECKS[row["check"]](**row["conditions"])
    allowed = row["tolerance"] * (abs(row["value"]) if row["kind"] == "relative" else 1.0)
    assert abs(found - row["value"]) <= allowed, (
        f"{found:.6g} {row['unit']}, the row has {row['value']} ({row['source']})"
    )


def test_every_published_row_says_where_it_comes_from_and_why_its_tolerance() -> None:
    rows = [case.values[0] for case in all_rows()]
    assert len(rows) > 50
    for row in rows:
        assert NEEDED <= set(row) <= NEEDED | {"miss"}, row
        assert row["kind"] in {"relative", "absolute"}
        assert all(row[name] != "" for name in NEEDED), row


MARKS = ("(read", "second-hand", "from memory", "(memory)", "no source", "exact")


def test_every_row_says_what_it_is_read_second_hand_practice_or_memory() -> None:
    rows = [case.values[0] for case in all_rows()]
    assert len(rows) > 120
    assert [row["source"] for row in rows if not any(mark in row["source"] for mark in MARKS)] == []


PLACES = (".com", "doi ", "ch. 1", "Handbook 44", "page not known", "page and year not given")
YEAR = re.compile(r"(?<![\d/.])(19|20)\d\d(?![\d/])|year not given")


def test_every_source_that_was_read_says_where_it_stands_or_that_its_page_is_not_known() -> None:
    read = [case.values[0]["source"] for case in all_rows() if "(read" in case.values[0]["source"]]
    assert [source for source in read if not any(place in source for place in PLACES)] == []


def test_every_source_that_was_read_says_its_year_or_that_none_is_given() -> None:
    read = [case.values[0]["source"] for case in all_rows() if "(read" in case.values[0]["source"]]
    assert len(read) > 80
    assert [source for source in read if not YEAR.search(source)] == []


def test_nothing_of_our_own_making_is_called_published() -> None:
    assert [case.id for case in all_rows() if "our own" in case.values[0]["source"]] == []
