"""One window against temperature: its edges with their bands, and the points that the sheet states."""

from __future__ import annotations

from collections.abc import Sequence

from mixclock.job.profile import SheetSpan
from mixclock.units import CrewUnits
from mixclock.values import dataclass
from mixclock.words.picture.drawing import Drawing
from mixclock.words.picture.scales import Panel, span_axis, temperature_axis
from mixclock.words.profilepage import TABLE_RH_PCT, EdgeRow

SHORTEST_S = 1.0
"""A window that opens sooner than this is not drawn: it has no clock."""


@dataclass(frozen=True)
class WindowCurves:
    """A window with the rows of its edges over many temperatures, and what the sheet states of each."""

    name: str
    rows: tuple[EdgeRow, ...]
    spans: tuple[SheetSpan, ...]

    @property
    def spans_s(self) -> list[float]:
        """Every time that the scale must reach."""
        return [span_s for row in self.rows for at in row.at for span_s in (at.early_s, at.late_s)]

    def told(self, temps_c: Sequence[float], units: CrewUnits) -> str:
        """The same in words, at the temperatures that the sheet states."""
        said = []
        for row in self.rows:
            near = [at for at in row.at if at.temp_c in temps_c]
            times = "; ".join(
                f"{units.write_temp(at.temp_c)}: early {units.write_span(at.early_s)}, likely "
                f"{units.write_span(at.likely_s)}, late {units.write_span(at.late_s)}"
                for at in near
            )
            said.append(f"{self.name} {row.edge}, from {row.after}. {times}.")
        return " ".join(said)


def windows_of(rows: Sequence[EdgeRow], spans: dict[tuple[str, str], SheetSpan]) -> list[WindowCurves]:
    """The windows that have something to draw, with both edges of each together."""
    drawn = [row for row in rows if row.at[0].likely_s >= SHORTEST_S]
    names = dict.fromkeys(row.window for row in drawn)
    grouped = {name: tuple(row for row in drawn if row.window == name) for name in names}
    return [WindowCurves(name, own, tuple(spans[(name, row.edge)] for row in own)) for name, own in grouped.items()]


def draw_window(
    drawing: Drawing, window: WindowCurves, place: tuple[float, float], size: tuple[float, float], units: CrewUnits
) -> None:
    """Draw a window into a place of the paper."""
    (x, y), (width, height) = place, size
    left, right, top, bottom = x + 50, x + width - 8, y + 22, y + height - 24
    low_c, high_c = window.rows[0].at[0].temp_c, window.rows[0].at[-1].temp_c
    across, across_marks = temperature_axis(low_c, high_c, left, right, units)
    up, up_marks = span_axis(window.spans_s, bottom, top)
    panel = Panel(across, up, across_marks, up_marks)
    edges = " and ".join(row.edge for row in window.rows)
    learned = next((row.factor for row in window.rows if row.factor != 1.0), None)
    told = f"{window.name} {edges}" + (f", learned ×{learned:.2f}" if learned else "")
    drawing.text((left, y + 14), told, "head")
    panel.draw(drawing)
    for row, span in zip(window.rows, window.spans, strict=True):
        _draw_edge(drawing, panel, row, span)


def _draw_edge(drawing: Drawing, panel: Panel, row: EdgeRow, span: SheetSpan) -> None:
    kind = "closing" if row.edge == "closes" else "opening"
    late = [panel.point(at.temp_c, at.late_s) for at in row.at]
    early = [panel.point(at.temp_c, at.early_s) for at in row.at]
    drawing.band(late, early, kind)
    drawing.path([panel.point(at.temp_c, at.likely_s) for at in row.at], f"likely-{kind}")
    if row.factor != 1.0:
        drawing.path([panel.point(at.temp_c, at.likely_s / row.factor) for at in row.at], "sheet")
    for point in span.points:
        if point.temp_c is not None and panel.across.low <= point.temp_c <= panel.across.high:
            x, y = panel.point(point.temp_c, point.span_s)
            drawing.mark((x, y))
            if point.rh_pct is not None and point.rh_pct != TABLE_RH_PCT:
                drawing.text((x - 36, y + 12), f"{point.rh_pct:.0f} %", "soft")
