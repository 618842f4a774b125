"""What waits for what inside a batch, in one table: the search, the proofs, the replay and a plan from where things
stand all read it, so that a live batch keeps the order that a planned one has.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import product
from typing import NamedTuple

from mixclock.job import practice
from mixclock.job.steps import BACK_ROLL, DWELL, INDUCTION, NEUTRALISE, POUR_OUT, RINSE

FOLLOW_S = 60
"""The next tool follows a minute behind (judgement)."""

AT_ONCE_S = 120
"""A mixed bucket is poured, and what is poured is spread, within two minutes (judgement)."""

MEASURED_AHEAD_S = 900
"""What is measured out is mixed within a quarter of an hour: open pails draw damp and get mixed up (judgement)."""

FLAKE_LAG_S = math.ceil(practice.FLAKE_LAG_S.value)


class Lead(NamedTuple):
    """One step of a batch leads another, in seconds from an edge of the first to the same or the other edge of the
    second; None where it does not lead by that edge. The second begins at most `within` after the first's end."""

    first: str
    then: str
    end_to_start: int | None = None
    start_to_start: int | None = None
    end_to_end: int | None = None
    within: int | None = None


LEADS: Sequence[Lead] = (
    Lead("measure", "mix", end_to_start=0, within=MEASURED_AHEAD_S),
    Lead("mix", "pour", end_to_start=0, within=AT_ONCE_S),
    Lead("ready", "measure", end_to_start=0),
    Lead("pour", "cut-in", end_to_start=0),
    Lead("pour", "squeegee", end_to_start=0, within=AT_ONCE_S),
    Lead("squeegee", "roll", start_to_start=FOLLOW_S, end_to_end=FOLLOW_S),
    Lead("cut-in", "roll", start_to_start=0, end_to_end=0),
    Lead("roll", "broadcast", start_to_start=FLAKE_LAG_S, end_to_end=FOLLOW_S),
    Lead("pour", "broadcast", end_to_start=0),
    Lead("pour", NEUTRALISE, start_to_start=0, end_to_end=0),
    Lead(NEUTRALISE, RINSE, end_to_start=0),
    Lead("pour", RINSE, end_to_start=0),
)

OPENED_BY: Mapping[str, tuple[str, ...]] = {
    "pour": (INDUCTION,),
    "broadcast": ("broadcast",),
    NEUTRALISE: (DWELL, NEUTRALISE),
    RINSE: (RINSE,),
}
"""The windows that have to be open before a step."""

SHUT_BY: Mapping[str, tuple[str, ...]] = {
    "pour": (POUR_OUT,),
    "roll": (BACK_ROLL,),
    "broadcast": ("broadcast",),
    NEUTRALISE: (DWELL, NEUTRALISE),
    RINSE: (RINSE,),
}
"""The windows before whose end a step must be finished."""

FOLLOWING = (NEUTRALISE, RINSE)
"""Steps that go over the floor as the one before them did: each strip lies in between for as long."""

STEP_OF: Mapping[str, str] = {
    "mixed": "mix",
    "poured": "pour",
    "rolled": "roll",
    "flaked": "broadcast",
    BACK_ROLL: "roll",
}
"""The step from which a window counts, by the word of the sheet."""


HELPED = "cut-in by a second"
"""The other half of the edges, where two may cut in a batch: it waits, and is waited for, as the first half does."""

ROLLED_BY_TWO = "roll by a second"
"""The share of a second roller, where two roll a batch side by side: both begin at once."""

BY_A_SECOND: Mapping[str, str] = {"cut-in": HELPED, "roll": ROLLED_BY_TWO}
"""The steps with which a second person may help, and what the second one does."""

MOST_STRIPS = 6
"""A bucket is poured out in so many strips at most (judgement)."""

IN_STRIPS = ("pour", "cut-in", "squeegee", "roll", "broadcast")
"""The steps that are done strip by strip if a bucket is poured out in strips."""


def on_strip(kind: str, strip: int) -> str:
    """A step on one of the strips of a bucket, counted from 1.

    >>> on_strip("roll", 1), on_strip("roll", 3)
    ('roll', 'roll, strip 3')
    """
    return kind if strip == 1 else f"{kind}, strip {strip}"


STRIP_OF: Mapping[str, int] = {
    on_strip(kind, strip): strip for kind in IN_STRIPS for strip in range(2, MOST_STRIPS + 1)
}
"""On which strip a step is done, for those behind the first."""

WORK_OF: Mapping[str, str] = {
    **{second: kind for kind, second in BY_A_SECOND.items()},
    **{on_strip(kind, strip): kind for kind in IN_STRIPS for strip in range(2, MOST_STRIPS + 1)},
}
"""What is done in a step that is part of another."""


def strips_in(kinds: Collection[str]) -> int:
    """In how many strips a bucket with these steps is poured out."""
    return max((STRIP_OF.get(kind, 1) for kind in kinds), default=1)


@lru_cache(maxsize=64)
def leads_among(kinds: tuple[str, ...]) -> tuple[Lead, ...]:
    """The rows of the table between steps of these kinds; what a second person does, and each strip, keeps those of the
    first. A search asks the same for each of its batches."""
    return tuple(_leads_among(kinds))


def _leads_among(kinds: Collection[str]) -> Iterator[Lead]:
    for lead in LEADS:
        for first, then in product(*((kind, BY_A_SECOND.get(kind, "")) for kind in (lead.first, lead.then))):
            if first in kinds and then in kinds:
                yield lead._replace(first=first, then=then)
        for strip in range(2, strips_in(kinds) + 1):
            first, then = on_strip(lead.first, strip), on_strip(lead.then, strip)
            if first in kinds and then in kinds:
                yield lead._replace(first=first, then=then)


def leads_to(kind: str) -> Iterator[Lead]:
    """What a step waits for."""
    return (lead for lead in LEADS if lead.then == kind)


def soonest_ends(quickest: Mapping[str, int]) -> dict[str, int]:
    """When each step of a batch can be over at the soonest, in seconds from the end of its pour, with hands without
    end: by how long the quickest takes for each.

    >>> soonest_ends({"pour": 60, "squeegee": 300, "roll": 400})
    {'squeegee': 300, 'roll': 460}
    """
    starts: dict[str, int] = {}
    ends: dict[str, int] = {"pour": 0}
    for kind in (kind for kind in quickest if kind not in ("ready", "measure", "mix", "pour")):
        spans, start = quickest[kind], 0
        for lead in leads_to(kind):
            if lead.end_to_start is not None and lead.first in ends:
                start = max(start, ends[lead.first] + lead.end_to_start)
            if lead.start_to_start is not None and lead.first in starts:
                start = max(start, starts[lead.first] + lead.start_to_start)
            if lead.end_to_end is not None and lead.first in ends and lead.first != "pour":
                start = max(start, ends[lead.first] + lead.end_to_end - spans)
        starts[kind], ends[kind] = start, start + spans
    del ends["pour"]
    return ends
