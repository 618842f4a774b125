"""What mixclock understood of a figure that somebody typed in from a data sheet, in both systems of units."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from types import MappingProxyType

from mixclock.job import kinds
from mixclock.job.profile import SheetSpan
from mixclock.job.sheetanswers import Form, answer_as_toml
from mixclock.job.sheetquestions import KIND_OF, Question
from mixclock.job.sheetspans import read_span, say_point
from mixclock.job.tablereading import Findings, QuantityKind, Table
from mixclock.units import METRIC_CREW, US_CREW, CrewUnits, write_span

_WRITERS: Mapping[QuantityKind, Callable[[CrewUnits, float], str]] = MappingProxyType(
    {
        kinds.TEMP: CrewUnits.write_temp,
        kinds.TEMP_DIFFERENCE: CrewUnits.write_difference,
        kinds.MASS: CrewUnits.write_mass,
        kinds.FILM: CrewUnits.write_film,
        kinds.DENSITY: CrewUnits.write_density,
        kinds.SPREAD: CrewUnits.write_spread,
    }
)


def write_quantity(kind: QuantityKind, value: float) -> str:
    """A quantity in both systems, in one where they agree.

    >>> write_quantity(kinds.FILM, 203.2), write_quantity(kinds.HUMIDITY, 85.0), write_quantity(kinds.SPAN, 180.0)
    ('203 µm (8 mil)', '85 %', '3 min')
    """
    if kind in (kinds.SPAN, kinds.SPAN_OR_ZERO):
        return write_span(value)
    writer = _WRITERS.get(kind)
    if writer is None:
        return f"{value:.3g} {kind.unit}"
    metric, us = writer(METRIC_CREW, value), writer(US_CREW, value)
    return metric if metric == us else f"{metric} ({us})"


def write_sheet_span(span: SheetSpan, units: CrewUnits = METRIC_CREW) -> str:
    """A span as the sheet states it.

    >>> from mixclock.job.profile import SheetPoint
    >>> write_sheet_span(SheetSpan((SheetPoint(2400.0, 20.0), SheetPoint(1200.0, 30.0))))
    '40 min at 20 °C, 20 min at 30 °C'
    """
    if not span.depends_on_temperature:
        return f"{_span(span.points[0].span_s)} at any temperature"
    said = ((_span(point.span_s), say_point(point, units).replace(", ", " and ")) for point in span.points)
    return ", ".join(f"{how_long} at {where}" for how_long, where in said)


def understood(question: Question, typed: str) -> str:
    """An accepted answer, said back with the units in which it was understood; empty where there is nothing to say."""
    found = Findings()
    values = tomllib.loads(f"answer = {answer_as_toml(question.form, typed)}")
    table = Table(values, "", found)
    kind = KIND_OF.get(question.key)
    if question.form is Form.SPAN:
        span = read_span(
            table, "answer", zero=question.key == "windows.induction.opens", opens=question.key.endswith(".opens")
        )
        return "" if span is None else write_sheet_span(span)
    if kind is not None and question.form is Form.PAIR:
        pair = table.pair("answer", kind)
        return "" if pair is None else " to ".join(write_quantity(kind, value) for value in pair)
    if kind is not None:
        value = table.quantity("answer", kind)
        return "" if value is None else write_quantity(kind, value)
    return ""


def _span(span_s: float) -> str:
    return "none" if span_s == 0.0 else write_span(span_s)
