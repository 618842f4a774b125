"""The words on the board's buttons and lines, for each step and each stage."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from mixclock.units import METRIC_CREW, CrewUnits


@dataclass(frozen=True)
class StepWords:
    """How a step reads: what to do, what the button says when it is done, what its window is called."""

    do: str
    done: str
    window: str
    critical: bool = False


_STEPS = {
    "induction": StepWords("Leave it to stand", "It has stood", "stand"),
    "pour-out": StepWords("Pour it out", "It's out", "pour out", critical=True),
    "back-roll": StepWords("Back-roll", "Rolled", "back-roll"),
    "wet-edge": StepWords("Join the next batch", "Joined", "wet edge", critical=True),
    "broadcast": StepWords("Throw the flake", "Flaked", "broadcast", critical=True),
    "tack-free": StepWords("Keep off until tack free", "Tack free", "tack free"),
    "scrape": StepWords("Scrape and sweep", "Scraped", "scrape"),
    "recoat": StepWords("Next coat", "Coated", "recoat"),
    "foot-traffic": StepWords("Feet allowed", "Walked on", "feet"),
    "vehicle-traffic": StepWords("Wheels allowed", "Driven on", "wheels"),
    "full-cure": StepWords("Full cure", "Cured", "full cure"),
    "dwell": StepWords("Let it work, keep it wet", "It has worked", "dwell"),
    "neutralise": StepWords("Neutralise", "Neutralised", "neutralise"),
    "rinse": StepWords("Rinse", "Rinsed", "rinse"),
    "dry": StepWords("Let it dry", "Dry", "dry"),
    "scrape-sides": StepWords("Scrape the sides", "Scraped", "mixing"),
    "clean-pail": StepWords("Into the clean pail", "Changed", "mixing"),
    "mixing-end": StepWords("Stop mixing", "Mixed", "mixing"),
    "next-batch": StepWords("Start the next batch", "B's in", "next batch"),
    "hot": StepWords("Hot bucket: get it outside", "Dealt with", "hot bucket", critical=True),
    "dew-margin": StepWords("Shut the door", "Shut", "dew margin"),
}

STEPS: Mapping[str, StepWords] = MappingProxyType(_STEPS)

SIGNS: tuple[str, ...] = ("stringy", "hot", "skinned", "tack free", "hard")

STAGES: Mapping[str, str] = MappingProxyType(
    {
        "mixed": "in the bucket",
        "standing": "standing",
        "poured": "on the floor",
        "rolled": "rolled",
        "flaked": "flaked",
        "done": "done",
    }
)


def words_of(step: str) -> StepWords:
    """How a step reads; one that the profile named itself reads as it is named.

    >>> words_of("pour-out").done, words_of("second sanding").do
    ("It's out", 'Second sanding')
    """
    known = STEPS.get(step)
    if known is not None:
        return known
    plain = step.replace("-", " ")
    return StepWords(do=plain[:1].upper() + plain[1:], done="Done", window=plain)


def amount_words(volume_l: float | None, mass_kg: float | None, units: CrewUnits = METRIC_CREW) -> str:
    """An amount as this crew says it.

    >>> amount_words(9.0, None), amount_words(None, 4.25), amount_words(None, None)
    ('9 L', '4.2 kg', '')
    """
    if volume_l is not None:
        return units.write_volume(volume_l)
    return units.write_mass(mass_kg) if mass_kg is not None else ""


def areas_words(areas: tuple[str, ...] | list[str]) -> str:
    """Areas in a row.

    >>> areas_words(["bay 1", "bay 2", "hall"])
    'bay 1, bay 2 and hall'
    """
    if len(areas) <= 1:
        return areas[0] if areas else ""
    return ", ".join(areas[:-1]) + " and " + areas[-1]
