"""The kinds that describe a step: rank, stage, skill, law, and the work that its sheet is about."""

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
"""Within a rank, the order in which stages are said and shown: first what can still be saved, and of that the most
urgent."""

CLOSING_STAGES = (Stage.HEADS_UP, Stage.NOW, Stage.LATE, Stage.LOST)
"""The stages of an edge that closes."""


class Law(StrEnum):
    """The temperature law to assume if the sheet states only one point."""

    GEL_LIKE = "gel-like"
    HARDNESS = "hardness"


class CallKind(StrEnum):
    """What a call is about: the bucket, the wet floor, or the slab and its days. The rhythm of its sound tells which.

    The speed of that rhythm tells how urgent the call is, and a phone shakes in the same rhythm (speed for urgency,
    rhythm for kind: IEC 60601-1-8 Annex D, by a secondary text).
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
    """The kind of product that a sheet is about, as far as it decides the windows."""

    COATING = "coating"
    ETCH = "etch"
    NEUTRALISER = "neutraliser"
