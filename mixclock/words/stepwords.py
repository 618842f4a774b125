"""The words of every step at every stage: voice, phone, notification and terminal all take them from here.

Each stage has a short form, which a phone shows large and a call begins with, and what a call adds to it. So a screen
and a voice never say different things. The table is `mixclock.words.steptable`.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mixclock.job.steps import Stage
from mixclock.words.stepforms import Occasion, StageWords, StepWords, closing_stages
from mixclock.words.steptable import ROWS

__all__ = ["STAGE_MARKS", "STEP_WORDS", "Occasion", "StageWords", "StepWords", "next_words", "stage_words", "words_of"]

STEP_WORDS: Mapping[str, StepWords] = MappingProxyType(ROWS)

STAGE_MARKS: Mapping[Stage, str] = MappingProxyType(
    {
        Stage.HEADS_UP: "soon",
        Stage.OPENED: "from now",
        Stage.STEP: "now",
        Stage.NOW: "now",
        Stage.LATE: "late",
        Stage.LOST: "gone",
    }
)
"""A stage in a word, where a line has room for no more."""


def words_of(step: str) -> StepWords:
    """The words of a step. A step that only a profile names goes by its name.

    >>> words_of("pour-out").done, words_of("second-sanding").do
    ('Poured', 'Second sanding')
    """
    known = STEP_WORDS.get(step)
    return known if known is not None else _own_words(step.replace("-", " "))


def next_words(step: str) -> str:
    """How a step stands in a line of what comes next.

    >>> next_words("back-roll"), next_words("foot-traffic")
    ('back-roll', 'OK to walk')
    """
    words = words_of(step)
    return words.next or (words.do if words.do.startswith("OK") else words.do[:1].lower() + words.do[1:])


def stage_words(step: str, stage: Stage, case: Occasion = Occasion.USUAL) -> StageWords:
    """What is said of a step at a stage: the words of the case where it has some, else the usual ones.

    >>> stage_words("broadcast", Stage.LOST).short
    'No more flake'
    """
    words = words_of(step)
    own = words.cases.get(case, {}).get(stage) or words.stages.get(stage)
    return own if own is not None else StageWords(_unbraced(words.do), ".")


def _own_words(name: str) -> StepWords:
    plain = _unbraced(name[:1].upper() + name[1:])
    told = {
        Stage.OPENED: StageWords(plain, " from now."),
        Stage.STEP: StageWords(plain, "."),
        **closing_stages(
            StageWords(f"{plain} soon", ", done by {by}."),
            StageWords(f"{plain} now", ", done by {by}."),
            StageWords(f"{plain} is late", ": it was due by {by}."),
            StageWords(f"Too late for {_unbraced(name)}", ": its window has shut."),
        ),
    }
    return StepWords(do=name[:1].upper() + name[1:], done="Done", window=name, doing=f"on {name}", stages=told)


def _unbraced(name: str) -> str:
    """A name as it may stand in words that are filled in later."""
    return name.replace("{", "{{").replace("}", "}}")
