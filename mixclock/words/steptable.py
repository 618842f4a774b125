"""The table of what is said: a row for every step, with its words at every stage.

What stands in braces is filled in by `mixclock.words.alerting`.
"""

from __future__ import annotations

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
from mixclock.words.cautions import Moment
from mixclock.words.stepforms import CARRY_IT, LEAVE_IT, Occasion, StageWords, StepWords, closing_stages

_DRYING = Moment.ACID_DRYING
_DEWY = ", no fuel heater. Dew is near."


def _hard(short: str, tail: str) -> dict[Stage, StageWords]:
    """The words for a floor that may be used, and how the crew makes sure."""
    by_thumb = "if a thumb leaves no mark."
    return {Stage.OPENED: StageWords(short, f"{tail}. Only {by_thumb}", f", {by_thumb}")}


_ACID = closing_stages(
    StageWords("Neutralise soon", ", by {by}. Keep it wet. {acid}", ", by {by}.", _DRYING),
    StageWords("Neutralise now", ". It must not dry on the floor. {acid}", ". It must not dry.", _DRYING),
    StageWords(
        "Wet the floor and neutralise",
        " at once. It is drying. Clean water onto the floor. {acid}",
        ". It is drying.",
        _DRYING,
    ),
    StageWords(
        "Wet the floor and scrub it",
        ". It has dried. Neutralise and rinse until the pH is that of the tap. {acid}",
        ". It has dried.",
        _DRYING,
    ),
)

ROWS: dict[str, StepWords] = {
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
        stages=closing_stages(
            StageWords("Pour it out now", ". {left} left."),
            StageWords("Pour it all out now", ". Its time in the bucket is up.", ". Its time is up."),
            StageWords(
                "Get it out of the bucket",
                ". If it strings or is hot, keep it off the floor.",
                ". Strings? Off the floor.",
            ),
            StageWords("Keep it off the floor", ". It is gone. {gone}", ". It is gone.", Moment.GONE_BUCKET),
        ),
        cases={
            Occasion.END_UNSEEN: {
                Stage.LATE: StageWords("Dump it", ". You cannot see that it is gone."),
                Stage.LOST: StageWords(
                    "Keep it off the floor",
                    ": dump it. You cannot see that it is gone. {gone}",
                    ": dump it.",
                    Moment.GONE_BUCKET,
                ),
            }
        },
    ),
    BACK_ROLL: StepWords(
        "Back-roll",
        "Rolled",
        "back-roll",
        doing="rolling",
        minds=Moment.ROLLING,
        stages=closing_stages(
            StageWords("Back-roll soon", ", done by {by}."),
            StageWords("Start back-rolling now", ", done by {by}."),
            StageWords(
                "Roll only what still flows", ". Leave what grabs: back-rolling is late.", ". Leave what grabs."
            ),
            StageWords(
                "Keep the roller off it", ". The film has set; sand it before the next coat.", ". The film has set."
            ),
        ),
    ),
    WET_EDGE: StepWords(
        "Join the next batch",
        "Joined",
        "wet edge",
        next="the next batch meets the edge",
        stages=closing_stages(
            StageWords(
                "Start the next batch soon", ", or stop here. The wet edge lasts until {by}.", ". Wet until {by}."
            ),
            StageWords("Start the next batch now", ": last moment. The wet edge goes.", ". The wet edge goes."),
            StageWords("Don't open the next kit", ". Stop at the saw cut and tape it.", ". Stop and tape it."),
            StageWords(
                "Tape a straight line here",
                ". The wet edge is gone; sand the joint before going on.",
                ". The wet edge is gone.",
            ),
        ),
        cases={
            Occasion.BATCH_COMES: closing_stages(
                StageWords("Bring batch {coming} to the wet edge", " by {by}."),
                StageWords("Pour batch {coming} to the wet edge now", ". {left} left."),
                StageWords(
                    "Join it with batch {coming} at once", ", or stop at the saw cut and tape it.", ", or tape it."
                ),
                StageWords("Stop batch {coming} at a taped line", ". The wet edge is gone; do not lap onto it.", "."),
            )
        },
    ),
    BROADCAST: StepWords(
        "Throw the flake",
        "Flaked",
        "broadcast",
        doing="flaking",
        minds=Moment.BROADCAST,
        stages=closing_stages(
            StageWords("Flake soon", ", all thrown by {by}."),
            StageWords("Throw the flake now", ", done by {by}."),
            StageWords("Throw only where it is wet", ". The flake is late."),
            StageWords(
                "No more flake",
                ": it will not anchor. Scrape when hard, sand and coat again.",
                ". It will not anchor.",
            ),
        ),
    ),
    TACK_FREE: StepWords("Keep off until tack free", "Tack free", "tack free"),
    SCRAPE: StepWords(
        "Scrape and sweep",
        "Scraped",
        "scrape",
        doing="scraping",
        minds=Moment.SANDING,
        stages={
            Stage.OPENED: StageWords("Scrape and sweep from now", ". {dust}", ".", Moment.SANDING),
            **closing_stages(
                StageWords("Scrape and sweep soon", ", done by {by}."),
                StageWords("Scrape and sweep now", ", done by {by}."),
                StageWords(
                    "Scraping is late", ". Scrape what still comes off; it was due by {by}.", ". Scrape what comes off."
                ),
                StageWords(
                    "Sand it instead", ". It is too hard to scrape. {dust}", ". It is too hard.", Moment.SANDING
                ),
            ),
        },
    ),
    RECOAT: StepWords(
        "Next coat",
        "Coated",
        "recoat",
        doing="coating",
        stages={
            Stage.OPENED: StageWords(
                "The next coat may go on", " from now. Only if a thumb leaves no mark.", ", if a thumb leaves no mark."
            ),
            **closing_stages(
                StageWords("Start the next coat by {start}", ". From {by} on it must be sanded first.", "."),
                StageWords("Start the next coat now", ". The window shuts {by}."),
                StageWords(
                    "Sand before you coat",
                    ". The recoat window may have shut. {abrade}",
                    ". It may have shut.",
                    Moment.MISSED_RECOAT,
                ),
                StageWords(
                    "Sand before you coat",
                    ". The recoat window has shut. {abrade}",
                    ". It has shut.",
                    Moment.MISSED_RECOAT,
                ),
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
                    ". Nobody is at work then.",
                )
            },
        },
    ),
    FOOT_TRAFFIC: StepWords(
        "OK to walk on",
        "Walked on",
        "walking on it",
        next="OK to walk",
        stages=_hard("OK to walk on", " from now"),
    ),
    VEHICLE_TRAFFIC: StepWords(
        "OK to park",
        "Driven on",
        "parking on it",
        stages=_hard("OK to park", " from now"),
    ),
    FULL_CURE: StepWords(
        "OK to wash and load",
        "Cured",
        "full cure",
        stages=_hard("OK to wash and load", " fully from now"),
    ),
    DWELL: StepWords(
        "Let it work, keep it wet",
        "It has worked",
        "dwell",
        next="let it work and keep it wet",
        minds=Moment.NEUTRALISING,
        stages={Stage.OPENED: StageWords("Neutralise it while it is wet", ". It has worked long enough."), **_ACID},
    ),
    NEUTRALISE: StepWords(
        "Neutralise", "Neutralised", "neutralise", doing="neutralising", minds=Moment.NEUTRALISING, stages=_ACID
    ),
    RINSE: StepWords(
        "Rinse",
        "Rinsed",
        "rinse",
        doing="rinsing",
        minds=Moment.CLEANING,
        stages=closing_stages(
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
            Stage.LATE: StageWords(
                "Pull the tape at once", ". The film is setting. Cut along it where it holds.", ". The film is setting."
            ),
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
        stages={Stage.NOW: CARRY_IT},
        cases={Occasion.SMOKES: {Stage.NOW: LEAVE_IT}},
    ),
    DEW_MARGIN: StepWords(
        "Shut the door",
        "Shut",
        "dew margin",
        stages={
            stage: StageWords("Shut the door", ", no fuel heater. It is {margin}, the film needs {limit}.", _DEWY)
            for stage in (Stage.NOW, Stage.LATE)
        },
        cases={
            Occasion.UNDER_DEW_POINT: {
                Stage.LATE: StageWords(
                    "Shut the door",
                    ", no fuel heater. The slab is under the dew point, dew falls on the film. It needs {limit}.",
                    ", no fuel heater. Dew falls.",
                )
            }
        },
    ),
    NEXT_BATCH: StepWords(
        "Start the next batch",
        "B's in",
        "next batch",
        stages={
            Stage.NOW: StageWords(
                "Start batch {number} now", ", {amount} of the {coat}. {opening}", ", {amount}.", Moment.OPENING
            )
        },
    ),
    NEXT_KIT: StepWords(
        "Ask before you open the next one",
        "B's in",
        "next kit",
        stages={
            Stage.NOW: StageWords("Open the next one", ": {kit}", "."),
            Stage.LATE: StageWords("Keep B out", ". {kit}", "."),
        },
    ),
    STIR: StepWords(
        "Stir the grit up",
        "Stirred",
        "grit",
        stages={Stage.STEP: StageWords("Stir the grit up", ", to the bottom: {grit}. It sinks.", ", to the bottom.")},
    ),
    CHECK_IN: StepWords(
        "Say that you are all right",
        "All right",
        "check-in",
        stages={
            Stage.NOW: StageWords(
                "Say that you are all right",
                ": touch Heard. Nothing was stated for {quiet}. {no_device}",
                ": touch Heard.",
            ),
            Stage.LATE: StageWords("Nobody answers", " since {quiet}. {contact} {no_device}", " since {quiet}."),
        },
    ),
    SHORT: StepWords(
        "Gauge the film",
        "Gauged",
        "material",
        stages={
            Stage.STEP: StageWords(
                "Gauge the film",
                " and fetch more now. At this rate you are {missing} short, and run out here.",
                ". {missing} short: fetch more.",
            )
        },
    ),
    TROUBLE: StepWords(
        "Keep the time yourself",
        "Seen",
        "trouble",
        stages={
            Stage.STEP: StageWords(
                "Keep the time yourself", " for {what}. It cannot be worked out here ({why}).", " for {what}."
            )
        },
    ),
}
