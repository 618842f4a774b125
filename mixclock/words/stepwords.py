"""The words of every step at every stage: voice, phone, notification and terminal all take them from here.

Each stage has a short form, which a phone shows large and a call begins with, and what a call adds to it. So a screen
and a voice never say different things. What stands in braces is filled in by `mixclock.words.alerting`.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mixclock.job.steps import (
    BACK_ROLL,
    BROADCAST,
    CHECK_IN,
    CLEAN_PAIL,
    DEW_MARGIN,
    DRY,
    DWELL,
    FOOT_TRAFFIC,
    FULL_CURE,
    HOT,
    INDUCTION,
    NEUTRALISE,
    NEXT_BATCH,
    NEXT_KIT,
    POUR_IT_ALL,
    POUR_OUT,
    PULL_TAPE,
    RECOAT,
    RINSE,
    SCRAPE,
    SCRAPE_SIDES,
    SHORT,
    STAND,
    STIR,
    TACK_FREE,
    TAPE,
    TROUBLE,
    VEHICLE_TRAFFIC,
    WET_EDGE,
    Stage,
)
from mixclock.words.stepforms import Occasion, StageWords, StepWords

__all__ = ["Occasion", "StageWords", "StepWords"]


def _closing(heads_up: StageWords, now: StageWords, late: StageWords, lost: StageWords) -> dict[Stage, StageWords]:
    return {Stage.HEADS_UP: heads_up, Stage.NOW: now, Stage.LATE: late, Stage.LOST: lost}


_ACID = _closing(
    StageWords("Neutralise soon", ", by {by}. Keep it wet. {acid}"),
    StageWords("Neutralise now", ". It must not dry on the floor. {acid}"),
    StageWords("Wet the floor and neutralise", " at once. It is drying. Clean water onto the floor. {acid}"),
    StageWords(
        "Wet the floor and scrub it", ". It has dried. Neutralise and rinse until the pH is that of the tap. {acid}"
    ),
)

_ROWS: dict[str, StepWords] = {
    INDUCTION: StepWords(
        "Let it stand",
        "It has stood",
        "stand",
        next="let it stand, use it",
        stages={Stage.OPENED: StageWords("Stir once and pour it", ". The stand is over.")},
    ),
    POUR_OUT: StepWords(
        "Pour it out",
        "Poured",
        "pour out",
        doing="pouring",
        gone="Dumped",
        next="pour it all out",
        stages=_closing(
            StageWords("Pour it out now", ". {left} left."),
            StageWords("Pour it all out now", ". Its time in the bucket is up."),
            StageWords("Get it out of the bucket", ". If it strings or is hot, keep it off the floor."),
            StageWords("Keep it off the floor", ". It is gone. {gone}"),
        ),
        cases={
            Occasion.END_UNSEEN: {
                Stage.LATE: StageWords("Dump it", ". You cannot see that it is gone."),
                Stage.LOST: StageWords("Keep it off the floor", ": dump it. You cannot see that it is gone. {gone}"),
            }
        },
    ),
    BACK_ROLL: StepWords(
        "Back-roll",
        "Rolled",
        "back-roll",
        doing="rolling",
        stages=_closing(
            StageWords("Back-roll soon", ", done by {by}."),
            StageWords("Start back-rolling now", ", done by {by}."),
            StageWords("Roll only what still flows", ". Back-rolling is late."),
            StageWords("Keep the roller off it", ". The film has set; sand it before the next coat."),
        ),
    ),
    WET_EDGE: StepWords(
        "Join the next batch",
        "Joined",
        "wet edge",
        next="the next batch meets the edge",
        stages=_closing(
            StageWords("Start the next batch soon", ", or stop here. The wet edge lasts until {by}."),
            StageWords("Start the next batch now", ": last moment. The wet edge goes."),
            StageWords("Don't open the next kit", ". Stop at the saw cut and tape it."),
            StageWords("Tape a straight line here", ". The wet edge is gone; sand the joint before going on."),
        ),
        cases={
            Occasion.BATCH_COMES: _closing(
                StageWords("Bring batch {coming} to the wet edge", " by {by}."),
                StageWords("Pour batch {coming} to the wet edge now", ". {left} left."),
                StageWords("Join it with batch {coming} at once", ", or stop at the saw cut and tape it."),
                StageWords("Stop batch {coming} at a taped line", ". The wet edge is gone; do not lap onto it."),
            )
        },
    ),
    BROADCAST: StepWords(
        "Throw the flake",
        "Flaked",
        "broadcast",
        doing="flaking",
        stages=_closing(
            StageWords("Flake soon", ", all thrown by {by}."),
            StageWords("Throw the flake now", ", done by {by}."),
            StageWords("Throw only where it is wet", ". The flake is late."),
            StageWords("Stop throwing", ". No more flake: it will not anchor. Scrape when hard, sand and coat again."),
        ),
    ),
    TACK_FREE: StepWords("Keep off until tack free", "Tack free", "tack free"),
    SCRAPE: StepWords(
        "Scrape and sweep",
        "Scraped",
        "scrape",
        doing="scraping",
        stages={
            Stage.OPENED: StageWords("Scrape and sweep from now", ". {dust}"),
            **_closing(
                StageWords("Scrape and sweep soon", ", done by {by}."),
                StageWords("Scrape and sweep now", ", done by {by}."),
                StageWords("Scraping is late", ". Scrape what still comes off; it was due by {by}."),
                StageWords("Sand it instead", ". It is too hard to scrape. {dust}"),
            ),
        },
    ),
    RECOAT: StepWords(
        "Next coat",
        "Coated",
        "recoat",
        doing="coating",
        stages={
            Stage.OPENED: StageWords("The next coat may go on", " from now. Only if a thumb leaves no mark."),
            **_closing(
                StageWords("Start the next coat by {start}", ". From {by} on it must be sanded first."),
                StageWords("Start the next coat now", ". The window shuts {by}."),
                StageWords("Sand before you coat", ". The recoat window may have shut. {abrade}"),
                StageWords("Sand before you coat", ". The recoat window has shut. {abrade}"),
            ),
        },
        cases={
            Occasion.SHUTS_LATER: {
                Stage.OPENED: StageWords(
                    "The next coat may go on", " from now, until {by}. Only if a thumb leaves no mark."
                )
            },
            Occasion.NOBODY_AT_WORK: {
                Stage.HEADS_UP: StageWords(
                    "The next coat may go on",
                    " from {opens} until {by}, when nobody is at work. After that sand it first.",
                )
            },
        },
    ),
    FOOT_TRAFFIC: StepWords(
        "OK to walk on",
        "Walked on",
        "walking on it",
        next="OK to walk",
        stages={Stage.OPENED: StageWords("OK to walk on", " from now. Only if a thumb leaves no mark.")},
    ),
    VEHICLE_TRAFFIC: StepWords(
        "OK to park",
        "Driven on",
        "parking on it",
        stages={Stage.OPENED: StageWords("OK to park", " from now. Only if a thumb leaves no mark.")},
    ),
    FULL_CURE: StepWords(
        "OK to wash and load",
        "Cured",
        "full cure",
        stages={Stage.OPENED: StageWords("OK to wash and load", " fully from now. Only if a thumb leaves no mark.")},
    ),
    DWELL: StepWords(
        "Let it work, keep it wet",
        "It has worked",
        "dwell",
        next="let it work and keep it wet",
        stages={Stage.OPENED: StageWords("Neutralise it while it is wet", ". It has worked long enough."), **_ACID},
    ),
    NEUTRALISE: StepWords("Neutralise", "Neutralised", "neutralise", doing="neutralising", stages=_ACID),
    RINSE: StepWords(
        "Rinse",
        "Rinsed",
        "rinse",
        doing="rinsing",
        stages=_closing(
            StageWords("Rinse soon", ", done by {by}."),
            StageWords("Rinse now", ", done by {by}."),
            StageWords("Rinse at once", ". It was due by {by}."),
            StageWords("Scrub it and rinse", ". It has dried. Go on until the pH is that of the tap."),
        ),
    ),
    DRY: StepWords(
        "Let it dry",
        "Dry",
        "dry",
        stages={Stage.OPENED: StageWords("Check that it is dry", ". The slab has had its drying time.")},
    ),
    TAPE: StepWords("Tape the edge", "Taped", "tape", doing="taping"),
    PULL_TAPE: StepWords(
        "Pull the tape",
        "Tape is off",
        "tape",
        doing="pulling the tape",
        stages={
            Stage.NOW: StageWords("Pull the tape while it is wet", ". By {by}."),
            Stage.LATE: StageWords("Pull the tape at once", ". The film is setting. Cut along it where it holds."),
        },
    ),
    SCRAPE_SIDES: StepWords(
        "Scrape the sides", "Scraped", "mixing", stages={Stage.STEP: StageWords("Scrape the sides", " and the bottom.")}
    ),
    CLEAN_PAIL: StepWords(
        "Into the clean pail",
        "Changed",
        "mixing",
        stages={Stage.STEP: StageWords("Into the clean pail", ", half a minute more.")},
    ),
    POUR_IT_ALL: StepWords(
        "Pour it all out now",
        "Poured",
        "mixing",
        stages={Stage.STEP: StageWords("Pour it all out now", ", in ribbons.")},
    ),
    STAND: StepWords(
        "Stop mixing", "Mixed", "mixing", stages={Stage.STEP: StageWords("Stop mixing", " and let it stand{stand}.")}
    ),
    HOT: StepWords(
        "Hot bucket: outside if you can hold it",
        "Dealt with",
        "hot bucket",
        stages={Stage.NOW: StageWords("Hot bucket: outside if you can hold it", ". It is running hot. {hot_all}")},
    ),
    DEW_MARGIN: StepWords(
        "Shut the door",
        "Shut",
        "dew margin",
        stages={
            Stage.NOW: StageWords("Shut the door", ", no fuel heater. It is {margin}, the film needs {limit}."),
            Stage.LATE: StageWords("Shut the door", ", no fuel heater. It is {margin}, the film needs {limit}."),
        },
        cases={
            Occasion.UNDER_DEW_POINT: {
                Stage.LATE: StageWords(
                    "Shut the door",
                    ", no fuel heater. The slab is under the dew point, dew falls on the film. It needs {limit}.",
                )
            }
        },
    ),
    NEXT_BATCH: StepWords(
        "Start the next batch",
        "B's in",
        "next batch",
        stages={Stage.NOW: StageWords("Start batch {number} now", ", {amount} of the {coat}. {opening}")},
    ),
    NEXT_KIT: StepWords(
        "Ask before you open the next one",
        "B's in",
        "next kit",
        stages={
            Stage.NOW: StageWords("Open the next one", ": {kit}"),
            Stage.LATE: StageWords("Keep B out", ". {kit}"),
        },
    ),
    STIR: StepWords(
        "Stir the grit up",
        "Stirred",
        "grit",
        stages={Stage.STEP: StageWords("Stir the grit up", ", to the bottom. It sinks.")},
    ),
    CHECK_IN: StepWords(
        "Say that you are all right",
        "All right",
        "check-in",
        stages={
            Stage.NOW: StageWords("Say that you are all right", ": touch Heard. Nothing was stated for {quiet}."),
            Stage.LATE: StageWords("Nobody answers", " since {quiet}. {contact}"),
        },
    ),
    SHORT: StepWords(
        "Gauge the film",
        "Gauged",
        "material",
        stages={
            Stage.STEP: StageWords(
                "Gauge the film", " and fetch more now. At this rate you are {missing} short, and run out here."
            )
        },
    ),
    TROUBLE: StepWords(
        "Keep the time yourself",
        "Seen",
        "trouble",
        stages={Stage.STEP: StageWords("Keep the time yourself", " for {what}. It cannot be worked out here ({why}).")},
    ),
}

STEP_WORDS: Mapping[str, StepWords] = MappingProxyType(_ROWS)

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
    """How a step reads; one that a profile named itself reads as it is named.

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
    'Stop throwing'
    """
    words = words_of(step)
    own = words.cases.get(case, {}).get(stage) or words.stages.get(stage)
    return own if own is not None else StageWords(_unbraced(words.do), ".")


def _own_words(name: str) -> StepWords:
    plain = _unbraced(name[:1].upper() + name[1:])
    told = {
        Stage.OPENED: StageWords(plain, " from now."),
        Stage.STEP: StageWords(plain, "."),
        **_closing(
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
