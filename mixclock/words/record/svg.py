"""Small pictures in SVG, with their text alternative, readable in black and white."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

Point = tuple[float, float]


def _n(value: float) -> str:
    """A coordinate, short.

    >>> _n(3.0), _n(2.345)
    ('3', '2.3')
    """
    return f"{value:.1f}".removesuffix(".0")


def slug(words: str) -> str:
    """Words as part of an id: the same words give the same id, different ones different ids.

    >>> slug("Bay 3")
    'bay_203'
    """
    return "".join(
        letter if letter.isalnum() and letter.isascii() else f"_{ord(letter):x}" for letter in words.casefold()
    )


class Svg:
    """One picture. `name` makes its ids unique on the page; `told` is the text alternative."""

    def __init__(self, name: str, width: float, height: float, title: str, told: str) -> None:
        """Start an empty picture."""
        self._parts: list[str] = []
        self._name, self._title, self._told = name, title, told
        self._width, self._height = width, height

    def line(self, a: Point, b: Point, kind: str) -> None:
        """A straight line in one of the page's styles."""
        ends = f'x1="{_n(a[0])}" y1="{_n(a[1])}" x2="{_n(b[0])}" y2="{_n(b[1])}"'
        self._parts.append(f'<line class="{kind}" {ends}/>')

    def path(self, points: Sequence[Point], kind: str) -> None:
        """A line through points."""
        joined = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
        self._parts.append(f'<polyline class="{kind}" points="{joined}"/>')

    def box(self, x: float, y: float, width: float, height: float, kind: str) -> None:
        """A rectangle; one that would be too thin to see gets a hair's width."""
        size = f'width="{_n(max(width, 0.6))}" height="{_n(height)}"'
        self._parts.append(f'<rect class="{kind}" x="{_n(x)}" y="{_n(y)}" {size}/>')

    def text(self, at: Point, words: str, kind: str = "") -> None:
        """Words at a place."""
        style = f' class="{kind}"' if kind else ""
        self._parts.append(f'<text{style} x="{_n(at[0])}" y="{_n(at[1])}">{escape(words)}</text>')

    def mark(self, at: Point, kind: str = "mark") -> None:
        """A diamond at a place: something was stated."""
        x, y = at
        corners = f"{_n(x)},{_n(y - 4.5)} {_n(x + 4)},{_n(y)} {_n(x)},{_n(y + 4.5)} {_n(x - 4)},{_n(y)}"
        self._parts.append(f'<polygon class="{kind}" points="{corners}"/>')

    def markup(self) -> str:
        """The picture as it stands in a page."""
        title, told = f"{self._name}-title", f"{self._name}-told"
        head = (
            f'<svg role="img" viewBox="0 0 {_n(self._width)} {_n(self._height)}" aria-labelledby="{title} {told}">'
            f'<title id="{title}">{escape(self._title)}</title><desc id="{told}">{escape(self._told)}</desc>'
        )
        return f"{head}{''.join(self._parts)}</svg>"


class GatheredSvg(Svg):
    """The same, with all shapes of one style in one path: a long job draws tens of thousands, and its page is mailed.

    Styles lie over each other in the order in which they first come, so those of one style must not cover others.
    Places are whole units, which are less than a pixel; title and text alternative are found by their place.
    """

    def __init__(self, width: float, height: float, title: str, told: str) -> None:
        """Start an empty picture."""
        super().__init__("", width, height, title, told)
        self._paths: dict[str, list[str]] = {}
        self._words: dict[str, list[str]] = {}

    def line(self, a: Point, b: Point, kind: str) -> None:
        """A straight line in one of the page's styles."""
        end = f"V{b[1]:.0f}" if a[0] == b[0] else f"L{b[0]:.0f} {b[1]:.0f}"
        self._draw(kind, f"M{a[0]:.0f} {a[1]:.0f}{end}")

    def box(self, x: float, y: float, width: float, height: float, kind: str) -> None:
        """A rectangle; one that would be too thin to see gets a hair's width."""
        wide = max(1, round(x + width) - round(x))
        self._draw(kind, f"M{x:.0f} {y:.0f}h{wide}v{height:.0f}h-{wide}z")

    def mark(self, at: Point, kind: str = "mark") -> None:
        """A diamond at a place: something was stated."""
        self._draw(kind, f"M{at[0]:.0f} {at[1] - 4:.0f}l4 4-4 4-4-4z")

    def text(self, at: Point, words: str, kind: str = "") -> None:
        """Words at a place."""
        self._words.setdefault(kind, []).append(f'<tspan x="{at[0]:.0f}" y="{at[1]:.0f}">{escape(words)}</tspan>')

    def markup(self) -> str:
        """The picture as it stands in a page."""
        drawn = "".join(f'<path class="{kind}" d="{"".join(shapes)}"/>' for kind, shapes in self._paths.items())
        said = "".join(f'<text class="{kind}">{"".join(words)}</text>' for kind, words in self._words.items())
        named = f"<title>{escape(self._title)}</title><desc>{escape(self._told)}</desc>"
        return f'<svg role="img" viewBox="0 0 {_n(self._width)} {_n(self._height)}">{named}{drawn}{said}</svg>'

    def _draw(self, kind: str, shape: str) -> None:
        self._paths.setdefault(kind, []).append(shape)
