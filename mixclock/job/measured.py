"""How large an area is, by its table in a job file: a size, sides and circles, or its corners."""

from __future__ import annotations

import re

from mixclock.job import kinds
from mixclock.job.floorshape import FloorShape, read_corners, read_shape
from mixclock.job.mistakes import quoted
from mixclock.job.tablereading import QuantityKind, Table
from mixclock.units import UnitError, crew_units_for

_LENGTH = re.compile(r"[\d.]+ *(?:[a-z]+|[\'\"])")
"""The lengths of a shape, which show in which units the crew measures."""

AGREES = 0.02
"""A size stated beside corners may differ by this much, since it was rounded (judgement)."""

CORNERS = 'expected corners = ["0 m, 0 m", "6 m, 0 m", "6 m, 4 m", "0 m, 4 m"], in order round the floor'


def read_measured(table: Table) -> tuple[float | None, FloorShape | None]:
    """The area in m², with its shape if the file tells one. Mistakes go to the table."""
    by_corners = _corners(table)
    shapes: list[FloorShape] = []
    size_m2 = table.quantity("size", _measured(shapes))
    table.found.quantities.extend(_LENGTH.findall(str(table.values.get("size", ""))))
    if "size" not in table.values and by_corners is None and "corners" not in table.values:
        table.wrong("size", "is missing", f'expected something like "{kinds.AREA.example}"')
    if by_corners is None:
        shape = shapes[0] if shapes and shapes[0].told else None
        return size_m2, shape
    if size_m2 is not None and abs(size_m2 - by_corners.area_m2) > AGREES * by_corners.area_m2:
        stated = quoted(table.values["size"])
        table.wrong("size", f"{stated} is not what the corners enclose, {_written(by_corners, table)}", "leave one out")
    return by_corners.area_m2, by_corners


def _written(shape: FloorShape, table: Table) -> str:
    return crew_units_for(table.found.quantities).write_area(shape.area_m2)


def _measured(shapes: list[FloorShape]) -> QuantityKind:
    """Reads an area, and keeps its shape as well."""

    def read(text: str) -> float:
        shapes.append(read_shape(text))
        return shapes[-1].area_m2

    return QuantityKind(read, kinds.AREA.example, kinds.AREA.unit, above=kinds.AREA.above, high=kinds.AREA.high)


def _corners(table: Table) -> FloorShape | None:
    raw = table.raw("corners")
    if raw is None:
        return None
    if not isinstance(raw, list) or not all(isinstance(each, str) for each in raw):
        table.wrong("corners", f"{quoted(raw)} is no list of corners", CORNERS)
        return None
    table.found.quantities.extend(raw)
    try:
        shape = read_corners(raw)
    except UnitError as error:
        what, colon, mend = str(error).rpartition(": ")
        table.wrong("corners", what if colon else mend, mend if colon else CORNERS)
        return None
    if shape.area_m2 >= kinds.AREA.high:
        table.wrong("corners", f"enclose {_written(shape, table)}, which is no floor", CORNERS)
        return None
    return shape
