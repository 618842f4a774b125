"""A lane for each area: the windows of its batches, early to late, and what was stated on them.

Windows of minutes and hours and windows of days do not fit on one scale, so each coat has a chart of the day and all
coats share one of the weeks.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta

from mixclock.decide.shapes import Edge, Window
from mixclock.decide.why.layers import Layer
from mixclock.job.stepkinds import CallKind
from mixclock.job.steps import row_of
from mixclock.units import write_date
from mixclock.words.record.axis import TimeAxis
from mixclock.words.record.source import Record
from mixclock.words.record.svg import GatheredSvg, Svg

WIDTH, LEFT, RIGHT, LANE = 720.0, 150.0, 700.0, 17.0
MOST_TOGETHER = 8  # their lanes fit one sheet of paper


def day_chart(record: Record, laid: Sequence[Layer], whose: str) -> str | None:
    """The windows of minutes and hours of a coat on one area, or on some that were laid on one day."""
    windows = [window for each in laid for window in _windows(record, each) if not _is_of_days(window)]
    return _chart(record, windows, f"{whose}: the steps") if windows else None


def days_chart(record: Record, laid: Sequence[Layer], whose: str) -> str | None:
    """The windows of days of the same."""
    windows = [window for each in laid for window in _windows(record, each) if _is_of_days(window)]
    return _chart(record, windows, f"{whose}: the days after") if windows else None


def together(record: Record) -> Iterator[tuple[str, list[Layer]]]:
    """What one picture shows, with its name: a coat on an area; of a long job on some areas of one day."""
    most = MOST_TOGETHER if record.is_long else 1
    found: list[Layer] = []
    for laid in record.case.layers.values():
        if found and (len(found) == most or _day_of(record, laid) != _day_of(record, found[0])):
            yield _name(record, found), found
            found = []
        found.append(laid)
    if found:
        yield _name(record, found), found


def _day_of(record: Record, laid: Layer) -> tuple[str, date]:
    return laid.coat, laid.first.astimezone(record.zone).date()


def _name(record: Record, laid: Sequence[Layer]) -> str:
    if len(laid) == 1:
        return f"{laid[0].area}, {laid[0].coat}"
    day = write_date(laid[0].first.astimezone(record.zone))
    return f"{laid[0].area} to {laid[-1].area}, {laid[0].coat}, {day}"


def _is_of_days(window: Window) -> bool:
    return row_of(window.name).about is CallKind.SLAB


def _windows(record: Record, laid: Layer) -> Iterator[Window]:
    for piece in laid.pieces:
        batch, number = piece.batch.id, piece.portion.number if piece.portion else 0
        yield from record.windows_of.get((batch, None), ())
        yield from (window for window in record.windows_of.get((batch, laid.area), ()) if window.portion == number)


def _chart(record: Record, windows: Sequence[Window], title: str) -> str:
    start = min(window.starts for window in windows)
    end = max(_last(window) for window in windows)
    room = (end - start) * 0.04
    axis = TimeAxis(start - room, end + room, LEFT, RIGHT, record.zone)
    height = LANE * len(windows) + 34
    svg = GatheredSvg(WIDTH, height, title, _told(record, windows))
    bottom = height - 20
    axis.draw(svg, 8, bottom)
    before: int | None = None
    for index, window in enumerate(windows):
        again = record.is_long and window.batch == before
        who = window.name if again or window.batch is None else f"batch {window.batch} {window.name}"
        svg.text((LEFT - 6, 21 + LANE * index), who, "lane")
        _lane(svg, axis, window, 10 + LANE * index)
        before = window.batch
    return svg.markup()


def _last(window: Window) -> datetime:
    edges = [edge for edge in (window.opens, window.closes) if edge is not None]
    ends = [edge.last for edge in edges]
    stated = [window.stated] if window.stated else []
    nearest = max(ends, default=window.starts + timedelta(minutes=5))
    far = window.starts + 4 * (nearest - window.starts)
    return max([nearest, *(min(at, far) for at in stated)])


def _lane(svg: Svg, axis: TimeAxis, window: Window, top: float) -> None:
    """One window: hatched while it is shut, plain while open, shaded from its early to its late edge."""
    height = LANE - 5
    opens, closes = window.opens, window.closes
    begin = axis.x(window.starts)
    if opens is not None:
        svg.box(begin, top + 2, axis.x(opens.early) - begin, height, "shut")
        _doubt(svg, axis, opens, top, height)
        begin = axis.x(opens.safe_open)
    if closes is not None:
        svg.box(begin, top + 2, axis.x(closes.early) - begin, height, "open")
        _doubt(svg, axis, closes, top, height)
    elif opens is not None:
        svg.box(begin, top + 2, axis.right - begin, height, "open")
    if window.stated is not None:
        svg.mark((axis.x(window.stated), top + 2 + height / 2), "mark")


def _doubt(svg: Svg, axis: TimeAxis, edge: Edge, top: float, height: float) -> None:
    early, likely = axis.x(edge.early), axis.x(edge.likely)
    late = axis.x(edge.late) if edge.late is not None else likely
    svg.box(early, top + 2, late - early, height, "doubt")
    svg.line((likely, top + 1), (likely, top + 3 + height), "likely")


def _told(record: Record, windows: Sequence[Window]) -> str:
    """The chart in words; a chart of one batch names it once. A long job has them in its table of steps."""
    if record.is_long:
        return "The times stand under: The clock of each step."
    batches = {window.batch for window in windows}
    if len(batches) > 1 or None in batches:
        return " ".join(_sentence(record, window, of_many=True) for window in windows)
    said = " ".join(_sentence(record, window, of_many=False) for window in windows)
    return f"Batch {windows[0].batch}. {said}"


def _sentence(record: Record, window: Window, *, of_many: bool) -> str:
    who = f"Batch {window.batch} {window.name}" if window.batch is not None and of_many else window.name.capitalize()
    said = []
    if window.opens is not None:
        said.append(f"opens about {record.clock(window.opens.likely)}")
    if window.closes is not None:
        said.append(f"closes about {record.clock(window.closes.likely)}")
    said.append(f"stated {record.clock(window.stated)}" if window.stated else "not stated")
    return f"{who}: {', '.join(said)}."
