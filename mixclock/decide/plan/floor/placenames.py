"""Places on the floor as a person says them: bays that follow each other as a range, parts of one as a share of it."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby

PART = re.compile(r"^(?P<area>.*) \(part (?P<part>\d+) of (?P<parts>\d+)\)$")
SHARES: Mapping[int, tuple[str, str]] = {
    2: ("half", "halves"),
    3: ("third", "thirds"),
    4: ("quarter", "quarters"),
    5: ("fifth", "fifths"),
    6: ("sixth", "sixths"),
}
COUNTS = ("", "", "two ", "three ", "four ", "five ")
NTH = ("", "first", "second", "third", "fourth", "fifth", "sixth")


def areas_said(names: Iterable[str]) -> str:
    """Areas in a row, short: parts of one area together, numbers that follow each other as a range.

    >>> areas_said(["bay 1", "bay 2", "bay 3"]), areas_said(["bay 1", "bay 2"]), areas_said(["kiln", "bay 1"])
    ('bays 1 to 3', 'bay 1 and bay 2', 'kiln and bay 1')
    >>> areas_said(["bay 1 (part 3 of 4)", "bay 1 (part 4 of 4)", "bay 2 (part 1 of 4)"])
    'the last half of bay 1 and the first quarter of bay 2'
    >>> areas_said(["bay 2 (part 2 of 2)", "bay 3", "bay 4", "bay 5", "bay 6 (part 1 of 5)", "bay 6 (part 2 of 5)"])
    'the last half of bay 2, bays 3 to 5 and the first two fifths of bay 6'
    >>> areas_said(["bay 1 (part 1 of 2)", "bay 1 (part 2 of 2)"]), areas_said(["bay 1 (part 2 of 3)"])
    ('bay 1', 'the middle third of bay 1')
    >>> areas_said(["hall (part 3 of 4)"]), areas_said(["hall (part 3 of 8)"])
    ('the third quarter of hall', 'hall (part 3 of 8)')
    """
    places = [_share_said(area, list(group)) for area, group in groupby(names, key=area_of)]
    found = list(_in_ranges(places))
    return f"{', '.join(found[:-1])} and {found[-1]}" if len(found) > 1 else "".join(found)


def area_of(name: str) -> str:
    """The area that a place lies in."""
    match = PART.match(name)
    return match["area"] if match else name


def _share_said(area: str, names: Sequence[str]) -> str:
    """The parts of one area, which follow each other."""
    matches = [match for match in map(PART.match, names) if match is not None]
    if not matches:
        return area
    first, last, of = int(matches[0]["part"]), int(matches[-1]["part"]), int(matches[0]["parts"])
    if (first, last) == (1, of):
        return area
    where = "first" if first == 1 else "last" if last == of else "middle" if first - 1 == of - last else ""
    if where:
        return f"the {where} {_fraction_said(last - first + 1, of)} of {area}"
    if first == last and of in SHARES:
        return f"the {NTH[first]} {SHARES[of][0]} of {area}"
    if first == last:
        return f"{area} (part {first} of {of})"
    return f"{area} (parts {first} {'and' if last == first + 1 else 'to'} {last} of {of})"


def _fraction_said(parts: int, of: int) -> str:
    shared = math.gcd(parts, of)
    parts, of = parts // shared, of // shared
    if of not in SHARES:
        return f"{parts}/{of}"
    return f"{COUNTS[parts]}{SHARES[of][parts > 1]}"


def _in_ranges(places: Sequence[str]) -> Iterator[str]:
    """Three numbers or more that follow each other become a range."""
    run: list[str] = []
    for place in places:
        if run and not _follows(run[-1], place):
            yield from _run_said(run)
            run = []
        run.append(place)
    yield from _run_said(run)


def _follows(before: str, place: str) -> bool:
    (stem, number), (other, then) = _numbered(before), _numbered(place)
    return bool(stem) and stem == other and then == number + 1


def _run_said(run: Sequence[str]) -> list[str]:
    if len(run) < 3:
        return list(run)
    stem, first = _numbered(run[0])
    return [f"{stem.rstrip()}s {first} to {_numbered(run[-1])[1]}"]


def _numbered(name: str) -> tuple[str, int]:
    """A name's stem and number; none for a share of an area."""
    stem = name.rstrip("0123456789")
    digits = name[len(stem) :]
    return (stem, int(digits)) if digits and stem.endswith(" ") and not stem.startswith("the ") else ("", 0)
