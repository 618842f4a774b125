"""The picture of a plan: people and their tasks over time, with the windows behind the steps. Ink on paper only."""

from __future__ import annotations

from datetime import datetime, timedelta
from html import escape

from mixclock.decide.plan.floor.placenames import areas_said
from mixclock.decide.plan.floor.plans import PlannedStep
from mixclock.words.plan.panels import Band, CoatSpan, DayPanel, PersonRow, coat_spans, has_an_edge, panels
from mixclock.words.plan.sheet import PlanSheet
from mixclock.words.record.axis import TimeAxis
from mixclock.words.record.svg import Svg

WIDTH, LEFT, RIGHT = 900.0, 210.0, 880.0
ROW, BOX, PERSON = 19.0, 15.0, 8.0
PANEL_HEAD, PANEL_FOOT = 26.0, 30.0
COAT_ROW = 24.0
HEAD = 84.0
WIDE_ENOUGH = 6.5

STYLES = """
.plan text{font:10.5px "Segoe UI","Helvetica Neue",Arial,sans-serif;fill:#1c1b19}
.plan .title{font-size:18px;font-weight:600}
.plan .head{font-size:12.5px;font-weight:600}
.plan .who{font-weight:600}
.plan .row{text-anchor:end}
.plan .tick,.plan .soft{fill:#4d4942}
.plan .tick,.plan .on,.plan .under{text-anchor:middle}
.plan .on{fill:#fff;font-size:10px;font-weight:600}
.plan .dark{fill:#fff}
.plan .under{font-size:10px;font-weight:600}
.plan .paper{fill:#fff}
.plan .grid{stroke:#d8d3c8;stroke-width:.7}
.plan .frame{fill:none;stroke:#6d675c;stroke-width:.9}
.plan .between{stroke:#6d675c;stroke-width:.9}
.plan .bound{fill:#1c1b19;stroke:#fff;stroke-width:.8}
.plan .free{fill:#fff;stroke:#1c1b19;stroke-width:1}
.plan .band{stroke:#8d877a;stroke-width:.5}
.plan .edge{stroke:#1c1b19;stroke-width:2.4}
.plan .mark{fill:#fff;stroke:#1c1b19;stroke-width:1.6}
"""
"""Dark: a step with an edge to keep; white: one without; hatched: its window."""


class PlanDrawing(Svg):
    """One picture whose bands carry their own hatching, so that several fit on one page."""

    def __init__(self, name: str, height: float, title: str, told: str, width: float = WIDTH) -> None:
        """Start an empty picture with its pattern."""
        super().__init__(name, width, height, title, told)
        self.hatch = f"{name}-hatch"
        self._parts.append(
            f'<defs><pattern id="{self.hatch}" width="5" height="5" patternUnits="userSpaceOnUse" '
            'patternTransform="rotate(45)"><rect width="5" height="5" fill="#fff"/>'
            '<path d="M0 0V5" stroke="#8d877a" stroke-width="1.3"/></pattern></defs>'
        )

    def band(self, left: float, right: float, top: float, height: float) -> None:
        """A hatched stretch that ends in a strong edge."""
        width = max(0.6, right - left)
        self._parts.append(
            f'<rect class="band" fill="url(#{self.hatch})" x="{left:.1f}" y="{top:.1f}" width="{width:.1f}" '
            f'height="{height:.1f}"/>'
        )

    def markup(self) -> str:
        """The picture as it stands in a page."""
        return super().markup().replace("<svg ", '<svg class="plan" ', 1)

    def document(self) -> str:
        """The picture as a file of its own."""
        size = f'xmlns="http://www.w3.org/2000/svg" lang="en" width="{self._width:.0f}" height="{self._height:.0f}"'
        inner = self.markup().replace("<svg ", f"<svg {size} ", 1)
        head, rest = inner.split("</desc>", 1)
        return f"{head}</desc><style>{escape(STYLES, quote=False)}</style>{rest}\n"


def plan_picture(sheet: PlanSheet) -> str:
    """The whole plan as one SVG file."""
    stretches, spans = panels(sheet), coat_spans(sheet)
    height = HEAD + _overview_height(spans) + sum(_height(panel) for panel in stretches) + 10.0
    drawing = PlanDrawing("plan", height, f"{sheet.site.name}: the plan", _told(sheet))
    drawing.box(0, 0, WIDTH, height, "paper")
    drawing.text((18, 30), sheet.site.name, "title")
    _draw_legend(drawing, 46.0)
    top = HEAD
    top = _draw_overview(drawing, sheet, spans, top)
    for panel in stretches:
        top = _draw_panel(drawing, sheet, panel, top)
    return drawing.document()


def panel_figures(sheet: PlanSheet) -> list[tuple[str, str]]:
    """Title and markup of each picture for a page: the days first, then stretch by stretch."""
    figures = []
    spans = coat_spans(sheet)
    if spans:
        drawing = PlanDrawing(
            "plan-days", _overview_height(spans), "The coats over the days", _spans_told(sheet, spans)
        )
        _draw_overview(drawing, sheet, spans, 0.0)
        figures.append(("The coats over the days", drawing.markup()))
    for number, panel in enumerate(panels(sheet), start=1):
        drawing = PlanDrawing(f"plan-{number}", _height(panel), panel.title, _panel_told(sheet, panel))
        _draw_panel(drawing, sheet, panel, 0.0)
        figures.append((panel.title, drawing.markup()))
    return figures


def legend_svg() -> str:
    """The legend for a page."""
    drawing = PlanDrawing("plan-legend", 30.0, "What the marks mean", "Dark: a step with an edge to keep.")
    _draw_legend(drawing, 6.0)
    return drawing.markup()


def _draw_legend(drawing: PlanDrawing, top: float) -> None:
    drawing.box(18, top, 26, BOX, "bound")
    drawing.text((31, top + 11), "3", "on")
    drawing.text((50, top + 11), "batch 3: a step that must end by an edge")
    drawing.box(278, top, 26, BOX, "free")
    drawing.text((310, top + 11), "a step without one")
    drawing.band(424, 474, top + 4, 7)
    drawing.line((474, top), (474, top + BOX), "edge")
    drawing.text((482, top + 11), "its window, up to the early edge")
    drawing.mark((680, top + 8))
    drawing.text((690, top + 11), "the tightest step")


def _overview_height(spans: list[CoatSpan]) -> float:
    return PANEL_HEAD + COAT_ROW * len(spans) + PANEL_FOOT if spans else 0.0


def _draw_overview(drawing: PlanDrawing, sheet: PlanSheet, spans: list[CoatSpan], top: float) -> float:
    """The coats over the days with the recoat windows of what lies below."""
    if not spans:
        return top
    starts = min(begin for span in spans for begin, _ in span.work)
    last = max(end for span in spans for _, end in span.work)
    ends = max([last, *(min(span.closes, last + (last - starts) * 0.4) for span in spans if span.closes)])
    room = max(timedelta(minutes=10), (ends - starts) * 0.03)
    axis = TimeAxis(starts - room, ends + room, LEFT, RIGHT, sheet.zone)
    drawing.text((18, top + 14), "The coats over the days", "head")
    base = top + PANEL_HEAD
    bottom = base + COAT_ROW * len(spans)
    axis.draw(drawing, base, bottom)
    for index, span in enumerate(spans):
        _draw_coat(drawing, axis, span, base + COAT_ROW * index)
    drawing.box(LEFT, base, RIGHT - LEFT, bottom - base, "frame")
    return top + _overview_height(spans)


def _draw_coat(drawing: PlanDrawing, axis: TimeAxis, span: CoatSpan, top: float) -> None:
    drawing.text((LEFT - 8, top + 16), span.coat, "row")
    if span.opens is not None:
        until = span.closes or axis.end
        drawing.band(axis.x(span.opens), axis.x(until), top + 8, 9)
        if span.closes is not None and span.closes <= axis.end:
            drawing.line((axis.x(span.closes), top + 4), (axis.x(span.closes), top + 21), "edge")
    for begin, end in span.work:
        drawing.box(axis.x(begin), top + 5, axis.x(end) - axis.x(begin), BOX, "bound")


def _height(panel: DayPanel) -> float:
    return PANEL_HEAD + ROW * len(panel.rows) + PERSON * len(panel.people()) + PANEL_FOOT


def _draw_panel(drawing: PlanDrawing, sheet: PlanSheet, panel: DayPanel, top: float) -> float:
    """One stretch of work."""
    room = max(timedelta(minutes=2), (panel.ends - panel.starts) * 0.02)
    shown_until = max([panel.ends, *(_shown(band, panel) for row in panel.rows for band in row.bands)])
    axis = TimeAxis(panel.starts - room, shown_until + room, LEFT, RIGHT, sheet.zone)
    drawing.text((18, top + 14), panel.title, "head")
    base = top + PANEL_HEAD
    bottom = base + ROW * len(panel.rows) + PERSON * len(panel.people())
    axis.draw(drawing, base, bottom)
    at = base
    for who, rows in panel.people():
        if at > base:
            drawing.line((18, at), (RIGHT, at), "between")
        at += PERSON / 2
        drawing.text((18, at + 13), who, "who")
        for row in rows:
            _draw_row(drawing, sheet, axis, row, at)
            at += ROW
        at += PERSON / 2
    drawing.box(LEFT, base, RIGHT - LEFT, bottom - base, "frame")
    return top + _height(panel)


def _shown(band: Band, panel: DayPanel) -> datetime:
    """How far a window is drawn: a longer one would make the steps too thin to see."""
    return min(band.closes, panel.ends + (panel.ends - panel.starts) * 0.25)


def _draw_row(drawing: PlanDrawing, sheet: PlanSheet, axis: TimeAxis, row: PersonRow, top: float) -> None:
    drawing.text((LEFT - 8, top + 13), row.said, "row")
    levels = max((band.level for band in row.bands), default=0) + 1
    height = BOX / levels
    for band in row.bands:
        y = top + 2 + band.level * height
        drawing.band(axis.x(band.starts), axis.x(band.closes), y, height)
        if band.closes <= axis.end:
            drawing.line((axis.x(band.closes), y), (axis.x(band.closes), y + height), "edge")
    for step in row.steps:
        _draw_step(drawing, axis, step, top + 2, step is sheet.plan.tightest)


def _draw_step(drawing: PlanDrawing, axis: TimeAxis, step: PlannedStep, top: float, tightest: bool) -> None:
    left, right = axis.x(step.starts), axis.x(step.ends)
    bound = has_an_edge(step)
    drawing.box(left, top, right - left, BOX, "bound" if bound else "free")
    if step.batch is not None and right - left >= WIDE_ENOUGH * len(str(step.batch)):
        drawing.text(((left + right) / 2, top + 11), str(step.batch), "on" if bound else "under")
    if tightest:
        drawing.mark((right + 6, top + BOX / 2))


def _told(sheet: PlanSheet) -> str:
    return " ".join([_spans_told(sheet, coat_spans(sheet)), *(_panel_told(sheet, panel) for panel in panels(sheet))])


def _spans_told(sheet: PlanSheet, spans: list[CoatSpan]) -> str:
    said = []
    for span in spans:
        begin, end = span.work[0][0], span.work[-1][1]
        said.append(f"{span.coat}: {sheet.day_and_clock(begin)} to {sheet.day_and_clock(end, up=True)}.")
        if span.opens is not None:
            shut = f" to {sheet.day_and_clock(span.closes)}" if span.closes else ""
            said.append(f"{span.below} is open for it from {sheet.day_and_clock(span.opens, up=True)}{shut}.")
    return " ".join(said)


def _panel_told(sheet: PlanSheet, panel: DayPanel) -> str:
    steps = [
        f"{sheet.clock(step.starts)} {row.said}{f' batch {step.batch}' if step.batch else ''} {areas_said(step.areas)}"
        for row in panel.rows
        for step in row.steps
    ]
    return f"{panel.title}. {'; '.join(step.strip() for step in steps)}."
