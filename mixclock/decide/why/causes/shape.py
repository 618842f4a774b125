"""What the table holds for each cause."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from mixclock.job.profile import Family

TYPICAL, POSSIBLE, UNUSUAL = 1.0, 0.6, 0.25
"""How well a symptom fits: three grades and no more, since no published table gives frequencies (judgement)."""

LEADS, SUPPORTS = 1.0, 0.35
"""What a quantity may say: a leading one carries a cause alone; a supporting one can only suggest it (judgement)."""


@dataclass(frozen=True)
class Shows:
    """One quantity of the record that speaks for a cause, and how much it may say alone."""

    quantity: str
    weight: float = LEADS


@dataclass(frozen=True)
class Cause:
    """One cause: how it harms, what shows it, what would confirm it, and what to do.

    `decided_by` names the fact that decides: causes with the same one cannot be told apart by the record alone.
    `symptoms` and `shapes` give how well each fits; a shape that is not named neither helps nor hurts, one at 0 speaks
    against. `families` empty means every family.
    """

    name: str
    mechanism: str
    shows: tuple[Shows, ...]
    symptoms: Mapping[str, float]
    confirm: str
    tests: tuple[str, ...]
    remedy: str
    caution: str
    decided_by: str
    source: str
    shapes: Mapping[str, float] = field(default_factory=dict)
    families: frozenset[Family] = frozenset()
    excused_by: tuple[str, ...] = ()

    def fit(self, symptom: str | None) -> float:
        """How well a symptom fits; without one every cause fits possibly."""
        return POSSIBLE if symptom is None else self.symptoms.get(symptom, 0.0)


EPOXIES = frozenset({Family.EPOXY, Family.WATERBORNE_EPOXY})
"""The families that are cured by an amine."""

DUST = "Dust of cured resin and concrete harms lungs: sand with extraction and a mask."
RESIN = "Uncured resin and hardener burn and sensitise: gloves, sleeves, eye protection; see its safety data sheet."
SOLVENT = "Solvent only with the doors open and no flame or heater near."
