"""A picture that stands alone in a file: its size, its styles and its text alternative with it. Ink on paper only."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from mixclock.words.record.svg import Point, Svg

STYLES = """
text{font:11px "Segoe UI","Helvetica Neue",Arial,sans-serif;fill:#1c1b19}
.title{font-size:19px;font-weight:600}
.head{font-size:12.5px;font-weight:600}
.soft,.scale,.tick{fill:#4d4942}
.scale{text-anchor:end}
.tick{text-anchor:middle}
.paper{fill:#fff}
.frame{fill:none;stroke:#6d675c;stroke-width:.8}
.grid{stroke:#d8d3c8;stroke-width:.6}
.closing{fill:url(#hatch);stroke:none}
.opening{fill:url(#dots);stroke:none}
.edge{fill:none;stroke:#1c1b19;stroke-width:.8}
.likely-closing{fill:none;stroke:#1c1b19;stroke-width:2}
.likely-opening{fill:none;stroke:#1c1b19;stroke-width:2;stroke-dasharray:7 3.5}
.sheet{fill:none;stroke:#1c1b19;stroke-width:1;stroke-dasharray:1.5 2.5}
.cup{fill:#1c1b19}
.mark{fill:#fff;stroke:#1c1b19;stroke-width:1.4}
"""

_PATTERNS = (
    '<pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<path d="M0 0V6" stroke="#6d675c" stroke-width="1"/></pattern>'
    '<pattern id="dots" width="5" height="5" patternUnits="userSpaceOnUse">'
    '<circle cx="1.5" cy="1.5" r=".8" fill="#6d675c"/></pattern>'
)


class Drawing(Svg):
    """One picture in a file of its own."""

    def band(self, upper: Sequence[Point], lower: Sequence[Point], kind: str) -> None:
        """The area between two lines, with both lines drawn."""
        self.path([*upper, *reversed(lower)], kind)
        self.path(upper, "edge")
        self.path(lower, "edge")

    def document(self) -> str:
        """The whole file."""
        size = f'width="{self._width:.0f}" height="{self._height:.0f}"'
        inner = self.markup().removeprefix("<svg ")
        head, rest = inner.split("</desc>", 1)
        opened = f'<svg xmlns="http://www.w3.org/2000/svg" lang="en" {size} {head}</desc>'
        return f"{opened}<style>{escape(STYLES, quote=False)}</style><defs>{_PATTERNS}</defs>\n{rest}\n"
