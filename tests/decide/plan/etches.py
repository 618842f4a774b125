"""Floors that are etched first, for the tests of the plan. Clocks stand still: answers are exact."""

from __future__ import annotations

from dataclasses import replace
from datetime import time
from typing import Any

from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.floor.timing import Span
from mixclock.job.profile import Dilution, Family, MixRule, Profile, SheetPoint, SheetSpan, WindowRule
from mixclock.job.site import Coat, Hours, Person, Site
from tests.decide.plan.checker import Job
from tests.decide.plan.floors import BEGINS, DAYS, FixedTiming, MildDay, minutes, profile, row_of

CLOSES = {
    "Etch": minutes(dwell=8.0, neutralise=10.0, rinse=30.0),
    "Soda": minutes(rinse=20.0),
    "Base": minutes(pour_out=12.0, back_roll=50.0, wet_edge=60.0, recoat=2400.0),
}
OPENS = {
    "Etch": minutes(dwell=5.0, rinse=5.0, dry=48 * 60.0),
    "Soda": minutes(dwell=6.0, rinse=5.0, dry=24 * 60.0),
    "Base": minutes(recoat=600.0),
}
AFTER = {"rinse": "neutralise", "dry": "rinse"}
ETCH_COAT = Coat("etch", "Etch", spread_m2_l=1.5, waste=0.0)
SODA_COAT = Coat("neutralise", "Soda", spread_m2_l=2.0, waste=0.0, after="etch")
BASE_COAT = Coat("base", "Base", 300.0, after="etch")


def washed(name: str, family: Family, density: float, dilution: Dilution) -> Profile:
    """An etch or a neutraliser with the windows of its fixed clocks."""
    names = dict.fromkeys([*OPENS[name], *CLOSES[name]])
    any_span = SheetSpan((SheetPoint(60.0),))
    rules = tuple(
        WindowRule(each, AFTER.get(each, "poured"), closes=any_span if each in CLOSES[name] else None) for each in names
    )
    return Profile(name, family, "test", MixRule(density_kg_l=(density,)), dilution=dilution, windows=rules)


PROFILES = {
    "etch": washed("Etch", Family.ACID_ETCH, 1.16, Dilution(3.0, 1.5, 31.0)),
    "soda": washed("Soda", Family.NEUTRALISER, 1.02, Dilution(10.0, 2.0)),
    "base": profile("Base", ("back-roll", "wet-edge", "recoat")),
}


def etched(*coats: Coat, sizes: tuple[float, ...] = (20.0,), crew: tuple[Person, ...] = (Person("one"),)) -> Site:
    """A row of bays with 4 m of edge each, from six to eight."""
    areas = row_of(sizes, (4.0,) * len(sizes))
    return Site("Pottery studio", "UTC", areas, coats, crew, hours=Hours(DAYS, time(6), time(20)))


def etch_bench(site: Site, **changed: dict[str, float]) -> Bench:
    """A bench whose clocks stand still; `Etch=minutes(dwell=4)` gives one product other closing edges."""
    shut = {**CLOSES, **changed}
    closing = {(name, window): Span(s * 60.0, s * 75.0) for name, row in shut.items() for window, s in row.items()}
    opening = {(name, window): Span(s * 60.0, s * 60.0) for name, row in OPENS.items() for window, s in row.items()}
    timing = FixedTiming(closing, opening)
    return Bench(site, PROFILES, timing, timing, MildDay(), BEGINS)


def etch_job(site: Site, **changed: Any) -> Job:
    """What the plans of these floors are held against."""

    def edge(table: dict[str, dict[str, float]]) -> Any:
        return lambda product, window, *_rest: (
            table[product][window] * 60.0 if window in table.get(product, {}) else None
        )

    own = SODA_COAT.name if site.coat(SODA_COAT.name) is not None else None
    return replace(Job(site, edge(CLOSES), edge(OPENS), etches={"etch": own}), **changed)
