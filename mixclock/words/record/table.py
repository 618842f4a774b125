"""Tables of the record: built once, written as HTML, CSV and JSON."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from types import MappingProxyType

Cell = str | float | int | datetime | bool | None

NOT_RECORDED = "not recorded"


@dataclass(frozen=True)
class Column:
    """One column. `key` ends with the SI-based unit of its numbers; `wide` columns may be left out in print."""

    key: str
    title: str
    digits: int = 1
    page: bool = True


@dataclass(frozen=True)
class Table:
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
) -> Table:
    """A table from any rows."""
    return Table(name, title, tuple(columns), tuple(tuple(row) for row in rows), intro, frozenset(must), empty)


UNITS: Mapping[str, str] = MappingProxyType(
    {
        "c": "°C",
        "k": "°C apart",
        "pct": "%",
        "l": "L",
        "kg": "kg",
        "um": "µm",
        "m2": "m²",
        "m": "m",
        "min": "min",
        "h": "h",
        "m2_h": "m²/h",
        "m_h": "m/h",
        "kg_m2": "kg/m²",
        "m2_l": "m²/L",
    }
)
"""The units of columns by the end of their key, as they stand in a heading."""


def unit_of(key: str) -> str | None:
    """The unit key at the end of a column's key.

    >>> unit_of("slab_c"), unit_of("rate_m2_h"), unit_of("area"), unit_of("film_um")
    ('c', 'm2_h', None, 'um')
    """
    found = [unit for unit in UNITS if key.endswith(f"_{unit}")]
    return max(found, key=len) if found else None


@dataclass(frozen=True)
class DisplayUnit:
    """How a unit is shown to a crew: a factor, an offset, and what stands in the heading."""

    factor: float
    unit: str
    offset: float = 0.0
    digits: int | None = None


US: Mapping[str, DisplayUnit] = MappingProxyType(
    {
        "c": DisplayUnit(1.8, "°F", 32.0, 0),
        "k": DisplayUnit(1.8, "°F apart"),
        "l": DisplayUnit(1 / 3.785411784, "gal", digits=2),
        "kg": DisplayUnit(1 / 0.45359237, "lb"),
        "um": DisplayUnit(1 / 25.4, "mil", digits=1),
        "m2": DisplayUnit(1 / 0.09290304, "ft²", digits=0),
        "m": DisplayUnit(1 / 0.3048, "ft"),
        "m2_h": DisplayUnit(1 / 0.09290304, "ft²/h", digits=0),
        "m_h": DisplayUnit(1 / 0.3048, "ft/h", digits=0),
        "kg_m2": DisplayUnit(0.09290304 / 0.45359237, "lb/ft²", digits=3),
        "m2_l": DisplayUnit(3.785411784 / 0.09290304, "ft²/gal", digits=0),
    }
)
"""US customary units; exact definitions (NIST Handbook 44, appendix C)."""


@lru_cache(maxsize=256)
def shown(key: str, us_units: bool) -> DisplayUnit | None:
    """How the numbers of a column are shown; None where they have no unit."""
    unit = unit_of(key)
    if unit is None:
        return None
    return US[unit] if us_units and unit in US else DisplayUnit(1.0, UNITS[unit])


def in_units(value: float, column: Column, us_units: bool) -> float:
    """A number of a column in the units in which the crew reads it.

    >>> in_units(20.0, Column("slab_c", "slab"), us_units=True)
    68.0
    """
    how = shown(column.key, us_units)
    return value if how is None else value * how.factor + how.offset


def heading(column: Column, us_units: bool) -> str:
    """A column's title with its unit.

    >>> heading(Column("slab_c", "slab"), us_units=True), heading(Column("area", "area"), us_units=False)
    ('slab, °F', 'area')
    """
    how = shown(column.key, us_units)
    return f"{column.title}, {how.unit}" if how else column.title
