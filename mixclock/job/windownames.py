"""The temperature laws to assume if a sheet states one point, and the events from which a window may count."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mixclock.job.steps import STEPS, Law, row_of
from mixclock.values import dataclass


@dataclass(frozen=True)
class DefaultEnergy:
    """The activation energy of a law, with its plausible range, in kJ/mol."""

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
"""The statements from which a window can count. The name of another step of the same profile may stand here too."""

STAND_STILL = frozenset(row.name for row in STEPS.values() if row.stands_still)
"""Windows that only time ends, if the sheet names no temperature."""

HOTTEST_HOUR = "hottest hour"
"""The rule that closes a recoat window by the hottest hour that it saw, instead of by all readings."""


def law_of(window: str) -> Law:
    """The law to assume for a window if its sheet states one point.

    >>> law_of("recoat"), law_of("foot-traffic"), law_of("second sanding")
    (<Law.GEL_LIKE: 'gel-like'>, <Law.HARDNESS: 'hardness'>, <Law.GEL_LIKE: 'gel-like'>)
    """
    return row_of(window).law


def default_energy(window: str) -> DefaultEnergy:
    """The activation energy to assume if the sheet states only one temperature."""
    return DEFAULT_ENERGIES[law_of(window)]


def is_limit(window: str) -> bool:
    """Whether a maker set its edges with a reserve. A window with a name of the user's own is an end that a crew races.

    >>> is_limit("recoat"), is_limit("broadcast"), is_limit("second sanding")
    (True, False, False)
    """
    return row_of(window).limit


def carries_bucket(window: str) -> bool:
    """Whether the closing clock starts with what the batch used up in the bucket."""
    return row_of(window).from_bucket
