"""Tables of the record: built once, written as HTML, CSV and JSON."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import lru_cache

from mixclock.units import CrewUnits, Scale
from mixclock.units.scales import METRIC
from mixclock.values import dataclass

Cell = str | float | int | datetime | bool | None


@dataclass(frozen=True)
class Column:
    """One column. `key` ends with the SI-based unit of its numbers; `wide` columns may be left out in print."""

    key: str
    title: str
    digits: int = 1
    page: bool = True


@dataclass(frozen=True)
class RecordTable:
    """One table of the record. An empty cell of a column in `must` is something that nobody recorded."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    intro: str = ""
    must: frozenset[str] = frozenset()
    empty: str = "Nothing was stated."

    def __post_init__(self) -> None:
        """Every row has a cell for every column."""
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"table {self.name} has {len(self.columns)} columns and a row of {len(row)}")

    def as_dicts(self) -> list[dict[str, Cell]]:
        """The rows by column key."""
        keys = [column.key for column in self.columns]
        return [dict(zip(keys, row, strict=True)) for row in self.rows]


def table(
    name: str,
    title: str,
    columns: Sequence[Column],
    rows: Iterable[Sequence[Cell]],
    *,
    intro: str = "",
    must: Iterable[str] = (),
    empty: str = "Nothing was stated.",
) -> RecordTable:
    """A table from any rows."""
    return RecordTable(name, title, tuple(columns), tuple(tuple(row) for row in rows), intro, frozenset(must), empty)


@lru_cache(maxsize=256)
def scale_of(column: Column, units: CrewUnits) -> Scale | None:
    """How the numbers of a column are shown, by the end of its key; None where they have no unit.

    >>> from mixclock.units import US_CREW
    >>> scale_of(Column("rate_m2_h", "rate"), US_CREW).unit, scale_of(Column("area", "area"), US_CREW)
    ('ft²/h', None)
    """
    found = [unit for unit in METRIC if column.key.endswith(f"_{unit}")]
    return units.scale(max(found, key=len)) if found else None


def in_units(value: float, column: Column, units: CrewUnits) -> float:
    """A number of a column in the units in which the crew reads it.

    >>> from mixclock.units import US_CREW
    >>> in_units(20.0, Column("slab_c", "slab"), US_CREW)
    68.0
    """
    scale = scale_of(column, units)
    return value if scale is None else scale.shown(value)


def heading(column: Column, units: CrewUnits) -> str:
    """A column's title with its unit.

    >>> from mixclock.units import METRIC_CREW, US_CREW
    >>> heading(Column("slab_c", "slab"), US_CREW), heading(Column("area", "area"), METRIC_CREW)
    ('slab, °F', 'area')
    """
    scale = scale_of(column, units)
    return f"{column.title}, {scale.unit}" if scale else column.title
