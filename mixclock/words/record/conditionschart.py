"""Conditions over time: air, slab and dew point above, the dew margin with its limit below, humidity at the foot."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from mixclock.decide.conditions import LEAST_MARGIN_K, MOST_HUMIDITY_PCT
from mixclock.formulas.air import dew_margin_k, dew_point_c
from mixclock.job.readings import Sample
from mixclock.units import Scale
from mixclock.values import dataclass
from mixclock.words.record.axis import TimeAxis
from mixclock.words.record.source import Record
from mixclock.words.record.svg import Svg, slug

WIDTH, LEFT, RIGHT = 720.0, 46.0, 640.0
LONGEST_GAP = timedelta(hours=4)
"""No line is drawn over a longer gap: nobody knows what it was in between."""

MOST_POINTS = 600


@dataclass(frozen=True)
class ChartStrip:
    """One strip of the chart: from which to which value, between which y."""

    low: float
    high: float
    top: float
    bottom: float
    unit: str

    def y(self, value: float) -> float:
        """Where a value lies."""
        share = (value - self.low) / max(1e-9, self.high - self.low)
        return self.bottom - min(1.0, max(0.0, share)) * (self.bottom - self.top)


def conditions_chart(record: Record, area: str | None) -> str | None:
    """The chart for an area, or for the whole floor; None where there is nothing to draw."""
    air, damp, slab = (_thinned(record.samples(what, area)) for what in ("air", "humidity", "slab"))
    if len(air) + len(slab) < 2:
        return None
    dew, margin = _dew(record, area, air, damp, slab)
    every = [sample.at for samples in (air, damp, slab) for sample in samples]
    axis = TimeAxis(min(every), max(every), LEFT, RIGHT, record.zone)
    where = area or "the whole floor"
    svg = Svg(f"conditions-{slug(where)}", WIDTH, 380, f"Conditions on {where}", _told(record, margin, slab, damp))
    _temperatures(svg, axis, (air, slab, dew), record.units.scale("c"))
    _margin(svg, axis, margin, record.units.scale("k"))
    _humidity(svg, axis, damp)
    axis.draw(svg, 14, 352)
    return svg.markup()


def _thinned(samples: Sequence[Sample]) -> tuple[Sample, ...]:
    """No more points than a page can show."""
    step = max(1, len(samples) // MOST_POINTS)
    return tuple(samples[::step])


def _dew(
    record: Record, area: str | None, air: Sequence[Sample], damp: Sequence[Sample], slab: Sequence[Sample]
) -> tuple[tuple[Sample, ...], tuple[Sample, ...]]:
    conditions = record.case.weather(area)
    if not air or not damp:
        return (), ()

    def at(instant: datetime) -> tuple[float, float, float]:
        there = instant.timestamp()
        return conditions.air.likely.at(there), conditions.humidity.likely.at(there), conditions.slab.likely.at(there)

    dew = tuple(Sample(sample.at, dew_point_c(*at(sample.at)[:2])) for sample in air)
    margin = tuple(Sample(sample.at, dew_margin_k(*at(sample.at))) for sample in slab) if slab else ()
    return dew, margin


def _temperatures(svg: Svg, axis: TimeAxis, lines: Sequence[Sequence[Sample]], scale: Scale) -> None:
    values = [scale.shown(sample.value) for samples in lines for sample in samples]
    panel = _panel(values, 14, 150, scale.unit)
    _scale(svg, panel)
    placed: list[float] = []
    for samples, kind, name in zip(lines, ("air", "slab", "dew"), ("air", "slab", "dew point"), strict=True):
        _curve(svg, axis, panel, [Sample(sample.at, scale.shown(sample.value)) for sample in samples], kind)
        if samples:
            _label(svg, panel.y(scale.shown(samples[-1].value)), name, placed)


def _margin(svg: Svg, axis: TimeAxis, margin: Sequence[Sample], scale: Scale) -> None:
    values, limit = [scale.shown(sample.value) for sample in margin], scale.shown(LEAST_MARGIN_K)
    panel = _panel([*values, 0.0, limit + 2.0], 176, 262, "over dew")
    limit_y = panel.y(limit)
    svg.box(LEFT, limit_y, RIGHT - LEFT, panel.bottom - limit_y, "below")
    _scale(svg, panel)
    _curve(svg, axis, panel, [Sample(sample.at, scale.shown(sample.value)) for sample in margin], "slab")
    svg.line((LEFT, limit_y), (RIGHT, limit_y), "limit")
    placed: list[float] = []
    _label(svg, limit_y, f"limit {limit:.1f}", placed)
    if margin:
        _label(svg, panel.y(values[-1]), "dew margin", placed)


def _humidity(svg: Svg, axis: TimeAxis, damp: Sequence[Sample]) -> None:
    panel = _panel([*(sample.value for sample in damp), MOST_HUMIDITY_PCT + 5.0], 288, 352, "%")
    limit_y = panel.y(MOST_HUMIDITY_PCT)
    svg.box(LEFT, panel.top, RIGHT - LEFT, limit_y - panel.top, "below")
    _scale(svg, panel)
    _curve(svg, axis, panel, damp, "air")
    svg.line((LEFT, limit_y), (RIGHT, limit_y), "limit")
    placed: list[float] = []
    _label(svg, limit_y, f"limit {MOST_HUMIDITY_PCT:.0f} %", placed)
    if damp:
        _label(svg, panel.y(damp[-1].value), "humidity", placed)


def _panel(values: Sequence[float], top: float, bottom: float, unit: str) -> ChartStrip:
    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    room = max(1.0, (high - low) * 0.08)
    return ChartStrip(low - room, high + room, top, bottom, unit)


def _scale(svg: Svg, panel: ChartStrip) -> None:
    svg.box(LEFT, panel.top, RIGHT - LEFT, panel.bottom - panel.top, "frame")
    svg.text((LEFT, panel.top - 4), panel.unit, "unit")
    step = next(step for step in (1, 2, 5, 10, 20, 50, 100) if (panel.high - panel.low) / step <= 6)
    value = -(-panel.low // step) * step
    while value <= panel.high:
        y = panel.y(value)
        svg.line((LEFT, y), (RIGHT, y), "grid")
        svg.text((LEFT - 5, y + 3), f"{value:g}", "scale")
        value += step


def _curve(svg: Svg, axis: TimeAxis, panel: ChartStrip, samples: Sequence[Sample], kind: str) -> None:
    stretch: list[tuple[float, float]] = []
    last: datetime | None = None
    for sample in samples:
        if last is not None and sample.at - last > LONGEST_GAP:
            svg.path(stretch, kind)
            stretch = []
        stretch.append((axis.x(sample.at), panel.y(sample.value)))
        last = sample.at
    if stretch:
        svg.path(stretch, kind)


def _label(svg: Svg, y: float, words: str, placed: list[float]) -> None:
    """A name at the right end, pushed down where another stands."""
    while any(abs(y - other) < 11 for other in placed):
        y += 11
    placed.append(y)
    svg.text((RIGHT + 5, y + 3), words, "name")


def _told(record: Record, margin: Sequence[Sample], slab: Sequence[Sample], damp: Sequence[Sample]) -> str:
    said = []
    if slab:
        said.append(f"Slab from {_range(slab, record.units.write_temp)}.")
    if margin:
        low = min(margin, key=lambda sample: sample.value)
        side = "under" if low.value < LEAST_MARGIN_K else "over"
        least, limit = record.units.write_margin(low.value), record.units.write_margin(LEAST_MARGIN_K)
        said.append(f"Least dew margin {least} at {record.clock(low.at)}, {side} the limit of {limit}.")
    if damp:
        said.append(f"Humidity from {_range(damp, _percent)}.")
    return " ".join(said) or "No slab reading and no humidity: the dew margin is not recorded."


def _range(samples: Sequence[Sample], write: Callable[[float], str]) -> str:
    values = [sample.value for sample in samples]
    return f"{write(min(values))} to {write(max(values))}"


def _percent(value: float) -> str:
    return f"{value:.0f} %"
