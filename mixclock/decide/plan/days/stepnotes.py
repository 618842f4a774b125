"""What a crew has to mind at a step: where a batch meets another or film that lies already, and which bucket of
neutraliser goes with which of acid."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta

from mixclock.decide.plan.floor import acid
from mixclock.decide.plan.floor.flake import is_sand
from mixclock.decide.plan.floor.plans import FloorPiece
from mixclock.decide.plan.floor.setting import CoatSetting
from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.job import practice
from mixclock.job.steps import BACK_ROLL, BROADCAST

_WHERE_SHUT = {BACK_ROLL: "roll only what still flows", BROADCAST: "throw only where it is wet"}


def late_said(window: str, batch: int, shut: bool) -> str:
    """What is said of a step of a film that lies and that can't end in time; once its edge has passed, what that film
    still takes.

    >>> late_said("back-roll", 2, True)
    'back-roll of batch 2 is late: do it at once, roll only what still flows'
    """
    only = f", {_WHERE_SHUT[window]}" if shut and window in _WHERE_SHUT else ""
    return f"{window} of batch {batch} is late: do it at once{only}"


def meets_what_lies(setting: CoatSetting, pieces: Sequence[FloorPiece]) -> bool:
    """Whether a batch on these pieces begins at the wet edge of film that lies already."""
    begun = [setting.bounds[piece.area] for piece in pieces if piece.part == 1 and piece.area in setting.bounds]
    return any(bound.joined_by_s < NEVER_S for bound in begun)


def met_by(
    setting: CoatSetting, pieces: Sequence[FloorPiece], begins: datetime, poured: Callable[[int], datetime]
) -> Iterator[datetime]:
    """By when what begins on these pieces must have met each film beside it that is none of this plan's buckets: what
    lies already, or what a live bucket has still to pour (by its place among the open steps)."""
    for area in (piece.area for piece in pieces if piece.part == 1):
        pours, lying_by_s = setting.met_on(area)
        yield from (poured(place) + timedelta(seconds=setting.waiting[place].wet_s) for place in pours)
        if lying_by_s < NEVER_S:
            yield begins + timedelta(seconds=lying_by_s)


def flake_note(setting: CoatSetting, joins: bool, before: str) -> str:
    """The strip at a joint that was left bare comes first; another one is left at the joint to what comes next."""
    said, sand = [], is_sand(setting.coat)
    if joins:
        said.append(f"{'the bare strip' if sand else 'flake the strip'} at the joint first")
    if before:
        strip = setting.site.units.write_length(practice.UNFLAKED_STRIP_M.value)
        said.append(f"leave {strip} {'bare' if sand else 'unflaked'} at the joint to {before}")
    return "; ".join(said)


def neutralised_with(setting: CoatSetting, pieces: Sequence[FloorPiece], first: int) -> str:
    """Which buckets of neutraliser go on the acid on these pieces; those still to be mixed count from `first`."""
    beside = setting.beside if setting.neutraliser is not None else {}
    known = [beside[piece.area] for piece in pieces if piece.area in beside]
    buckets = enumerate(acid.bucketfuls(setting, setting.pieces), first)
    numbers = dict.fromkeys([*known, *(number for number, bucket in buckets if set(bucket) & set(pieces))])
    return f"with {' and '.join(f'batch {number}' for number in numbers)}" if numbers else ""
