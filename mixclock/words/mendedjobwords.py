"""What a mended job file changes, line by line."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Sequence
from typing import Any
from zoneinfo import ZoneInfo

from mixclock.job.site import Area, Coat, Forecast, Hours, Person, Site, Vessel
from mixclock.job.steps import row_of
from mixclock.units import CrewUnits, write_date, write_span, write_time_of_day
from mixclock.words.fieldwords import field_label, field_value

_Part = Area | Person | Vessel | Coat | Forecast
_KEYS = ("name", "at")
_FOLLOWS = ("shared_m",)
"""Values that follow from other answers in the file: nobody typed them, so no change of them is reported."""

_WHOLE = ("zone", "currency", "door", "mixing_at", "sealed", "saw_cuts")


def site_changes(old: Site, new: Site) -> tuple[str, ...]:
    """Every change in one line with the value before; none where the two say the same."""
    return tuple(_changes(old, new))


def _changes(old: Site, new: Site) -> Iterator[str]:
    if old.units != new.units:
        yield f"units: {new.units.system} instead of {old.units.system}"
    yield from _fields("", old, new, new.units, _WHOLE)
    yield from _lead_changes(old, new)
    yield from _fields("hours: ", old.hours or Hours(), new.hours or Hours(), new.units)
    if (old.hours is None) is not (new.hours is None):
        yield "hours: " + ("stated" if old.hours is None else "not stated any more")
    zone = new.wall
    yield from _parts(old.areas, new.areas, new.units, _name)
    yield from _parts(old.crew, new.crew, new.units, _name)
    yield from _parts(old.vessels, new.vessels, new.units, _name)
    yield from _parts(old.coats, new.coats, new.units, lambda coat: f"coat {_name(coat)}")
    yield from _parts(old.forecast, new.forecast, new.units, lambda expected: f"forecast {_when(expected, zone)}")


def _lead_changes(old: Site, new: Site) -> Iterator[str]:
    before, after = dict(old.leads), dict(new.leads)
    for step in dict.fromkeys((*before, *after)):
        if before.get(step) != after.get(step):
            was, now = (write_span(lead[step]) if step in lead else "as usual" for lead in (before, after))
            yield f"warned of {row_of(step).name}: {now} ahead instead of {was}"


def _parts(old: Sequence[_Part], new: Sequence[_Part], units: CrewUnits, call: Callable[[Any], str]) -> Iterator[str]:
    before, after = ({call(part): part for part in parts} for parts in (old, new))
    yield from (f"{name}: gone" for name in before if name not in after)
    yield from (f"{name}: new" for name in after if name not in before)
    for name in after:
        if name in before:
            yield from _fields(f"{name}: ", before[name], after[name], units)
    if [name for name in before if name in after] != [name for name in after if name in before]:
        yield f"another order: {', '.join(after)}"


def _fields(head: str, old: Any, new: Any, units: CrewUnits, only: Sequence[str] | None = None) -> Iterator[str]:
    names = only if only is not None else [field.name for field in dataclasses.fields(new)]
    for name in names:
        before, after = getattr(old, name), getattr(new, name)
        if before != after and name not in (*_KEYS, *_FOLLOWS):
            was, now = field_value(name, before, units), field_value(name, after, units)
            told = f"{now} instead of {was}" if was != now else f"{now}, a little other than before"
            yield f"{head}{field_label(name)} {told}"


def _name(part: Any) -> str:
    return str(part.name)


def _when(expected: Forecast, zone: ZoneInfo) -> str:
    there = expected.at.astimezone(zone)
    return f"{write_date(there)} {write_time_of_day(there.timetz())}"
