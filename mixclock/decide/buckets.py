"""What a bucket does, as the windows ask it: when it must be out, how ripe it is, what it used up.

The answer comes from a `BucketModel`, so that windows, plan and rehearsal can share one with its calibrations warm.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

from mixclock.decide.shapes import Edge
from mixclock.decide.weather import Course
from mixclock.job.profile import Profile
from mixclock.job.readings import Sample
from mixclock.units import METRIC_CREW, CrewUnits


@dataclass(frozen=True)
class Bucket:
    """One batch in its vessel. `air` is what surrounds it; `material_c` is None where nobody measured it."""

    profile: Profile
    mass_kg: float
    across_m: float | None
    material_c: float | None
    air: Course
    combined: datetime
    readings: tuple[Sample, ...] = ()
    learned_factor: float = 1.0
    learned_sigma: float | None = None
    observations: int = 0
    units: CrewUnits = METRIC_CREW

    def without_readings(self) -> Bucket:
        """The same bucket, had nobody measured it."""
        return replace(self, readings=())


@dataclass(frozen=True)
class BucketAnswer:
    """The pour-out edge of a bucket with its reasons.

    `ripeness` gives how far the likely bucket has run at an instant; `used` the share of the floor's clock that has
    been spent when it is poured at an instant.
    """

    edge: Edge
    ripeness: Callable[[datetime], float]
    used: Callable[[datetime], float]
    because: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()


BucketModel = Callable[[Bucket], BucketAnswer | None]
"""Answers for a bucket, or None where the profile says nothing of a pot life."""
