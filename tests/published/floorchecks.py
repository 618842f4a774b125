"""What the windows of a whole job say, for published tables and for what practice knows."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from mixclock.job.entry import Combined, Poured, ProfileUsed, Reading
from mixclock.outside.profilefiles import find
from tests.decide.worlds import Log, minutes_of

RECOAT_TABLE = """
name = "Table polyurethane"
family = "polyurethane"
source = "federal recoat table"
[mix]
ratio_by_volume = [1, 1]
[windows.recoat]
after = "poured"
opens = { "70 °F" = "8 h", "80 °F" = "6 h", "90 °F" = "4 h", "100 °F" = "3 h", "110 °F" = "2 h", "120 °F" = "1 h" }
closes = { "70 °F" = "2 d", "80 °F" = "2 d", "90 °F" = "36 h", "100 °F" = "24 h", "110 °F" = "12 h", "120 °F" = "2 h" }
rule = "hottest hour"
"""
"""The rows as a crew types them in: each by the hottest temperature that it holds for."""


def laid(product: str, text: str, slab_c: float, mass_kg: float, poured_min: float) -> Log:
    """One batch of a product on a floor that keeps its temperature, mixed at eight."""
    log = Log()
    log.add(-60, ProfileUsed(product, text))
    log.add(-10, Reading(air_c=slab_c, rh_pct=50.0, slab_c=slab_c))
    log.add(0, Combined(product, ("bay 1",), mass_kg=mass_kg, material_c=slab_c, vessel="pail"))
    log.add(poured_min, Poured(1))
    return log


def recoat_closes_h(held_f: list[float], held_h: list[float]) -> float:
    """Hours to the likely close after surface temperatures that were each held for so long, the last one for good."""
    log = laid("Table polyurethane", RECOAT_TABLE, _celsius(held_f[0]), 4.0, 5.0)
    at_min = 5.0
    for temp_f, before_f, for_h in zip(held_f[1:], held_f, held_h, strict=False):
        at_min += 60.0 * for_h
        log.add(at_min - 0.01, Reading(slab_c=_celsius(before_f)))
        log.add(at_min, Reading(slab_c=_celsius(temp_f)))
    closes = log.window("recoat", 10).closes
    assert closes is not None
    return (minutes_of(closes.likely) - 5.0) / 60.0


def recoat_opens_no_sooner_h(temp_f: float) -> float:
    """Hours to the likely opening, at most those of the table: only sooner is wrong, later is the cautious side."""
    opens = laid("Table polyurethane", RECOAT_TABLE, _celsius(temp_f), 4.0, 5.0).window("recoat", 10).opens
    assert opens is not None
    table_h = next(
        hours for upto_f, hours in ((70, 8), (80, 6), (90, 4), (100, 3), (110, 2), (120, 1)) if temp_f <= upto_f
    )
    return min(float(table_h), (minutes_of(opens.likely) - 5.0) / 60.0)


def early_pour_out_min(product: str, mass_kg: float, temp_c: float) -> float:
    """Minutes from mixing to the early pour-out."""
    closes = _shipped(product, temp_c, mass_kg, 5.0).window("pour-out", 1).closes
    assert closes is not None
    return minutes_of(closes.early)


def floor_closes_min(product: str, mass_kg: float, temp_c: float, window: str, poured_min: float) -> float:
    """Minutes on the floor to the likely close, after a bucket that was poured so long after mixing."""
    closes = _shipped(product, temp_c, mass_kg, poured_min).window(window, poured_min + 1).closes
    assert closes is not None
    return minutes_of(closes.likely) - poured_min


def floor_opens_h(product: str, temp_c: float, window: str) -> float:
    """Hours from pouring to the likely opening."""
    opens = _shipped(product, temp_c, 4.0, 5.0).window(window, 6).opens
    assert opens is not None
    return (minutes_of(opens.likely) - 5.0) / 60.0


def _shipped(product: str, temp_c: float, mass_kg: float, poured_min: float) -> Log:
    return laid(product, find(product).text, temp_c, mass_kg, poured_min)


def _celsius(temp_f: float) -> float:
    return (temp_f - 32.0) / 1.8


FLOOR_CHECKS: Mapping[str, Callable[..., float]] = {
    "recoat_closes_h": recoat_closes_h,
    "recoat_opens_no_sooner_h": recoat_opens_no_sooner_h,
    "early_pour_out_min": early_pour_out_min,
    "floor_closes_min": floor_closes_min,
    "floor_opens_h": floor_opens_h,
}
