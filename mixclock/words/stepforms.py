"""The forms in which the words of a step are kept."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from mixclock.job.steps import Stage
from mixclock.values import dataclass, field
from mixclock.words.cautions import Moment


@dataclass(frozen=True)
class StageWords:
    """What is said at one stage: `short` stands large on a phone and opens the call, `more` goes on right after it.

    `ear` is what the voice goes on with instead of `more`, `minds` the moment whose caution it says after the call.
    """

    short: str
    more: str = ""
    ear: str | None = None
    minds: Moment | None = None


class Occasion(StrEnum):
    """What makes the same step at the same stage need other words."""

    USUAL = "usual"
    BATCH_COMES = "batch comes"
    END_UNSEEN = "end unseen"
    NOBODY_AT_WORK = "nobody at work"
    SHUTS_LATER = "shuts later"
    UNDER_DEW_POINT = "under dew point"
    SMOKES = "smokes"


Stages = Mapping[Stage, StageWords]


@dataclass(frozen=True)
class StepWords:
    """How a step reads.

    `do` is what there is to do, before anybody is called for it; `done` the button that states it; `doing` what
    somebody is at who began it; `window` what its window is called on a screen; `next` how it stands in a line of what
    comes next, where that is not `do`; `gone` the button that ends it once it is lost; `minds` what is minded while
    somebody is at it, and of an etch also when it is done, since the next step follows at once.
    """

    do: str
    done: str
    window: str
    doing: str = ""
    next: str = ""
    gone: str = ""
    minds: Moment | None = None
    stages: Stages = field(default_factory=dict)
    cases: Mapping[Occasion, Stages] = field(default_factory=dict)


CARRY_IT = StageWords(
    "Hot bucket: outside if you can hold it", ". It is running hot. {hot_all}", ".", Moment.HOT_BUCKET
)
LEAVE_IT = StageWords("It smokes: leave it, get out", ". {smoke_all}", ".", Moment.SMOKING_BUCKET)
"""The call for a hot bucket that can still be held, and the call for one that nobody must carry."""


def closing_stages(
    heads_up: StageWords, now: StageWords, late: StageWords, lost: StageWords
) -> dict[Stage, StageWords]:
    """The four stages of an edge that closes."""
    return {Stage.HEADS_UP: heads_up, Stage.NOW: now, Stage.LATE: late, Stage.LOST: lost}
