"""Places on the floor as a person says them: bays that follow each other as a range, parts of one as a share of it."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby

PART = re.compile(r"^(?P<area>.*) \(parts? (?P<first>\d+)(?: to (?P<last>\d+))? of (?P<parts>\d+)\)$")
SHARES: Mapping[int, tuple[str, str]] = {
    2: ("half", "halves"),
    3: ("third", "thirds"),
    4: ("quarter", "quarters"),
    5: ("fifth", "fifths"),
    6: ("sixth", "sixths"),
}
COUNTS = ("", "", "two ", "three ", "four ", "five ")
MOST_COUNTED = 12
"""Nobody counts more parts of an area than these: of more it is said how many in a hundred (judgement)."""

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
    >>> areas_said(["hall (parts 1 to 667 of 1000)"]), areas_said(["hall (parts 201 to 500 of 1000)", "bay 1"])
    ('the first 67 % of hall', 'hall from 20 to 50 % and bay 1')
    """
    places = [_share_said(area, list(group)) for area, group in groupby(names, key=area_of)]
    found = list(_in_ranges(places))
    return f"{', '.join(found[:-1])} and {found[-1]}" if len(found) > 1 else "".join(found)


def part_named(area: str, first: int, last: int, of: int) -> str:
    """The name of what lies in these of so many equal parts of an area.

    >>> part_named("hall", 3, 3, 4), part_named("hall", 1, 667, 1000)
    ('hall (part 3 of 4)', 'hall (parts 1 to 667 of 1000)')
    """
    return f"{area} (part {first} of {of})" if first == last else f"{area} (parts {first} to {last} of {of})"


def area_of(name: str) -> str:
    """The area that a place lies in."""
    match = PART.match(name)
    return match["area"] if match else name


def _share_said(area: str, names: Sequence[str]) -> str:
    """The parts of one area, which follow each other."""
    matches = [match for match in map(PART.match, names) if match is not None]
    if not matches:
        return area
    first, of = int(matches[0]["first"]), int(matches[0]["parts"])
    last = int(matches[-1]["last"] or matches[-1]["first"])
    if (first, last) == (1, of):
        return area
    where = "first" if first == 1 else "last" if last == of else "middle" if first - 1 == of - last else ""
    if where:
        return f"the {where} {_fraction_said(last - first + 1, of)} of {area}"
    return _inside_said(area, first, last, of)


def _inside_said(area: str, first: int, last: int, of: int) -> str:
    """Parts from neither end of an area."""
    if first == last and of in SHARES:
        return f"the {NTH[first]} {SHARES[of][0]} of {area}"
    if of > MOST_COUNTED:
        return f"{area} from {_in_a_hundred(first - 1, of)} to {_in_a_hundred(last, of)} %"
    if last == first + 1:
        return f"{area} (parts {first} and {last} of {of})"
    return part_named(area, first, last, of)


def _in_a_hundred(parts: int, of: int) -> int:
    return round(100.0 * parts / of)


def _fraction_said(parts: int, of: int) -> str:
    shared = math.gcd(parts, of)
    parts, of = parts // shared, of // shared
    if of > MOST_COUNTED:
        return f"{_in_a_hundred(parts, of)} %"
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
