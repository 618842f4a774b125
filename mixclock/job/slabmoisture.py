"""The slab's moisture as it was measured, against the limit that holds for what goes on it."""

from __future__ import annotations

from datetime import datetime

from mixclock.job.entry import Measured
from mixclock.job.profile import Limits
from mixclock.job.progress import Standing
from mixclock.units import CrewUnits, pct
from mixclock.units.vapour import LB_G_M2_D, is_vapour, vapour_g_m2_d, write_vapour
from mixclock.values import dataclass

BY_WEIGHT = "g_m2_d"
"""The unit of a moisture from the calcium chloride test."""

LOOKS_LIKE_HUMIDITY_PCT = 20.0
"""Two methods answer in percent: the carbide bottle gives under 10, humidity in a drilled hole over 50 (from
memory)."""

IN_SLAB_HUMIDITY_PCT = 75.0
"""Common limit where a sheet names none (ASTM F2170 practice)."""

CARBIDE_PCT = 4.0
"""Common limit by weight where a sheet names none (carbide method, from memory)."""

EMISSION_G_M2_D = 3.0 * LB_G_M2_D
"""Three pounds on 1000 ft² in a day, as is customary (ASTM F1869)."""


@dataclass(frozen=True)
class MoistureLimit:
    """The limit for one measurement, and the source of that limit."""

    value: float
    source: str


@dataclass(frozen=True)
class SlabMoisture:
    """One measurement beside its limit, both as a crew says them."""

    told: str
    limit: str
    source: str
    over: bool


def moisture_limit(value: float, unit: str, limits: Limits | None) -> MoistureLimit:
    """The sheet's limit for a measurement of that kind, else what is customary."""
    if unit == BY_WEIGHT:
        stated = limits.vapour_max_g_m2_d if limits else None
        return MoistureLimit(stated, "data sheet") if stated else MoistureLimit(EMISSION_G_M2_D, "ASTM F1869 custom")
    sheet = limits.moisture_max_pct if limits else None
    if sheet is not None and (sheet >= LOOKS_LIKE_HUMIDITY_PCT) == (value >= LOOKS_LIKE_HUMIDITY_PCT):
        return MoistureLimit(sheet, "data sheet")
    if value >= LOOKS_LIKE_HUMIDITY_PCT:
        return MoistureLimit(IN_SLAB_HUMIDITY_PCT, "ASTM F2170 practice")
    return MoistureLimit(CARBIDE_PCT, "carbide method, from memory")


def judged_moisture(value: float, unit: str, limits: Limits | None, units: CrewUnits) -> SlabMoisture:
    """A measurement beside its limit."""
    limit = moisture_limit(value, unit, limits)
    told, most = (write_moisture(each, unit, units) for each in (value, limit.value))
    return SlabMoisture(told, most, limit.source, value > limit.value)


def write_moisture(value: float, unit: str, units: CrewUnits) -> str:
    """A moisture as a crew says it."""
    return write_vapour(value, units.system == "US") if unit == BY_WEIGHT else f"{value:g} %"


def slab_moisture(standing: Standing, area: str | None, limits: Limits | None, at: datetime) -> SlabMoisture | None:
    """The last measurement of a place, or of the whole floor if nobody measured there; None if there is none.

    A crew may measure a slab by humidity and by weight. The last of each counts; if one is over its limit, that one is
    told.
    """
    found = [
        entry.facts
        for entry in standing.live()
        if isinstance(entry.facts, Measured) and "moisture" in entry.facts.quantity and entry.happened <= at
    ]
    here = [facts for facts in found if area is not None and facts.area == area]
    whole = [facts for facts in found if facts.area is None or area is None]
    last = {facts.unit: facts for facts in here or whole}  # the last by each method
    judged = [judged_moisture(facts.value, facts.unit, limits, standing.site.units) for facts in last.values()]
    return next((each for each in judged if each.over), judged[-1] if judged else None)


def typed_moisture(said: str) -> tuple[float, str]:
    """A moisture as it was typed, and its unit: "75 %", "75 % RH" or "3.5 lb" by calcium chloride; raises `UnitError`.

    >>> typed_moisture("75 % RH"), typed_moisture("15 g/m2")
    ((75.0, 'pct'), (15.0, 'g_m2_d'))
    """
    if is_vapour(said):
        return vapour_g_m2_d(said), BY_WEIGHT
    return pct(said.casefold().replace("rh", "").replace("cm", "")), "pct"


def moisture_objection(found: SlabMoisture | None) -> str | None:
    """What a measured moisture forbids, in words."""
    if found is None or not found.over:
        return None
    return f"slab moisture {found.told} is over the {found.limit} that is allowed ({found.source})"
