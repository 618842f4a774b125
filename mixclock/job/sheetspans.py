"""Reads the spans of a data sheet: one figure, one point, or the sheet's own table as printed.

The points of a table must agree with each other: no temperature twice, and never slower where it is warmer.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import pairwise

from mixclock.formulas.rate_law import RateLaw, constant_law, fitted_energy_j_mol, law_from_points, tau_s
from mixclock.job.kinds import HUMIDITY, SPAN, SPAN_OR_ZERO, TEMP
from mixclock.job.mistakes import quoted
from mixclock.job.printedfigures import both_ends, dated
from mixclock.job.profile import SheetPoint, SheetSpan
from mixclock.job.tablereading import Findings, QuantityKind, Table
from mixclock.units import METRIC_CREW, CrewUnits, crew_units_for, write_span
from mixclock.values import dataclass, replace

_WITH_HUMIDITY = re.compile(r"^(?P<temp>.*?[CFK°])\s*(?:[,;/]|at)?\s*(?P<humidity>[\d.,]+\s*%.*)$", re.IGNORECASE)
_SPAN_EXAMPLE = '"30 min", or { "20 °C" = "40 min", "30 °C" = "20 min" }'
SAME_TEMP_K = 0.05
USUAL_RH_PCT = 50.0


def read_span(
    table: Table, key: str, *, zero: bool = False, constant: bool | None = None, opens: bool = False
) -> SheetSpan | None:
    """The span at a key. `zero` allows a time of nothing, as for a sheet that asks for no induction.

    `constant` tells that a span without a temperature is the same at any. Of a printed range the longer end counts for
    what `opens`, the shorter for what closes.
    """
    raw = table.raw(key)
    span = _read_raw(table, key, raw, _PrintedSpan(SPAN_OR_ZERO if zero else SPAN, opens))
    if span is None or span.depends_on_temperature:
        return span
    return replace(span, constant=bool(constant))


@dataclass(frozen=True)
class _PrintedSpan:
    """How one span is read: its kind, and which end of a printed range counts."""

    kind: QuantityKind
    opens: bool

    def read(self, raw: object, where: str, found: Findings) -> tuple[float | None, str]:
        """The span, and the range that it was taken from."""
        ends = both_ends(raw) if isinstance(raw, str) else None
        if ends is None:
            return found.quantity(raw, self.kind, where), ""
        low_s, high_s = (found.quantity(end, self.kind, where) for end in ends)
        if low_s is None or high_s is None:
            return None, ""
        if low_s > high_s:
            found.add(where, f"the range {quoted(raw)} runs backwards", "write the shorter time first")
            return None, ""
        return (high_s if self.opens else low_s), str(raw)


def _read_raw(table: Table, key: str, raw: object, kind: _PrintedSpan) -> SheetSpan | None:
    if raw is None:
        return None
    if isinstance(raw, dict):
        return _read_points(raw, table.where(key), table.found, kind)
    if isinstance(raw, str):
        figure, temp = dated(raw)
        if temp is not None:
            return _read_points({temp: figure}, table.where(key), table.found, kind)
        span_s, printed = kind.read(raw, table.where(key), table.found)
        return None if span_s is None else SheetSpan((SheetPoint(span_s, printed=printed),))
    table.wrong(key, f"{quoted(raw)} is no span of time", f"expected {_SPAN_EXAMPLE}")
    return None


def _read_points(raw: Mapping[str, object], where: str, found: Findings, kind: _PrintedSpan) -> SheetSpan | None:
    if not raw:
        found.add(where, "the table has no points", f"expected {_SPAN_EXAMPLE}")
        return None
    before = len(found.quantities)
    points = [_read_point(key, value, where, found, kind) for key, value in raw.items()]
    whole = [point for point in points if point is not None]
    units = crew_units_for(found.quantities[before:])
    if len(whole) < len(points) or not _agree(whole, where, found, units):
        return None
    return SheetSpan(tuple(sorted(whole, key=_coldest_first)))


def _read_point(key: str, value: object, where: str, found: Findings, kind: _PrintedSpan) -> SheetPoint | None:
    parts = _WITH_HUMIDITY.match(key.strip())
    temp_text = parts["temp"] if parts else key
    temp_c = found.quantity(temp_text, TEMP, where)
    rh_pct = found.quantity(parts["humidity"], HUMIDITY, where) if parts else None
    span_s, printed = kind.read(value, f"{where}.{key}", found)
    if temp_c is None or span_s is None or (parts and rh_pct is None):
        return None
    return SheetPoint(span_s, temp_c, rh_pct, printed)


def _agree(points: list[SheetPoint], where: str, found: Findings, units: CrewUnits) -> bool:
    before = len(found.mistakes)
    if len({point.rh_pct is None for point in points}) > 1:
        found.add(where, "some points state a humidity and some do not", 'expected all as in "20 °C, 50 %", or none')
        return False
    for rh_pct in sorted({point.rh_pct for point in points}, key=lambda rh: rh or 0.0):
        same = sorted((point for point in points if point.rh_pct == rh_pct), key=_coldest_first)
        for cold, warm in pairwise(same):
            _compare(cold, warm, where, found, units)
    return len(found.mistakes) == before


def _compare(cold: SheetPoint, warm: SheetPoint, where: str, found: Findings, units: CrewUnits) -> None:
    if _temp(warm) - _temp(cold) < SAME_TEMP_K:
        found.add(
            where,
            f"{say_point(cold, units)} is stated twice, as {write_span(cold.span_s)} and as {write_span(warm.span_s)}",
            "keep the one that the sheet prints",
        )
    elif warm.span_s > cold.span_s:
        found.add(
            where,
            f"{say_point(warm, units)} takes {write_span(warm.span_s)}, "
            f"longer than {write_span(cold.span_s)} at {say_point(cold, units)}",
            "resin gets faster as it gets warmer: look whether two figures were swapped, or hours typed for minutes",
        )


def _temp(point: SheetPoint) -> float:
    return point.temp_c if point.temp_c is not None else 0.0


def law_of_span(span: SheetSpan, default_energy_kj_mol: float, rh_pct: float | None = None) -> RateLaw:
    """The temperature law of the span. If the span depends on humidity, it is the law at the nearest stated
    humidity."""
    if not span.depends_on_temperature:
        return constant_law(span.points[0].span_s)
    stated = {point.rh_pct for point in span.points}
    wanted = USUAL_RH_PCT if rh_pct is None else rh_pct
    nearest = min(stated, key=lambda rh: abs((rh or 0.0) - wanted))
    points = [(point.temp_c, point.span_s) for point in span.points if point.rh_pct == nearest]
    return law_from_points([(temp_c, tau) for temp_c, tau in points if temp_c is not None], default_energy_kj_mol * 1e3)


def span_at(span: SheetSpan, point: SheetPoint, default_energy_kj_mol: float) -> float:
    """How long the span is at the temperature and humidity of a point."""
    if not span.depends_on_temperature or point.temp_c is None:
        return span.points[0].span_s
    return tau_s(law_of_span(span, default_energy_kj_mol, point.rh_pct), point.temp_c)


def fitted_energies_kj_mol(span: SheetSpan) -> list[float]:
    """The activation energies of the span's points, one for each humidity with two points or more."""
    groups: dict[float | None, list[tuple[float, float]]] = {}
    for point in span.points:
        if point.temp_c is not None:
            groups.setdefault(point.rh_pct, []).append((point.temp_c, point.span_s))
    return [fitted_energy_j_mol(points) / 1e3 for points in groups.values() if len(points) > 1]


def say_point(point: SheetPoint, units: CrewUnits = METRIC_CREW) -> str:
    """The conditions of a point as a sheet prints them."""
    if point.temp_c is None:
        return "any temperature"
    humidity = f", {point.rh_pct:g} %" if point.rh_pct is not None else ""
    scale = units.scale("c")
    return f"{scale.shown(point.temp_c):.3g} {scale.unit}{humidity}"


def _coldest_first(point: SheetPoint) -> tuple[float, float]:
    return (_temp(point), point.rh_pct or 0.0)
