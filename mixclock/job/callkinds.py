"""What a call is about, told by the rhythm of its sound: the bucket, the wet floor, or the slab and its days.

How urgent it is, is told by the speed of that rhythm, and a phone shakes in the same one (speed for urgency, rhythm for
kind: IEC 60601-1-8 Annex D, by a secondary text).
"""

from __future__ import annotations

from enum import StrEnum

from mixclock.job.steps import (
    CLEAN_PAIL,
    DEW_MARGIN,
    DRY,
    FOOT_TRAFFIC,
    FULL_CURE,
    HOT,
    INDUCTION,
    NEXT_BATCH,
    POUR_IT_ALL,
    POUR_OUT,
    RECOAT,
    SCRAPE,
    SCRAPE_SIDES,
    STAND,
    TACK_FREE,
    TROUBLE,
    VEHICLE_TRAFFIC,
)


class CallKind(StrEnum):
    """What a call is about."""

    BUCKET = "bucket"
    FLOOR = "floor"
    SLAB = "slab"


_OF_THE_BUCKET = frozenset({INDUCTION, POUR_OUT, SCRAPE_SIDES, CLEAN_PAIL, POUR_IT_ALL, STAND, HOT, NEXT_BATCH})
_OF_THE_SLAB = frozenset(
    {TACK_FREE, SCRAPE, RECOAT, FOOT_TRAFFIC, VEHICLE_TRAFFIC, FULL_CURE, DRY, DEW_MARGIN, TROUBLE}
)


def kind_of(step: str) -> CallKind:
    """What a step is about; one that a profile named itself is work on the floor.

    >>> kind_of("pour-out"), kind_of("recoat"), kind_of("second sanding")
    (<CallKind.BUCKET: 'bucket'>, <CallKind.SLAB: 'slab'>, <CallKind.FLOOR: 'floor'>)
    """
    if step in _OF_THE_BUCKET:
        return CallKind.BUCKET
    return CallKind.SLAB if step in _OF_THE_SLAB else CallKind.FLOOR
