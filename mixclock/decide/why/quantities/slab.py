"""The slab and its preparation: thirst, texture, acidity, moisture."""

from __future__ import annotations

from collections.abc import Callable
from statistics import median

from mixclock.decide.why.case import Case
from mixclock.decide.why.gauge import Gauge
from mixclock.decide.why.layers import Fact, Gap, Layer, Value
from mixclock.decide.why.observation import Observation
from mixclock.decide.why.quantities.film import gauge_readings
from mixclock.job.entry import Entry, Measured
from mixclock.job.profile import Family
from mixclock.job.slabmoisture import moisture_limit, write_moisture
from mixclock.job.steps import RINSE
from mixclock.units import US_CREW

RINSE_WATER_PH = 7.0
PH_BELOW, PH_ABOVE = 1.0, 2.0


def absorbed(case: Case, laid: Layer) -> Fact:
    """What the slab drank: volume over area, less the gauged film, in percent of that film. Only for the first coat on
    a slab."""
    if case.below(laid) is not None:
        return None
    gauged, laid_um = gauge_readings(case, laid), _volume_um(case, laid)
    if not gauged or not laid_um:
        return Gap(f"the wet film on {laid.area} by a gauge", "a chip and a film gauge tell it still")
    share = (laid_um - median(gauged)) / laid_um * 100.0
    by_volume, by_gauge = (case.units.write_film(film) for film in (laid_um, median(gauged)))
    return Value(share, told=f"{by_volume} by volume, {by_gauge} by the gauge")


def volume_excess(case: Case, laid: Layer) -> Fact:
    """How much more resin an unprimed area took than the healthy ones."""
    own = _volume_um(case, laid)
    others = [film for sibling in case.healthy(laid) if (film := _volume_um(case, sibling)) is not None]
    if case.below(laid) is not None or own is None or not all(others) or not others:
        return None
    excess = (own / median(others) - 1.0) * 100.0
    here, there = (case.units.write_film(film) for film in (own, median(others)))
    return Value(excess, told=f"{here} against {there} on the healthy areas")


def _volume_um(case: Case, laid: Layer) -> float | None:
    alone = all(piece.portion is not None and len(piece.portion.areas) == 1 for piece in laid.pieces)
    covered = [piece.portion.covered_m2 for piece in laid.pieces if piece.portion and piece.portion.covered_m2]
    area = case.standing.site.area(laid.area)
    if len(covered) == len(laid.pieces):
        return laid.volume_l / sum(covered) * 1000.0
    return laid.volume_l / area.size_m2 * 1000.0 if area is not None and alone and laid.volume_l > 0 else None


def texture(case: Case, laid: Layer) -> Fact:
    """The slab's texture against what the film of the first coat can fill."""
    found = _measured(case, laid, lambda name: name in ("texture", "csp"))
    wanted = case.wanted_film_um(laid)
    if case.below(laid) is not None or not found or wanted is None:
        return None
    value = max(entry.facts.value for entry in found if isinstance(entry.facts, Measured))
    return Value(value, limit=_most_texture(wanted), limit_source="ICRI 310.2R", told=f"CSP {value:g}")


def _most_texture(film_um: float) -> float:
    """The roughest texture that a film of this thickness is laid on, in CSP.

    >>> _most_texture(125.0), _most_texture(200.0), _most_texture(400.0)
    (2.0, 3.0, 4.0)
    """
    mil = US_CREW.scale("um").shown(film_um)
    return 2.0 if mil < 6.0 else 3.0 if mil <= 10.0 else 4.0


def acidity(case: Case, laid: Layer) -> Fact:
    """How far the surface's pH, before the first coat, lay outside the range of the rinse water."""
    if case.below(laid) is not None:
        return None
    found = _measured(case, laid, lambda name: name == "ph")
    if not found:
        return Gap(f"the pH of {laid.area} before coating", "wipe and pH on bare slab near by")
    rinse = _measured(case, laid, lambda name: RINSE in name)
    base = rinse[-1].facts.value if rinse and isinstance(rinse[-1].facts, Measured) else RINSE_WATER_PH
    last = found[-1].facts
    assert isinstance(last, Measured)
    off = max(base - PH_BELOW - last.value, last.value - base - PH_ABOVE)
    return Value(
        off, told=f"pH {last.value:g}; {base - PH_BELOW:g} to {base + PH_ABOVE:g} is allowed", at=found[-1].happened
    )


def moisture(case: Case, laid: Layer) -> Fact:
    """How far the slab's moisture, before the first coat, lay over its limit, as a share of the limit."""
    if case.below(laid) is not None:
        return None
    found = _measured(case, laid, lambda name: "moisture" in name)
    if not found:
        return Gap(f"the moisture of the slab under {laid.area}", "tape a plastic sheet for 16 h, or drill for F2170")
    last = found[-1].facts
    assert isinstance(last, Measured)
    profile = case.profile(laid)
    limit = moisture_limit(last.value, last.unit, profile.limits if profile is not None else None)
    is_told, most = (write_moisture(each, last.unit, case.units) for each in (last.value, limit.value))
    told = f"{is_told}, limit {most} ({limit.source})"
    return Value(last.value / limit.value - 1.0, told=told, limit_source=limit.source, at=found[-1].happened)


def _measured(case: Case, laid: Layer, wanted: Callable[[str], bool]) -> list[Entry]:
    """Measurements on the area or the whole floor before the first coat was poured, the latest last."""
    found = [
        entry
        for entry in case.measured
        if isinstance(entry.facts, Measured)
        and wanted(entry.facts.quantity.casefold())
        and entry.facts.area in (None, laid.area)
        and entry.happened <= laid.first
    ]
    own = [entry for entry in found if isinstance(entry.facts, Measured) and entry.facts.area == laid.area]
    return sorted(own or found, key=lambda entry: entry.happened)


def epoxy_on_top(case: Case, laid: Layer) -> Fact:
    """Whether the visible coat is an epoxy: any epoxy yellows in the sun."""
    profile = case.profile(laid)
    if profile is None or case.above(laid) is not None:
        return None
    if profile.family in (Family.EPOXY, Family.WATERBORNE_EPOXY):
        return Value("the visible coat is an epoxy")
    return Value(0.0, told=f"the visible coat is {profile.family}")


ABSORBED = Gauge(
    "absorbed_pct",
    "resin that went into the slab",
    absorbed,
    +1,
    15.0,
    15.0,
    6.0,
    "common practice, no source: allow 10 to 15 % on bare concrete",
    "twice that allowance (judgement)",
    "gauge and volume, 6 % each (judgement)",
    unit="pct",
)

VOLUME_EXCESS = Gauge(
    "volume_excess_pct",
    "resin used over the healthy areas",
    volume_excess,
    +1,
    15.0,
    15.0,
    6.0,
    "common practice, no source: allow 10 to 15 % on bare concrete",
    "twice that allowance (judgement)",
    "volume and area, 6 % (judgement)",
    unit="pct",
)

TEXTURE = Gauge(
    "texture_csp",
    "texture of the slab",
    texture,
    +1,
    None,
    1.0,
    0.5,
    "ICRI 310.2R: CSP 1 to 2 under 6 mil, 3 for 4 to 10 mil, 4 for 10 to 40 mil",
    "one step of the comparators",
    "comparators are read to half a step (judgement)",
    unit="csp",
)

ACIDITY = Gauge(
    "ph_off",
    "surface pH outside what is allowed",
    acidity,
    +1,
    0.0,
    1.0,
    0.4,
    "ASTM D4262: within -1 and +2 of the rinse water (taken as 7 where it was not measured)",
    "one whole step of pH paper",
    "pH paper is read to half a step (judgement)",
)

MOISTURE = Gauge(
    "moisture_over",
    "moisture of the slab over its limit",
    moisture,
    +1,
    0.0,
    0.15,
    0.05,
    "data sheet, else ASTM F2170 practice 75 %, ASTM F1869 custom 3 lb, or 4 % by carbide (from memory)",
    "a sixth over the limit (judgement)",
    "probes ±2 to 3 % (judgement)",
)

EPOXY_ON_TOP = Observation("epoxy on top", "epoxy on top", epoxy_on_top)
