"""The pictures of growth: one look over live batches, and `now` over the entries of a book, as the front page shows."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from tests.bench.table import Row

WIDTH, HEIGHT, LEFT, BOTTOM, TOP, RIGHT = 640, 300, 70, 46, 40, 44
LOW_MS, HIGH_MS = 0.1, 10_000.0
INK, GRID, OURS, EARLIER = "#1c2733", "#d7dde3", "#0b6e4f", "#b3541e"


@dataclass(frozen=True)
class Panel:
    """What grows along which axis; `told` finds the rows of the table, and in each how much there is of it."""

    title: str
    along: str
    told: str
    least: int
    most: int
    goal_ms: float

    def points(self, rows: Sequence[Row], *, earlier: bool) -> list[tuple[int, float]]:
        """How much there was, and what it took."""
        found = []
        for row in rows:
            said = re.match(self.told, row.what)
            figure = row.before if earlier else row.ours
            if said and figure is not None and math.isfinite(figure.value):
                found.append((int(said[1].replace(",", "")), figure.value))
        return sorted(found)

    def x(self, much: float) -> float:
        """Where so much stands."""
        return LEFT + (WIDTH - LEFT - RIGHT) * math.log(much / self.least) / math.log(self.most / self.least)


PANELS = (
    Panel("One look of the daemon, slowest of a hundred (ms)", "live batches",
          r"one look, ([\d,]+) live batches.*slowest", 1, 1_000, 50.0),
    Panel("now, a whole command (ms)", "entries in many jobs", r"now, ([\d,]+) entries in many jobs", 1_000, 1_000_000,
          300.0),
)  # fmt: skip


def growth_picture(rows: Sequence[Row]) -> str:
    """Both axes by tens: so a straight line of slope 1 is a cost for each batch, or for each entry."""
    drawn = "".join(f'<g transform="translate(0 {HEIGHT * place})">{_panel(panel, rows)}</g>'
                    for place, panel in enumerate(PANELS))  # fmt: skip
    height = HEIGHT * len(PANELS)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" font-family="sans-serif" '
        f'font-size="13" fill="{INK}"><rect width="{WIDTH}" height="{height}" fill="#ffffff"/>{drawn}</svg>\n'
    )


def _panel(panel: Panel, rows: Sequence[Row]) -> str:
    lines = [*_axes(panel), *_line(panel, panel.points(rows, earlier=False), OURS, "now")]
    lines += _line(panel, panel.points(rows, earlier=True), EARLIER, "before")
    return f'<text x="{LEFT}" y="22" font-weight="bold">{panel.title}</text>{"".join(lines)}'


def _y(span_ms: float) -> float:
    share = math.log10(max(span_ms, LOW_MS) / LOW_MS) / math.log10(HIGH_MS / LOW_MS)
    return HEIGHT - BOTTOM - (HEIGHT - BOTTOM - TOP) * share


def _axes(panel: Panel) -> list[str]:
    drawn = []
    for ms in (0.1, 1.0, 10.0, 100.0, 1000.0, 10_000.0):
        drawn.append(f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{_y(ms):.1f}" y2="{_y(ms):.1f}" stroke="{GRID}"/>')
        drawn.append(f'<text x="{LEFT - 8}" y="{_y(ms) + 4:.1f}" text-anchor="end">{ms:,g}</text>')
    tens = range(round(math.log10(panel.least)), round(math.log10(panel.most)) + 1)
    for much in (10**power for power in tens):
        at = f'x="{panel.x(much):.1f}" y="{HEIGHT - BOTTOM + 18}"'
        drawn.append(f'<text {at} text-anchor="middle">{much:,}</text>')
    middle = (LEFT + WIDTH - RIGHT) / 2
    drawn.append(f'<text x="{middle:.0f}" y="{HEIGHT - 8}" text-anchor="middle">{panel.along}</text>')
    goal = _y(panel.goal_ms)
    drawn.append(f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{goal:.1f}" y2="{goal:.1f}" stroke="{INK}" '
                 'stroke-dasharray="5 4"/>')  # fmt: skip
    drawn.append(f'<text x="{LEFT + 6}" y="{goal + 15:.1f}">goal {panel.goal_ms:g} ms</text>')
    return drawn


def _line(panel: Panel, points: Sequence[tuple[int, float]], colour: str, name: str) -> list[str]:
    if not points:
        return []
    at = [(panel.x(much), _y(ms)) for much, ms in points]
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in at)
    dots = [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{colour}"/>' for x, y in at]
    x, y = at[-1]
    label = f'<text x="{x - 8:.1f}" y="{y - 9:.1f}" text-anchor="end" fill="{colour}">{escape(name)}</text>'
    return [f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="2.5"/>', *dots, label]
