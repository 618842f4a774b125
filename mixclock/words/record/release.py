"""From when each area may be used: one date a use for the owner, with its condition and why; the rest for the firm."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from functools import partial

from mixclock.decide.shapes import Window
from mixclock.decide.windows import area_windows
from mixclock.job.frozen import FrozenRecord
from mixclock.job.profile import SheetSpan
from mixclock.job.progress import Batch, is_lost
from mixclock.job.smallmixes import is_repair, spot_areas
from mixclock.job.steps import FOOT_TRAFFIC, FULL_CURE, VEHICLE_TRAFFIC
from mixclock.units import CrewUnits, write_span
from mixclock.words.enumeration import list_words
from mixclock.words.record.source import Record
from mixclock.words.record.table import Cell, Column, RecordTable, table

USES = ((FOOT_TRAFFIC, "walk on it"), (VEHICLE_TRAFFIC, "drive on it"), (FULL_CURE, "wash it, load it fully"))

ASK_FIRST = "ask the applicator first"


class Release(FrozenRecord):
    """One use of one area. Without a date `refused` says why, where anything was laid at all."""

    area: str
    use: str
    date: datetime | None = None
    refused: str = ""
    window: Window | None = None

    @property
    def cell(self) -> Cell:
        """What stands in the owner's table."""
        return self.date if self.date is not None else self.refused or None


def releases(record: Record) -> Iterator[Release]:
    """Every use of every area, in the job file's order."""
    standing, here = record.standing, dict[tuple[str, str], list[Window]]()
    for (name, _), found in area_windows(
        (window for window in record.windows if window.portion > 0), record.at
    ).items():
        for window in found:
            here.setdefault((name, window.name), []).append(window)
    repairs = [batch for batch in standing.batches if batch.portions and not is_lost(batch)
               and is_repair(standing, batch)]  # fmt: skip
    for area in standing.site.areas:
        for use, _ in USES:
            yield _release(record, area.name, use, here.get((area.name, use), []))
        yield from _of_repairs(record, area.name, repairs)


def _of_repairs(record: Record, area: str, repairs: Sequence[Batch]) -> Iterator[Release]:
    """Every use of the last repair of an area, which is a younger film than the floor around it."""
    mended = [batch for batch in repairs if area in spot_areas(record.standing, batch)]
    if not mended or area in record.case.open_findings:
        return
    windows = [window for window in record.windows if window.batch == mended[-1].id]
    for use, _ in USES:
        opening = next((window for window in windows if window.name == use and window.opens is not None), None)
        if opening is None or opening.opens is None:
            yield Release(f"{area}, {mended[-1].spot}", use)
        elif opening.no_date:
            yield Release(f"{area}, {mended[-1].spot}", use, refused=opening.no_date)
        else:
            date = _half_hour_up(opening.opens.safe_open)
            yield Release(f"{area}, {mended[-1].spot}", use, date, window=opening)


def reasons(record: Record) -> list[str]:
    """What the dates of each area rest on: the condition under which they hold, and why they are not the sheet's."""
    found: dict[str, None] = {}
    for each in releases(record):
        if each.date is not None and each.window is not None:
            found[f"{each.area}: {_condition(record, each.area)} {_why(record, each)}"] = None
        elif each.refused:
            found[f"{each.area}: {_refusal(record, each)}"] = None
    return list(found)


def release_table(record: Record) -> RecordTable:
    """The firm's copy: the date that the owner is told beside the likely one and the sheet's own figure."""
    columns = [
        Column("area", "area"),
        Column("use", "use"),
        Column("coat", "coat that decides"),
        Column("told", "the owner is told"),
        Column("likely", "likely"),
        Column("sheet", "the sheet says"),
        Column("slab", "slab when last read"),
    ]
    said, sheet_of = dict(USES), _sheets_once(record) if record.is_long else partial(_sheet, record)
    rows = (
        (each.area, said[each.use], each.window.coat if each.window else None, each.cell,
         each.window.opens.likely if each.window and each.window.opens else None,
         sheet_of(each), _slab(record, each.area))
        for each in releases(record) if each.cell is not None
    )  # fmt: skip
    return table(
        "release",
        "When it may be used: the firm's copy",
        columns,
        rows,
        empty="No coat was poured, so no use has a date.",
        intro="The owner gets the one date. A later reading of the slab, or a second temperature from the sheet, "
        "brings it nearer to the likely one.",
    )


def _sheets_once(record: Record) -> Callable[[Release], str | None]:
    """What the sheet says of a use. Where many areas share the same words, only the first of them shows these."""
    first: dict[str, str] = {}

    def told(each: Release) -> str | None:
        words = _sheet(record, each)
        if words is None:
            return None
        area = first.setdefault(f"{each.use}: {words}", each.area)
        return words if area == each.area else f"as for {area}"

    return told


def _release(record: Record, area: str, use: str, windows: list[Window]) -> Release:
    laid = [layer for layer in record.case.on(area) if any(piece.portion is not None for piece in layer.pieces)]
    if not laid:
        return Release(area, use)
    if area in record.case.open_findings:
        return Release(area, use, refused=ASK_FIRST)
    if _to_come(record, area):
        return Release(area, use, refused=ASK_FIRST)
    top = laid[-1].coat
    if not any(window.coat == top for window in windows):
        return Release(area, use)
    undated = next((window.no_date for window in windows if window.no_date), "")
    opening = [window for window in windows if window.opens is not None]
    if undated or not opening:
        return Release(area, use, refused=undated or ASK_FIRST)
    last = max(opening, key=lambda window: window.opens.safe_open if window.opens else record.at)
    assert last.opens is not None
    return Release(area, use, _half_hour_up(last.opens.safe_open), window=last)


def _to_come(record: Record, area: str) -> list[str]:
    """The coats that the job file has for an area and that nobody poured there; none of a job that is finished."""
    if record.standing.finished is not None:
        return []
    poured = {coat for coat in record.standing.pours.get(area, {}) if coat is not None}
    return [coat.name for coat in record.standing.site.coats if coat.goes_on(area) and coat.name not in poured]


def _refusal(record: Record, release: Release) -> str:
    coming = _to_come(record, release.area)
    if release.refused != ASK_FIRST:
        return release.refused
    if release.area in record.case.open_findings:
        return f"something was found there and is open: {ASK_FIRST}."
    return f"the {' and the '.join(coming)} {'is' if len(coming) == 1 else 'are'} still to come: {ASK_FIRST}."


def _condition(record: Record, area: str) -> str:
    slab = record.samples("slab", area)
    if not slab:
        return "the slab was not read; its dates hold if it is kept as warm as the room, doors shut."
    return f"if it is kept at {record.units.write_temp(_whole_up(slab[-1].value, record.units))} or warmer, doors shut."


def _whole_up(temp_c: float, units: CrewUnits) -> float:
    """The next whole degree of the crew's scale that is no colder."""
    scale = units.scale("c")
    return scale.back(math.ceil(round(scale.shown(temp_c), 6)))


def _why(record: Record, release: Release) -> str:
    slab, temps = _slab(record, release.area), _stated_temps(record, release)
    if slab is None or not temps:
        return "Why: the sheet names no temperature." if not temps else f"Why: the sheet speaks of {temps}."
    return f"Why: your slab was {slab}, the sheet says {temps}."


def _slab(record: Record, area: str) -> str | None:
    slab = record.samples("slab", area)
    return record.units.write_temp(slab[-1].value) if slab else None


def _span(record: Record, release: Release) -> SheetSpan | None:
    window = release.window
    profile = record.standing.profile(window.product) if window and window.product else None
    rule = profile.window(release.use) if profile else None
    return rule.opens if rule else None


def _stated_temps(record: Record, release: Release) -> str:
    span = _span(record, release)
    temps = [point.temp_c for point in span.points if point.temp_c is not None] if span else []
    told = list(dict.fromkeys(record.units.write_temp(temp_c) for temp_c in temps))
    return list_words(told)


def _sheet(record: Record, release: Release) -> str | None:
    """The sheet's own figures, each at its temperature."""
    span = _span(record, release)
    if span is None:
        return None
    return "; ".join(
        _printed(point.span_s) + (f" at {record.units.write_temp(point.temp_c)}" if point.temp_c is not None else "")
        for point in span.points
    )


def _printed(span_s: float) -> str:
    """A span as sheets print it: hours up to ten days."""
    return f"{span_s / 3600:g} h" if 3600.0 <= span_s <= 10 * 86_400.0 else write_span(span_s)


def _half_hour_up(at: datetime) -> datetime:
    whole = at.replace(minute=0, second=0, microsecond=0)
    steps = -(-(at - whole) // timedelta(minutes=30))
    return whole + steps * timedelta(minutes=30)
