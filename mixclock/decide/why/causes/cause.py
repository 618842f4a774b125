"""What the table holds for each cause."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from mixclock.decide.why.gauge import Gauge
from mixclock.decide.why.observation import Observation
from mixclock.decide.why.symptoms import SYMPTOMS
from mixclock.job.profile import Family
from mixclock.values import dataclass, field

TYPICAL, POSSIBLE, UNUSUAL = 1.0, 0.6, 0.25
"""How well a symptom fits. There are only three grades, since no published table gives frequencies (judgement)."""


def graded(typical: str = "", possible: str = "", unusual: str = "", never: str = "") -> Mapping[str, float]:
    """How well each named symptom, shape or plane goes with a cause. One that never does speaks against the cause.

    >>> graded("soft, tacky", unusual="dull")
    {'soft': 1.0, 'tacky': 1.0, 'dull': 0.25}
    """
    grades = ((typical, TYPICAL), (possible, POSSIBLE), (unusual, UNUSUAL), (never, 0.0))
    return {name: grade for names, grade in grades for name in filter(None, names.split(", "))}


LEADS, SUPPORTS = 1.0, 0.35
"""The weight of a quantity. A leading one carries a cause alone; a supporting one can only suggest it (judgement)."""


@dataclass(frozen=True)
class Clue:
    """Something in the record that speaks for a cause, and how much it may say alone."""

    source: Gauge | Observation
    weight: float = LEADS


class Lies(StrEnum):
    """Where a cause can lie."""

    ANYWHERE = "anywhere"
    ON_THE_SLAB = "on the slab"
    BETWEEN_COATS = "between coats"


@dataclass(frozen=True)
class Cause:
    """One cause: how it harms, what shows it, what would confirm it, and what to do.

    `decided_by` names the fact that decides: causes with the same one cannot be told apart by the record alone.
    `symptoms`, `shapes` and `planes` (where it broke) tell how well each fits. A shape or plane that is not named
    neither helps nor hurts; one at 0 speaks against the cause. Empty `families` means every family. `lies` tells
    whether the cause can only lie on the slab, or only between coats. `remedies` holds the remedy for a plane that
    needs its own.
    """

    name: str
    mechanism: str
    clues: tuple[Clue, ...]
    symptoms: Mapping[str, float]
    confirm: str
    tests: tuple[str, ...]
    remedy: str
    caution: str
    decided_by: str
    source: str
    shapes: Mapping[str, float] = field(default_factory=dict)
    families: frozenset[Family] = frozenset()
    excused_by: tuple[Observation, ...] = ()
    planes: Mapping[str, float] = field(default_factory=dict)
    remedies: Mapping[str, str] = field(default_factory=dict)
    lies: Lies = Lies.ANYWHERE

    def fit(self, symptom: str | None) -> float:
        """How well a symptom fits. Without one, or with one in somebody's own words, every cause is possible."""
        return self.symptoms.get(symptom, 0.0) if symptom is not None and symptom in SYMPTOMS else POSSIBLE

    def remedy_at(self, plane: str | None) -> str:
        """What to do, given where it broke."""
        return self.remedies.get(plane, self.remedy) if plane is not None else self.remedy


DUST = "Dust of cured resin and concrete harms lungs: sand with extraction and a mask."
RESIN = "Uncured resin and hardener burn and sensitise: gloves, sleeves, eye protection; see its safety data sheet."
ISOCYANATE = "Isocyanate in part B sensitises the lungs: the mask that its safety data sheet names."
SOLVENT = "Solvent only with the doors open and no flame or heater near."
