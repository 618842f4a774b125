"""The kinds that a step is told by: rank, stage, skill, law, and the work that its sheet is about."""

from __future__ import annotations

from enum import StrEnum


class Rank(StrEnum):
    """How loudly an alert must reach the crew."""

    CRITICAL = "critical"
    TIMELY = "timely"
    NOTICE = "notice"


class Stage(StrEnum):
    """How far along an alert is, in order: a later stage replaces an earlier one."""

    HEADS_UP = "heads-up"
    OPENED = "opened"
    STEP = "step"
    NOW = "now"
    LATE = "late"
    LOST = "lost"


STAGE_ORDER = tuple(Stage)
RANK_ORDER = tuple(Rank)
SAVABLE_FIRST = (Stage.LATE, Stage.NOW, Stage.STEP, Stage.OPENED, Stage.HEADS_UP, Stage.LOST)
"""Which stage is said and shown first among the same rank: what can still be saved, the later the sooner."""

CLOSING_STAGES = (Stage.HEADS_UP, Stage.NOW, Stage.LATE, Stage.LOST)
"""The stages of an edge that closes."""


class Law(StrEnum):
    """Which temperature law stands in where the sheet states one point only."""

    GEL_LIKE = "gel-like"
    HARDNESS = "hardness"


class CallKind(StrEnum):
    """What a call is about, told by the rhythm of its sound: the bucket, the wet floor, or the slab and its days.

    How urgent it is, is told by the speed of that rhythm, and a phone shakes in the same one (speed for
    urgency, rhythm for kind: IEC 60601-1-8 Annex D, by a secondary text).
    """

    BUCKET = "bucket"
    FLOOR = "floor"
    SLAB = "slab"


class Skill(StrEnum):
    """What a person of the crew does, as the job file says it."""

    MIX = "mix"
    POUR = "pour"
    SQUEEGEE = "squeegee"
    CUT_IN = "cut-in"
    ROLL = "roll"
    BROADCAST = "broadcast"
    SCRAPE = "scrape"
    PREP = "prep"
    CLEAN = "clean"


class Work(StrEnum):
    """What kind of product a sheet is about, as far as its windows go."""

    COATING = "coating"
    ETCH = "etch"
    NEUTRALISER = "neutraliser"
