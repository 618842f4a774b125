"""An area as somebody measured it: sides, circles, triangles and corners, added and taken off.

"20 ft × 22 ft − 3 ft × 4 ft" is a floor with a hole; "3 m × 4 m + quarter circle 2 m radius" one with an apron.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from itertools import combinations, permutations, product

from mixclock.formulas.outline import (
    Corner,
    crosses_itself,
    polygon_edge_m,
    polygon_m2,
    sector_edge_m,
    sector_m2,
)
from mixclock.units import UnitError, area_m2, inches_joined, length_m, sides_of, two_lengths_m
from mixclock.values import dataclass

MOST_TERMS = 40
SHARES = {
    **dict.fromkeys(("", "whole"), 1.0),
    **dict.fromkeys(("half", "semi", "1/2", "½"), 0.5),
    **dict.fromkeys(("quarter", "1/4", "¼"), 0.25),
    **dict.fromkeys(("three quarter", "three quarters", "3/4", "¾"), 0.75),
}
EXAMPLE = "20 ft x 22 ft - 3 ft x 4 ft"

_AFTER_A_UNIT = r"(?:(?<=[A-Za-z²'\"′″’”])|(?<=[mt]2))(?<!\d[eE])"
_SIGN = re.compile(rf"\s+([+−–-])(?:\s+|$)|\s*(−)\s*|{_AFTER_A_UNIT}\s*([+–-])\s*(?=[\d.¼½¾])")
_SAID = re.compile(r",?\s+(less|minus|plus)\s+", re.IGNORECASE)
_CIRCLE = re.compile(
    r"^(?:an?\s+)?(?:(whole|half|semi|quarter|three quarters?|[¼½¾]|[13]/[24])[ -]*(?:of a\s+)?)?"
    r"circle,?\s+(?:of\s+)?(.+?)\s*(radius|across|diameter)?$",
    re.IGNORECASE,
)
_TURNED = re.compile(r"^(.+?)\s+(radius|across|diameter)\s+((?:.*[ -])?circle)$", re.IGNORECASE)
_BEFORE = re.compile(r"^(radius|across|diameter)\s+(.+)$", re.IGNORECASE)
_TRIANGLE = re.compile(r"^(?:a\s+)?triangle\s+(?:of\s+)?(.+)$", re.IGNORECASE)


@dataclass(frozen=True)
class FloorFigure:
    """One simple figure: `kind` is plain, sides, triangle, circle or corners; lengths are its sides or its radius."""

    kind: str
    area_m2: float
    edge_m: float | None
    lengths_m: tuple[float, ...] = ()
    share: float = 1.0
    corners: tuple[Corner, ...] = ()


@dataclass(frozen=True)
class FloorShape:
    """Figures with their signs: the first is the floor, what follows is added to it or taken off."""

    terms: tuple[tuple[int, FloorFigure], ...]

    @property
    def area_m2(self) -> float:
        """The area that is coated."""
        return sum(sign * figure.area_m2 for sign, figure in self.terms)

    @property
    def edge_m(self) -> float | None:
        """The length that is cut in: the edges of all figures and holes; None if some figure's edge is not known.

        The common side of two figures that touch is counted, although nobody cuts it in. That errs towards more time.
        """
        edges = [figure.edge_m for _, figure in self.terms]
        return None if None in edges else sum(edge for edge in edges if edge is not None)

    @property
    def told(self) -> bool:
        """Whether there is anything to draw."""
        return any(figure.kind != "plain" for _, figure in self.terms)


def read_shape(text: str) -> FloorShape:
    """A floor from its sides: sums and differences of sides, circles and triangles; raises `UnitError`.

    It may be said as a plan says it: "20 ft by 22 ft, less a quarter circle of 4 ft radius".

    >>> round(read_shape("20 ft x 22 ft - 3 ft x 4 ft").area_m2, 2)
    39.76
    >>> round(read_shape("quarter circle 6 ft radius").area_m2, 2)
    2.63
    """
    signed = _SAID.sub(lambda said: " + " if said.group(1).casefold() == "plus" else " - ", inches_joined(text.strip()))
    pieces = _SIGN.split(signed)
    bodies = pieces[::4]
    found = zip(pieces[1::4], pieces[2::4], pieces[3::4], strict=True)
    signs = [1, *(1 if "+" in sign else -1 for sign in found)]
    if len(bodies) > MOST_TERMS or not all(body.strip() for body in bodies):
        raise UnitError(f"'{text}' has a figure missing beside a sign: write it as in {EXAMPLE}")
    shape = FloorShape(tuple(zip(signs, (_figure(body.strip()) for body in bodies), strict=True)))
    return _checked(shape, text)


def _checked(shape: FloorShape, text: str) -> FloorShape:
    if shape.area_m2 <= 0.0:
        raise UnitError(f"'{text}' takes off as much as there is: look at the signs, as in {EXAMPLE}")
    holes = [figure for sign, figure in shape.terms if sign < 0]
    whole = max(figure.area_m2 for sign, figure in shape.terms if sign > 0)
    if any(hole.area_m2 >= whole for hole in holes):
        raise UnitError(f"'{text}' takes off more than its largest figure: look at the signs, as in {EXAMPLE}")
    floors = [figure for sign, figure in shape.terms if sign > 0]
    if len(floors) == 1 and not all(_fits_in(hole, floors[0]) for hole in holes):
        raise UnitError(f"'{text}' takes off a figure that is longer than the floor: look at its sides")
    if len(floors) == 1 and any(_must_overlap(one, other, floors[0]) for one, other in combinations(holes, 2)):
        raise UnitError(f"'{text}' takes off two figures that cannot lie apart there: what they share comes off twice")
    return shape


def _must_overlap(one: FloorFigure, other: FloorFigure, floor: FloorFigure) -> bool:
    """Whether two figures that are taken off have no room beside each other. Figures with sides lie apart where they
    lie apart across the floor or along it."""
    if {floor.kind, one.kind, other.kind} != {"sides"}:
        return False
    across_m, along_m = (side / (1.0 - AS_MEASURED) for side in floor.lengths_m)
    for first, second in product(permutations(one.lengths_m), permutations(other.lengths_m)):
        fit = max(first[0], second[0]) <= across_m and max(first[1], second[1]) <= along_m
        if fit and (first[0] + second[0] <= across_m or first[1] + second[1] <= along_m):
            return False
    return True


def _fits_in(hole: FloorFigure, floor: FloorFigure) -> bool:
    """Whether what is taken off is no longer than the floor that it lies in; true where the figures don't tell."""
    if hole.kind not in REACH or floor.kind not in REACH:
        return True
    short, long = (side * (1.0 - AS_MEASURED) for side in sorted(REACH[hole.kind](hole)))
    if floor.kind == "circle" and floor.share == 1.0:
        return (long if hole.kind == "circle" else math.hypot(short, long)) <= 2.0 * floor.lengths_m[0]
    least, most = sorted(REACH[floor.kind](floor))
    return short <= least and long <= most


def _round_reach(figure: FloorFigure) -> tuple[float, float]:
    """How wide and how long a circle or a part of one is."""
    radius = figure.lengths_m[0]
    return (radius if figure.share <= 0.5 else 2.0 * radius), (radius if figure.share <= 0.25 else 2.0 * radius)


AS_MEASURED = 0.01
"""Two sides that are measured as equal may differ by so much."""

REACH: Mapping[str, Callable[[FloorFigure], tuple[float, ...]]] = {
    "sides": lambda figure: figure.lengths_m,
    "circle": _round_reach,
}
"""How wide and how long a figure is, where that is plain."""


def _figure(text: str) -> FloorFigure:
    text = _TURNED.sub(r"\3 \1 \2", text)
    circle, triangle = _CIRCLE.match(text), _TRIANGLE.match(text)
    if circle is not None:
        return _circle(circle, text)
    if triangle is not None:
        base, height = _two(triangle.group(1), text)
        return FloorFigure("triangle", base * height / 2.0, base + height + math.hypot(base, height), (base, height))
    if text.casefold().endswith("circle"):
        raise UnitError(f"'{text}' may be a radius or a width: write 'circle 3 m across' or 'circle 3 m radius'")
    if len(sides_of(text)) == 2:
        one, other = _two(text, text)
        return FloorFigure("sides", area_m2(text), 2.0 * (one + other), (one, other))
    return FloorFigure("plain", area_m2(text), None)


def _circle(found: re.Match[str], text: str) -> FloorFigure:
    share = SHARES[(found.group(1) or "").casefold()]
    size, how = found.group(2), (found.group(3) or "").casefold()
    ahead = _BEFORE.match(size)
    if ahead is not None:
        how, size = ahead.group(1).casefold(), ahead.group(2)
    if not how:
        raise UnitError(f"'{text}' may be a radius or a width: write '{text} across' or '{text} radius'")
    radius = length_m(size) / (1.0 if how == "radius" else 2.0)
    if radius <= 0.0:
        raise UnitError(f"'{text}' is no circle: write 'circle 3 m across'")
    return FloorFigure("circle", sector_m2(radius, share), sector_edge_m(radius, share), (radius,), share)


def _two(text: str, whole: str) -> tuple[float, float]:
    sides = sides_of(text)
    if len(sides) != 2:
        raise UnitError(f"'{whole}' needs two sides: write 'triangle 3 m x 4 m'")
    return two_lengths_m(*sides)


def read_corners(texts: Sequence[str]) -> FloorShape:
    """A floor from its corners in order, each "across, along" from one of them; raises `UnitError`.

    >>> read_corners(["0 m, 0 m", "6 m, 0 m", "6 m, 4 m", "0 m, 4 m"]).area_m2
    24.0
    """
    corners = tuple(_corner(text) for text in texts)
    if len(corners) > 2 and corners[0] == corners[-1]:
        corners = corners[:-1]
    if len(corners) < 3:
        raise UnitError('fewer than three corners: write each in order, as in "6 m, 4 m"')
    if len(set(corners)) < len(corners):
        raise UnitError("a corner stands twice: write each corner once, in order round the floor")
    if crosses_itself(corners):
        raise UnitError("the sides cross each other: write the corners in order round the floor")
    size_m2 = polygon_m2(corners)
    if size_m2 <= 0.0:
        raise UnitError("the corners lie on one line: write them in order round the floor")
    return FloorShape(((1, FloorFigure("corners", size_m2, polygon_edge_m(corners), (), 1.0, corners)),))


def _corner(text: str) -> Corner:
    ends = re.split(r"\s*[,;]\s+|\s*;\s*", text.strip())
    if len(ends) != 2:
        raise UnitError(f"'{text}' is no corner: write how far across and along, as in '6 m, 4 m'")
    return _reach(ends[0]), _reach(ends[1])


def _reach(text: str) -> float:
    """A length from a corner. It is negative on the other side of that corner."""
    back = text.startswith(("-", "−"))
    found = length_m(text.lstrip("-− "), bare="m" if text == "0" else None)
    return -found if back else found
