"""The picture of how one look grows with live batches, as the front page shows it."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from xml.sax.saxutils import escape

from tests.bench.table import Row

WIDTH, HEIGHT, LEFT, BOTTOM, TOP, RIGHT = 640, 300, 70, 46, 40, 24
LOW_MS, HIGH_MS, MOST_BATCHES = 0.1, 10_000.0, 1000
INK, GRID, OURS, EARLIER = "#1c2733", "#d7dde3", "#0b6e4f", "#b3541e"


def growth_picture(rows: Sequence[Row]) -> str:
    """Both axes by tens: so a straight line of slope 1 is a cost for each batch."""
    ours, before = _points(rows, earlier=False), _points(rows, earlier=True)
    lines = [*_axes(), *_line(ours, OURS, "now"), *_line(before, EARLIER, "before")]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" font-family="sans-serif" '
        f'font-size="13" fill="{INK}"><rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>'
        f'<text x="{LEFT}" y="22" font-weight="bold">One look of the daemon, slowest of a hundred (ms)</text>'
        f"{''.join(lines)}</svg>\n"
    )


def _points(rows: Sequence[Row], *, earlier: bool) -> list[tuple[int, float]]:
    found = []
    for row in rows:
        told = re.match(r"one look, ([\d,]+) live batches.*slowest", row.what)
        figure = row.before if earlier else row.ours
        if told and figure is not None and math.isfinite(figure.value):
            found.append((int(told[1].replace(",", "")), figure.value))
    return found


def _x(batches: int) -> float:
    return LEFT + (WIDTH - LEFT - RIGHT) * math.log10(batches) / math.log10(MOST_BATCHES)


def _y(span_ms: float) -> float:
    share = math.log10(max(span_ms, LOW_MS) / LOW_MS) / math.log10(HIGH_MS / LOW_MS)
    return HEIGHT - BOTTOM - (HEIGHT - BOTTOM - TOP) * share


def _axes() -> list[str]:
    drawn = []
    for ms in (0.1, 1.0, 10.0, 100.0, 1000.0, 10_000.0):
        drawn.append(f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{_y(ms):.1f}" y2="{_y(ms):.1f}" stroke="{GRID}"/>')
        drawn.append(f'<text x="{LEFT - 8}" y="{_y(ms) + 4:.1f}" text-anchor="end">{ms:,g}</text>')
    for batches in (1, 10, 100, 1000):
        at = f'x="{_x(batches):.1f}" y="{HEIGHT - BOTTOM + 18}"'
        drawn.append(f'<text {at} text-anchor="middle">{batches:,}</text>')
    middle = (LEFT + WIDTH - RIGHT) / 2
    drawn.append(f'<text x="{middle:.0f}" y="{HEIGHT - 8}" text-anchor="middle">live batches</text>')
    goal = _y(50.0)
    drawn.append(f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{goal:.1f}" y2="{goal:.1f}" stroke="{INK}" '
                 'stroke-dasharray="5 4"/>')  # fmt: skip
    drawn.append(f'<text x="{LEFT + 6}" y="{goal - 5:.1f}">goal 50 ms</text>')
    return drawn


def _line(points: Sequence[tuple[int, float]], colour: str, name: str) -> list[str]:
    if not points:
        return []
    at = [(_x(batches), _y(ms)) for batches, ms in points]
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in at)
    dots = [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{colour}"/>' for x, y in at]
    x, y = at[-1]
    label = f'<text x="{x - 8:.1f}" y="{y - 9:.1f}" text-anchor="end" fill="{colour}">{escape(name)}</text>'
    return [f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="2.5"/>', *dots, label]
