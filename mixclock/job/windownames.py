"""The windows whose names have a meaning of their own: what opens, what closes, who states it, which law it follows.

A profile may have windows of any other name; they are then plain spans with the gel-like law.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType


class Law(StrEnum):
    """Which temperature law stands in where the sheet states one point only."""

    GEL_LIKE = "gel-like"
    HARDNESS = "hardness"


@dataclass(frozen=True)
class DefaultEnergy:
    """The activation energy of a law, with the range that is plausible, in kJ/mol."""

    likely_kj_mol: float
    low_kj_mol: float
    high_kj_mol: float
    source: str


DEFAULT_ENERGIES: Mapping[Law, DefaultEnergy] = MappingProxyType(
    {
        Law.GEL_LIKE: DefaultEnergy(47.0, 35.0, 60.0, "fit to a two-part epoxy cure chart of eight temperatures"),
        Law.HARDNESS: DefaultEnergy(65.0, 45.0, 90.0, "judgement; the same chart's hardness row fits 81 to 83"),
    }
)

SUSPECT_BELOW_KJ_MOL = 20.0
SUSPECT_ABOVE_KJ_MOL = 110.0

STARTS = ("mixed", "poured", "rolled", "flaked")
"""The statements from which a window can count. The name of a step of the same profile may stand here as well."""

STATEMENT_OF_STEP: Mapping[str, str] = MappingProxyType({"back-roll": "rolled", "broadcast": "flaked"})
"""Steps that have a statement of their own; `did STEP` states every other one."""

HOTTEST_HOUR = "hottest hour"
"""The rule by which a recoat window closes after the hottest hour that it saw, instead of the integrated record."""

POUR_OUT = "pour-out"
"""The window that the pot life gives; it has no rule of its own in a profile."""


@dataclass(frozen=True)
class WindowMeaning:
    """What a window of that name is.

    `edges` are the edges that make sense for it. A `step` is finished by a person's statement; a window without one
    only tells that something is allowed. `from_bucket` marks closing clocks that start with what the batch used up in
    the bucket.
    """

    name: str
    edges: frozenset[str]
    law: Law
    step: bool
    from_bucket: bool
    says: str


def _meaning(
    name: str, edges: str, says: str, *, law: Law = Law.GEL_LIKE, step: bool = False, from_bucket: bool = False
) -> WindowMeaning:
    return WindowMeaning(name, frozenset(edges.split()), law, step, from_bucket, says)


_MEANINGS = (
    _meaning("induction", "opens closes", "the stand between mixing and use"),
    _meaning(POUR_OUT, "closes", "getting the mix out of the bucket", step=True),
    _meaning("back-roll", "opens closes", "rolling a second time, to level", step=True, from_bucket=True),
    _meaning("wet-edge", "closes", "joining the next batch without a lap mark", from_bucket=True),
    _meaning("broadcast", "opens closes", "throwing flake or sand", step=True, from_bucket=True),
    _meaning("tack-free", "opens", "a thumb leaves no mark", from_bucket=True),
    _meaning("scrape", "opens closes", "scraping and sweeping the flaked coat", step=True),
    _meaning("recoat", "opens closes", "the next coat"),
    _meaning("foot-traffic", "opens", "feet", law=Law.HARDNESS),
    _meaning("vehicle-traffic", "opens", "wheels", law=Law.HARDNESS),
    _meaning("full-cure", "opens", "washing, chemicals and full load", law=Law.HARDNESS),
    _meaning("dwell", "opens closes", "the time that the solution works on the slab"),
    _meaning("neutralise", "opens closes", "neutralising, before the solution dries", step=True),
    _meaning("rinse", "opens closes", "rinsing off", step=True),
    _meaning("dry", "opens", "drying before the first coat"),
)

MEANINGS: Mapping[str, WindowMeaning] = MappingProxyType({meaning.name: meaning for meaning in _MEANINGS})


def law_of(window: str) -> Law:
    """Which law stands in for a window's own where the sheet states one point.

    >>> law_of("recoat"), law_of("foot-traffic"), law_of("second sanding")
    (<Law.GEL_LIKE: 'gel-like'>, <Law.HARDNESS: 'hardness'>, <Law.GEL_LIKE: 'gel-like'>)
    """
    meaning = MEANINGS.get(window)
    return meaning.law if meaning else Law.GEL_LIKE


def default_energy(window: str) -> DefaultEnergy:
    """The activation energy that stands in where the sheet states one temperature only."""
    return DEFAULT_ENERGIES[law_of(window)]


def is_step(window: str) -> bool:
    """Whether a person states this window's step; a window of an unknown name is taken to be one where it closes."""
    meaning = MEANINGS.get(window)
    return meaning.step if meaning else True


def carries_bucket(window: str) -> bool:
    """Whether the closing clock starts with what the batch used up in the bucket."""
    meaning = MEANINGS.get(window)
    return meaning.from_bucket if meaning else False


def statement_for(window: str) -> str | None:
    """What a person says when the step is finished.

    >>> statement_for("broadcast"), statement_for("rinse"), statement_for("foot-traffic")
    ('flaked', 'did rinse', None)
    """
    if not is_step(window):
        return None
    if window == POUR_OUT:
        return "poured"
    return STATEMENT_OF_STEP.get(window, f"did {window}")
