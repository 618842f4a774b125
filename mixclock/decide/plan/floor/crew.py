"""Who can do which step, and how long each takes them, in whole seconds."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cached_property
from itertools import permutations

from mixclock.decide.plan.floor.plans import FloorPiece
from mixclock.job import practice
from mixclock.job.site import Person, Site
from mixclock.job.steps import NEUTRALISE, RINSE
from mixclock.values import dataclass

SKILL: Mapping[str, str] = {"measure": "mix", "ready": "mix", NEUTRALISE: "prep", RINSE: "prep", "scrub": "prep"}
"""Steps that go under another task in `does`; every other step is its own task."""

OPTIONAL_SKILLS = frozenset({"scrape", "clean", "prep"})
"""Tasks that anybody does where nobody is named for them."""

CLEAN_S = 600
CLEAN_SAID = "cleaning tools takes ten minutes (judgement)"
SET_UP = "set-up"
"""What a crew does besides laying the floor, as a `BREAK` is. It is planned if the job file says how long it takes."""

BREAK_SOONER_S, BREAK_LATER_S = 900, 3600
"""A break may begin so much sooner or later than it was meant to: wet film does not wait for lunch (judgement)."""

CARRY_S = 20
CARRY_SAID = "carrying a bucket takes 20 s for each area between (judgement)"
PREP: Mapping[str, practice.UsualFigure] = {
    "pour": practice.UsualFigure(120.0, "a person lays and brushes out {area_an_hour} of acid", practice.JUDGEMENT),
    NEUTRALISE: practice.UsualFigure(120.0, "a person neutralises {area_an_hour}", practice.JUDGEMENT),
    RINSE: practice.UsualFigure(60.0, "a person scrubs, vacuums and rinses {area_an_hour}", practice.JUDGEMENT),
}
"""How fast what is rinsed off again goes over a floor."""

READY_S = practice.UsualFigure(300.0, "having a bucket of neutraliser ready takes five minutes", practice.JUDGEMENT)


def clean_up_s(site: Site) -> int:
    """How long the cleaning of tools is, by the job file or as is usual."""
    stated = site.hours.clean_up_s if site.hours is not None else None
    return CLEAN_S if stated is None else math.ceil(stated)


def clean_up_said(site: Site) -> list[str]:
    """Says that cleaning the tools is taken to last as long as usual, if the job file does not say how long."""
    return [] if site.hours is not None and site.hours.clean_up_s is not None else [CLEAN_SAID]


@dataclass(frozen=True)
class Crew:
    """The people of a job with what they may do."""

    people: tuple[Person, ...]
    assumed: tuple[str, ...] = ()

    def able(self, kind: str) -> tuple[bool, ...]:
        """Who may do a step: those named for it. If nobody is: those with a stated rate for it. Without any:
        everybody."""
        if kind not in self._known:
            self._known[kind] = self._may(kind)
        return self._known[kind]

    @cached_property
    def _known(self) -> dict[str, tuple[bool, ...]]:
        """Who may do the steps that were asked for: a search asks the same for every batch."""
        return {}

    def _may(self, kind: str) -> tuple[bool, ...]:
        skill = SKILL.get(kind, kind)
        named = tuple(not person.does or skill in person.does for person in self.people)
        if any(named):
            return named
        rated = tuple(_states_rate(person, kind) for person in self.people)
        return rated if any(rated) and skill not in OPTIONAL_SKILLS else (True,) * len(self.people)

    def able_to_help(self, kind: str) -> tuple[bool, ...]:
        """Who may do a step as the second of two: those who do it, and those named for helping with it."""
        skill = SKILL.get(kind, kind)
        return tuple(may or skill in person.helps for person, may in zip(self.people, self.able(kind), strict=True))

    def may_share(self, kind: str) -> bool:
        """Whether there are two for a step."""
        return any(self.able(kind)) and sum(self.able_to_help(kind)) > 1

    def fallbacks(self, kinds: Sequence[str]) -> list[str]:
        """What had to be assumed about who does these steps."""
        return [
            f"nobody is named for {kind}: {self._who(kind)}"
            for kind in kinds
            if SKILL.get(kind, kind) not in OPTIONAL_SKILLS and not any(self._named(kind))
        ]

    def _named(self, kind: str) -> list[bool]:
        skill = SKILL.get(kind, kind)
        return [not person.does or skill in person.does for person in self.people]

    def _who(self, kind: str) -> str:
        able = [person.name for person, may in zip(self.people, self.able(kind), strict=True) if may]
        return f"{' or '.join(able)} does it"


def crew_of(site: Site) -> Crew:
    """The crew of a job, one person who does everything where the file names nobody."""
    found = practice.crew(site)
    return Crew(found.value, (found.words,) if found.words else ())


def _states_rate(person: Person, kind: str) -> bool:
    stated = {
        "squeegee": person.squeegee_m2_h,
        "roll": person.roll_m2_h,
        "broadcast": person.broadcast_m2_h,
        "cut-in": person.cut_in_m_h,
    }
    return stated.get(kind) is not None


def _rate(kind: str, person: Person) -> float:
    """How much of the floor, or of its edges, a person does in an hour."""
    rates = {
        "squeegee": practice.squeegee_rate_m2_h,
        "roll": practice.roll_rate_m2_h,
        "broadcast": practice.broadcast_rate_m2_h,
        "cut-in": practice.cut_in_rate_m_h,
    }
    return rates[kind](person) if kind in rates else PREP.get(kind, practice.SCRAPE_M2_H).value


def prep_figures(kinds: Sequence[str]) -> list[practice.UsualFigure]:
    """What the times of an etch rest on; nothing of a coat that stays."""
    if RINSE not in kinds:
        return []
    return [*(PREP[kind] for kind in kinds if kind in PREP), *([READY_S] if "ready" in kinds else [])]


def times_of(
    crew: Crew, kind: str, pieces: Sequence[FloorPiece], fixed: Mapping[str, float], helping: bool = False
) -> tuple[int | None, ...]:
    """How long a step takes each of the crew, `helping` as the second of two; None for those who don't do it."""
    able = crew.able_to_help(kind) if helping else crew.able(kind)
    return _times(crew.people, able, kind, pieces, fixed)


def times_by_two(
    crew: Crew,
    kind: str,
    pieces: Sequence[FloorPiece],
    helping: bool,
    quickest: bool = False,
    pair: tuple[int, int] | None = None,
) -> tuple[int | None, ...]:
    """How long each is at a step that two do side by side, `helping` as the second of them.

    Their rates are joined: what takes one `t` and the other `u` takes both `t u / (t + u)`. Where more than two may be
    the other, the slowest of them is counted on. With `quickest` only the two who are quickest do it, and whoever is as
    quick as they are; with a `pair` only these two, the second of them `helping`.
    """
    able, help_too = crew.able(kind), crew.able_to_help(kind)
    if pair is not None:
        able, help_too = (tuple(who == named for who in range(len(able))) for named in pair)
    if quickest:
        spans = _times(crew.people, help_too, kind, pieces, {})
        able, help_too = (_quickest(row, able, spans) for row in (able, help_too))
    rows = (_times(crew.people, row, kind, pieces, {}) for row in (able, help_too))
    mine, others = reversed(tuple(rows)) if helping else rows
    return tuple(
        None if span is None else _joined_s(span, [u for other, u in enumerate(others) if other != who and u])
        for who, span in enumerate(mine)
    )


def pairs_for(crew: Crew, kind: str) -> tuple[tuple[int, int], ...]:
    """Any two who may do a step side by side; the first of them does it alone too."""
    able, help_too = crew.able(kind), crew.able_to_help(kind)
    return tuple(
        (one, other)
        for one, other in permutations(range(len(able)), 2)
        if able[one] and help_too[other] and (one < other or not able[other])
    )


def _quickest(row: Sequence[bool], able: Sequence[bool], spans: Sequence[int | None]) -> tuple[bool, ...]:
    """Those of a row who are no slower than the two quickest, of whom one has to be able to do the step alone."""
    known = sorted(span for span in spans if span is not None)
    alone = min((span for span, may in zip(spans, able, strict=True) if may and span is not None), default=0)
    last = max(alone, *known[1:2]) if known[1:] else alone
    return tuple(may and span is not None and span <= last for may, span in zip(row, spans, strict=True))


def _joined_s(span: int, others: Sequence[int]) -> int | None:
    return math.ceil(span * max(others) / (span + max(others))) if others else None


def _times(
    people: Sequence[Person],
    able: Sequence[bool],
    kind: str,
    pieces: Sequence[FloorPiece],
    fixed: Mapping[str, float],
) -> tuple[int | None, ...]:
    """How long a step takes each on these pieces; steps that do not grow with the floor are in `fixed`."""
    if kind in fixed:
        span = math.ceil(fixed[kind])
        return tuple(span if may else None for may in able)
    amount = sum([piece.edge_m if kind == "cut-in" else piece.size_m2 for piece in pieces])
    return tuple(
        math.ceil(amount / _rate(kind, person) * 3600.0) if may else None
        for person, may in zip(people, able, strict=True)
    )
