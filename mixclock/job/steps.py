"""The table of steps: one row for each step of the trade and each moment that a crew is called for.

Every module that knows a step reads it here: who does it, how loud its call is, what it waits for, which statement ends
it, what its window is about. `mixclock.words.stepwords` has the words for each stage. A new step is a row here and its
words there. A profile may have windows with any other name: these are steps of their own, with the row that `row_of`
gives.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mixclock.job.stepkinds import CLOSING_STAGES, CallKind, Law, Rank, Skill, Stage, Work
from mixclock.job.steprow import Step

INDUCTION = "induction"
POUR_OUT = "pour-out"
BACK_ROLL = "back-roll"
WET_EDGE = "wet-edge"
BROADCAST = "broadcast"
TACK_FREE = "tack-free"
SCRAPE = "scrape"
RECOAT = "recoat"
FOOT_TRAFFIC = "foot-traffic"
VEHICLE_TRAFFIC = "vehicle-traffic"
FULL_CURE = "full-cure"
DWELL = "dwell"
NEUTRALISE = "neutralise"
RINSE = "rinse"
DRY = "dry"
SCRAPE_SIDES = "scrape-sides"
CLEAN_PAIL = "clean-pail"
POUR_IT_ALL = "pour-it-all"
STAND = "stand"
HOT = "hot"
DEW_MARGIN = "dew-margin"
NEXT_BATCH = "next-batch"
NEXT_KIT = "next-kit"
STIR = "stir"
CHECK_IN = "check-in"
SHORT = "short"
TAPE = "tape"
PULL_TAPE = "pull-tape"
TROUBLE = "trouble"


BOTH = frozenset({"opens", "closes"})
OPENS = frozenset({"opens"})
CLOSES = frozenset({"closes"})

_ROWS = (
    Step(
        INDUCTION,
        "the stand between mixing and use",
        BOTH,
        opens_as=Rank.TIMELY,  # pour-out calls for its end
        skill=Skill.MIX,
        counts_from="mixed",
        limit=True,
        stands_still=True,
        about=CallKind.BUCKET,
    ),
    Step(
        POUR_OUT,
        "getting the mix out of the bucket",
        CLOSES,
        rank=Rank.CRITICAL,
        called=CLOSING_STAGES,
        verb="poured",
        past="poured",
        gone_verb="dumped",
        aliases=("pour", "poured", "pouring"),
        skill=Skill.POUR,
        waits_for=(INDUCTION,),
        signs=("stringy",),
        about=CallKind.BUCKET,
    ),
    Step(
        BACK_ROLL,
        "rolling a second time, to level",
        BOTH,
        called=CLOSING_STAGES,
        verb="rolled",
        past="rolled",
        aliases=("roll", "rolled", "rolling", "backroll", "backrolling"),
        skill=Skill.ROLL,
        waits_for=(POUR_OUT,),
        from_bucket=True,
        on_film=True,
        question="until when the film can be back-rolled",
        asked_of=(Work.COATING,),
    ),
    Step(
        WET_EDGE,
        "joining the next batch without a lap mark",
        CLOSES,
        rank=Rank.CRITICAL,
        called=CLOSING_STAGES,
        skill=Skill.MIX,  # the crew keeps a joint by starting the next batch in time
        from_bucket=True,
        on_film=True,
        question="until when the next batch can be joined",
        asked_of=(Work.COATING,),
    ),
    Step(
        BROADCAST,
        "throwing flake or sand",
        BOTH,
        rank=Rank.CRITICAL,
        called=CLOSING_STAGES,
        verb="flaked",
        past="flaked",
        aliases=("flake", "flaked", "flaking", "broadcasting"),
        skill=Skill.BROADCAST,
        waits_for=(BACK_ROLL,),
        from_bucket=True,
        of_flake=True,
        on_film=True,
        question="until when flake sticks",
        asked_of=(Work.COATING,),
    ),
    Step(
        TACK_FREE,
        "a thumb leaves no mark",
        OPENS,
        signs=("skinned", "tack free"),
        from_bucket=True,
        question="from when dust and dew no longer mark it",
        asked_of=(Work.COATING,),
        limit=True,
        about=CallKind.SLAB,
    ),
    Step(
        SCRAPE,
        "scraping and sweeping the flaked coat",
        BOTH,
        rank=Rank.NOTICE,
        opens_as=Rank.NOTICE,
        called=CLOSING_STAGES,
        verb="did",
        past="scraped",
        aliases=("scraping", "scraped"),
        skill=Skill.BROADCAST,
        waits_for=(BROADCAST,),
        of_flake=True,
        on_film=True,
        limit=True,
        about=CallKind.SLAB,
    ),
    Step(
        RECOAT,
        "the next coat",
        BOTH,
        opens_as=Rank.NOTICE,
        called=CLOSING_STAGES,
        skill=Skill.POUR,
        waits_for=(SCRAPE,),
        per_area=True,
        question="when the next coat may go on",
        asked_of=(Work.COATING,),
        limit=True,
        about=CallKind.SLAB,
    ),
    Step(
        FOOT_TRAFFIC,
        "feet",
        OPENS,
        opens_as=Rank.NOTICE,
        signs=("hard",),
        law=Law.HARDNESS,
        per_area=True,
        question="from when it may be walked on",
        asked_of=(Work.COATING,),
        limit=True,
        about=CallKind.SLAB,
    ),
    Step(
        VEHICLE_TRAFFIC,
        "wheels",
        OPENS,
        opens_as=Rank.NOTICE,
        law=Law.HARDNESS,
        per_area=True,
        question="from when it may be driven on",
        asked_of=(Work.COATING,),
        limit=True,
        about=CallKind.SLAB,
    ),
    Step(
        FULL_CURE,
        "washing, chemicals and full load",
        OPENS,
        opens_as=Rank.NOTICE,
        law=Law.HARDNESS,
        per_area=True,
        question="from when it may be washed and loaded",
        asked_of=(Work.COATING,),
        limit=True,
        about=CallKind.SLAB,
    ),
    Step(
        DWELL,
        "the time that the solution works on the slab",
        BOTH,
        rank=Rank.CRITICAL,
        opens_as=Rank.TIMELY,
        called=CLOSING_STAGES,
        ended_by=(DWELL, NEUTRALISE, RINSE),  # nobody states that the solution has worked: people neutralise or rinse
        question="how long the solution works",
        asked_of=(Work.ETCH,),
        stands_still=True,
    ),
    Step(
        NEUTRALISE,
        "neutralising, before the solution dries",
        BOTH,
        rank=Rank.CRITICAL,
        called=CLOSING_STAGES,
        verb="did",
        past="neutralised",
        aliases=("neutralising", "neutralised", "neutralize"),
        waits_for=(DWELL,),
        ended_by=(NEUTRALISE,),
        question="by when to neutralise",
        asked_of=(Work.ETCH,),
    ),
    Step(
        RINSE,
        "rinsing off",
        BOTH,
        called=CLOSING_STAGES,
        verb="did",
        past="rinsed",
        aliases=("rinsing", "rinsed"),
        waits_for=(NEUTRALISE,),
        counts_from=NEUTRALISE,
        question="when to rinse it off",
        asked_of=(Work.NEUTRALISER,),
    ),
    Step(
        DRY,
        "drying before the first coat",
        OPENS,
        opens_as=Rank.NOTICE,
        waits_for=(RINSE,),
        counts_from=RINSE,
        question="from when the slab is dry enough to coat",
        asked_of=(Work.ETCH, Work.NEUTRALISER),
        limit=True,
        about=CallKind.SLAB,
    ),
    Step(TAPE, "taping where today ends", verb="taped", past="taped", aliases=("taping", "taped")),
    Step(
        PULL_TAPE,
        "pulling the tape while the film is wet",
        called=(Stage.NOW, Stage.LATE),
        verb="did",
        past="free of its tape",
        aliases=("untaped", "pulledtape", "pulledthetape"),
        skill=Skill.ROLL,
        waits_for=(TAPE,),
    ),
    Step(SCRAPE_SIDES, called=(Stage.STEP,), skill=Skill.MIX, led=True, about=CallKind.BUCKET),
    Step(CLEAN_PAIL, called=(Stage.STEP,), skill=Skill.MIX, led=True, about=CallKind.BUCKET),
    Step(POUR_IT_ALL, called=(Stage.STEP,), skill=Skill.MIX, ended_by=(POUR_OUT,), about=CallKind.BUCKET),
    Step(STAND, called=(Stage.STEP,), skill=Skill.MIX, about=CallKind.BUCKET),
    Step(HOT, rank=Rank.CRITICAL, called=(Stage.NOW,), about=CallKind.BUCKET),
    Step(DEW_MARGIN, called=(Stage.NOW, Stage.LATE), skill=Skill.POUR, about=CallKind.SLAB),
    Step(NEXT_BATCH, called=(Stage.NOW,), skill=Skill.MIX, about=CallKind.BUCKET),
    Step(NEXT_KIT, rank=Rank.CRITICAL, called=(Stage.NOW, Stage.LATE), skill=Skill.MIX),
    Step(STIR, called=(Stage.STEP,), skill=Skill.POUR),
    Step(CHECK_IN, rank=Rank.CRITICAL, called=(Stage.NOW, Stage.LATE)),
    Step(SHORT, called=(Stage.STEP,)),
    Step(TROUBLE, called=(Stage.STEP,), about=CallKind.SLAB),
)

STEPS: Mapping[str, Step] = MappingProxyType({row.name: row for row in _ROWS})

STATED_ANYWHERE = tuple(row.name for row in _ROWS if row.verb and (row.verb != "did" or not row.edges or row.of_flake))
"""Steps that can be stated whatever windows a profile has."""

WINDOWS: Mapping[str, Step] = MappingProxyType({row.name: row for row in _ROWS if row.edges})
"""The rows that have a window: the names with a meaning of their own that a profile may give its windows."""

ALIASES: Mapping[str, str] = MappingProxyType({alias: row.name for row in _ROWS for alias in row.aliases})
"""The names that people use for a step, without spaces and dashes."""

SIGN_ENDS: Mapping[str, str] = MappingProxyType({sign: row.name for row in _ROWS for sign in row.signs})
"""The window whose edge a sign shows."""

BY_VERB: Mapping[str, str] = MappingProxyType({row.verb: row.name for row in _ROWS if row.verb and row.verb != "did"})
"""The step that each verb ends."""

TRAFFIC: Mapping[str, str] = MappingProxyType({"foot": FOOT_TRAFFIC, "vehicle": VEHICLE_TRAFFIC})
"""The window that tells from when each kind of traffic is allowed."""

AREA_WINDOWS = tuple(row.name for row in _ROWS if row.per_area)
"""Windows of an area rather than of a batch."""

FILM_STEPS = frozenset(row.name for row in _ROWS if row.on_film)
"""Steps that are possible only on film. Stating one implies that the bucket was poured."""

FILM_ORDER = tuple(row.name for row in _ROWS if row.on_film and row.verb)
"""Stated steps on a film, in their order. Once somebody states a later one, nobody means an earlier one any more."""


def row_of(name: str) -> Step:
    """The row of a step; a window of a profile's own name is a timely step that `did` states.

    >>> row_of("back-roll").statement, row_of("second sanding").statement, row_of("foot-traffic").statement
    ('rolled', 'did second sanding', None)
    """
    known = STEPS.get(name)
    return known if known is not None else _own_step(name)


def _own_step(name: str) -> Step:
    plain = name.replace("-", " ")
    return Step(name, edges=BOTH, called=CLOSING_STAGES, verb="did", past=f"done with {plain}")


def questions_for(work: Work) -> dict[str, str]:
    """What a sheet of that kind leaves open where it lacks a window, by the window's name."""
    return {row.name: row.question for row in _ROWS if work in row.asked_of}


def comes_after(name: str) -> tuple[str, ...]:
    """Every step that a step waits for, the nearest first.

    >>> comes_after("scrape")
    ('broadcast', 'back-roll', 'pour-out', 'induction')
    """
    found: list[str] = []
    waiting = list(row_of(name).waits_for)
    while waiting:
        first = waiting.pop(0)
        if first not in found:
            found.append(first)
            waiting += row_of(first).waits_for
    return tuple(found)
