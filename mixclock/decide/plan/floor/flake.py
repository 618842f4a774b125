"""Flake or sand: how much sticks, how much must be thrown for it, how much is swept back."""

from __future__ import annotations

from mixclock.job import practice
from mixclock.job.site import Coat
from mixclock.units import METRIC_CREW, CrewUnits
from mixclock.values import dataclass

REFUSAL_FROM = 0.75
"""From this share of full cover on it is thrown to refusal (judgement: below it the base is meant to show)."""

SCATTERED_PER_STUCK = practice.UsualFigure(1.1, "a tenth more is scattered than sticks", practice.JUDGEMENT)
SAND_FULL_KG_M2 = practice.UsualFigure(2.44, "{mass_per_area} of sand sticks at full cover", "from memory")
ROUNDED = 1.02
"""What a limit is left by within this was rounded, or written in other units (judgement)."""

SAND_WORDS = ("sand", "quartz", "aggregate")


@dataclass(frozen=True)
class Flake:
    """What is thrown onto a piece of floor."""

    material: str
    size: str | None
    stuck_kg: float
    thrown_kg: float
    cover_share: float
    to_refusal: bool
    said: tuple[str, ...] = ()

    @property
    def swept_kg(self) -> float:
        """What is scraped and swept back."""
        return self.thrown_kg - self.stuck_kg

    @property
    def named(self) -> str:
        """The material with its size, as it stands on the bag."""
        if self.size is None or self.material in self.size.casefold():
            return self.size or self.material
        return f"{self.size} {self.material}"


def is_sand(coat: Coat) -> bool:
    """Whether sand is thrown, by the size that the job file names."""
    return any(word in (coat.flake_size or "").casefold() for word in SAND_WORDS)


def full_cover(coat: Coat) -> practice.UsualFigure:
    """What sticks at full cover in one throw."""
    return SAND_FULL_KG_M2 if is_sand(coat) else practice.FLAKE_FULL_KG_M2


def flake_of(coat: Coat, size_m2: float, units: CrewUnits = METRIC_CREW) -> Flake:
    """What a coat's broadcast takes on so much floor.

    The job file states what is to stick. Near full cover it is thrown until no more sticks; a light broadcast, with the
    base showing, is scattered. What is asked for beyond full cover is thrown and swept back: no more sticks in one
    throw.
    """
    full = full_cover(coat)
    asked_kg_m2 = coat.flake_kg_m2 or 0.0
    stuck_kg_m2 = min(asked_kg_m2, full.value * ROUNDED)
    cover_share = stuck_kg_m2 / full.value
    to_refusal = cover_share >= REFUSAL_FROM
    per_stuck = practice.FLAKE_THROWN_PER_STUCK if to_refusal else SCATTERED_PER_STUCK
    stuck_kg = stuck_kg_m2 * size_m2
    return Flake(
        material="sand" if is_sand(coat) else "flake",
        size=coat.flake_size,
        stuck_kg=stuck_kg,
        thrown_kg=max(stuck_kg * per_stuck.value, asked_kg_m2 * size_m2),
        cover_share=min(1.0, cover_share),
        to_refusal=to_refusal,
        said=tuple(figure.words(units) for figure in (full, per_stuck)) if stuck_kg_m2 else (),
    )
