"""The floor as it was measured, drawn: every area that has sides, circles or corners, true in its proportions."""

from __future__ import annotations

import math
from collections.abc import Sequence

from mixclock.job.floorshape import FloorFigure, FloorShape
from mixclock.job.site import Area
from mixclock.units import CrewUnits
from mixclock.words.record.svg import Point, Svg

PANEL_W, PANEL_H = 300.0, 210.0
ROOM, HEAD, FOOT = 34.0, 42.0, 46.0
LETTER = 6.6
"""How wide a letter is at this size, more or less."""

ARC_STEPS = 48
MOST_DRAWN = 60
SIGNS = {1: "+", -1: "−"}

STYLES = """
.shapes text{font:12px "Segoe UI","Helvetica Neue",Arial,sans-serif;fill:#1c1b19}
.shapes .head{font-weight:600;font-size:13px}
.shapes .side{text-anchor:middle}
.shapes .floor{fill:#efece5;stroke:#1c1b19;stroke-width:1.6}
.shapes .hole{fill:#fff;stroke:#1c1b19;stroke-width:1.2;stroke-dasharray:4 3}
.shapes .hole-side{text-anchor:start}
.floors{display:flex;flex-wrap:wrap;gap:.4rem}
.floors svg{width:300px;max-width:100%}
"""


def measured_areas(areas: Sequence[Area]) -> list[Area]:
    """The areas of which there is something to draw."""
    return [area for area in areas if area.shape is not None and area.shape.told][:MOST_DRAWN]


def shape_said(shape: FloorShape, units: CrewUnits) -> str:
    """A shape in words: "6.1 m by 6.7 m, less 0.9 m by 1.2 m"."""
    said = ""
    for place, (sign, figure) in enumerate(shape.terms):
        joiner = "" if place == 0 else " plus " if sign > 0 else ", less "
        said += f"{joiner}{_figure_said(figure, units)}"
    return said


def _figure_said(figure: FloorFigure, units: CrewUnits) -> str:
    lengths = [units.write_length(length) for length in figure.lengths_m]
    if figure.kind == "circle":
        share = {1.0: "a circle", 0.5: "a half circle", 0.25: "a quarter circle", 0.75: "three quarters of a circle"}
        return f"{share[figure.share]} of {lengths[0]} radius"
    if figure.kind == "triangle":
        return f"a triangle {lengths[0]} by {lengths[1]}"
    if figure.kind == "corners":
        return f"{len(figure.corners)} corners"
    if figure.kind == "sides":
        return f"{lengths[0]} by {lengths[1]}"
    return units.write_area(figure.area_m2)


class _Drawing(Svg):
    def outline(self, points: Sequence[Point], kind: str) -> None:
        """A closed outline."""
        joined = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        self._parts.append(f'<polygon class="{kind}" points="{joined}"/>')

    def markup(self) -> str:
        """The picture as it stands in a page."""
        return super().markup().replace("<svg ", '<svg class="shapes" ', 1)


def shape_svgs(areas: Sequence[Area], units: CrewUnits) -> list[str]:
    """A picture for each area with its size and its sides, so that a page sets as many in a row as it has room for."""
    return [_shape_svg(area, area.shape, units, place) for place, area in enumerate(areas) if area.shape is not None]


def _shape_svg(area: Area, shape: FloorShape, units: CrewUnits, place: int) -> str:
    told = f"{area.name}: {shape_said(shape, units)}"
    drawing = _Drawing(f"floor-shape-{place}", PANEL_W, PANEL_H, f"{area.name} as it was measured", told)
    drawing.text((8, 16), f"{area.name}, {units.write_area(area.size_m2)}", "head")
    _draw_shape(drawing, shape, units)
    return drawing.markup()


def _draw_shape(drawing: _Drawing, shape: FloorShape, units: CrewUnits) -> None:
    """The floor with what is taken off in its corner; what is added stands beside it at the same scale."""
    placed = _placed(shape)
    xs = [x for _, points, _ in placed for x, _ in points]
    ys = [y for _, points, _ in placed for _, y in points]
    wide, high = max(xs) - min(xs), max(ys) - min(ys)
    scale = min((PANEL_W - 2 * ROOM) / wide, (PANEL_H - HEAD - FOOT) / high)

    def at(point: Point) -> Point:
        return ROOM + (point[0] - min(xs)) * scale, HEAD + (max(ys) - point[1]) * scale

    below = HEAD + high * scale
    for sign, points, figure in placed:
        drawn = [at(point) for point in points]
        drawing.outline(drawn, "floor" if sign > 0 else "hole")
        if figure.kind == "corners":
            _draw_sides(drawing, drawn, figure, units)
            continue
        left, right = min(x for x, _ in drawn), max(x for x, _ in drawn)
        top, bottom = min(y for _, y in drawn), max(y for _, y in drawn)
        said = _figure_said(figure, units).removeprefix("a ")
        if sign < 0:
            drawing.text((right + 4, (top + bottom) / 2 + 4), f"{SIGNS[sign]} {said}", "hole-side")
        elif len(said) * LETTER > right - left or figure.kind == "circle":
            below += 14
            drawing.text((max((left + right) / 2, len(said) * LETTER / 2 + 4), below), said, "side")
        else:
            drawing.text(((left + right) / 2, (top + bottom) / 2 + 4), said, "side")


def _draw_sides(drawing: _Drawing, points: Sequence[Point], figure: FloorFigure, units: CrewUnits) -> None:
    corners = figure.corners
    for place, point in enumerate(points):
        then = points[(place + 1) % len(points)]
        length = math.dist(corners[place], corners[(place + 1) % len(corners)])
        drawing.text(((point[0] + then[0]) / 2, (point[1] + then[1]) / 2 - 3), units.write_length(length), "side")


def _placed(shape: FloorShape) -> list[tuple[int, list[Point], FloorFigure]]:
    """Each figure's corners in m: added ones side by side, holes stacked up from the corner of the first."""
    found: list[tuple[int, list[Point], FloorFigure]] = []
    beside, up = 0.0, 0.0
    for sign, figure in shape.terms:
        points = _outline(figure)
        wide, high = (max(p[axis] for p in points) - min(p[axis] for p in points) for axis in (0, 1))
        if sign > 0:
            found.append((sign, [(x + beside, y) for x, y in points], figure))
            beside += wide
        else:
            found.append((sign, [(x, y + up) for x, y in points], figure))
            up += high
    return found


def _outline(figure: FloorFigure) -> list[Point]:
    if figure.kind == "corners":
        low_x, low_y = (min(corner[axis] for corner in figure.corners) for axis in (0, 1))
        return [(x - low_x, y - low_y) for x, y in figure.corners]
    if figure.kind == "circle":
        return _sector(figure.lengths_m[0], figure.share)
    if figure.kind == "triangle":
        base, height = figure.lengths_m
        return [(0.0, 0.0), (base, 0.0), (0.0, height)]
    wide, high = figure.lengths_m if figure.kind == "sides" else (math.sqrt(figure.area_m2),) * 2
    return [(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)]


def _sector(radius: float, share: float) -> list[Point]:
    steps = max(3, round(ARC_STEPS * share))
    arc = [
        (radius * math.cos(2 * math.pi * share * step / steps), radius * math.sin(2 * math.pi * share * step / steps))
        for step in range(steps + 1)
    ]
    points = arc if share >= 1.0 else [(0.0, 0.0), *arc]
    low_x, low_y = (min(point[axis] for point in points) for axis in (0, 1))
    return [(x - low_x, y - low_y) for x, y in points]
