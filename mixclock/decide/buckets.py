"""What the windows ask of a bucket: when it must be out, how ripe it is, and how much of its time it has used up.

A `BucketModel` answers. Windows, plan and rehearsal share one, so that each calibration is made once.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime

from mixclock.decide.shapes import Edge
from mixclock.decide.weather import Course
from mixclock.job.entry import CupUsed
from mixclock.job.practice import mixing_time
from mixclock.job.profile import Profile
from mixclock.job.readings import Sample
from mixclock.units import METRIC_CREW, CrewUnits
from mixclock.values import dataclass, replace

MATERIAL_DOUBT_K = 3.0
"""Material that nobody measured counts as warm as the air, ±3 °C at least. Early assumes the warmer (judgement)."""


@dataclass(frozen=True)
class Bucket:
    """One batch in its vessel. `air` is what surrounds it; `material_c` is None if nobody measured it."""

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
    observed_kg: float = 0.0
    """The largest bucket of this product whose end somebody saw. Practice holds back no bucket up to twice its mass."""
    mixing_s: float | None = None
    cups: tuple[CupUsed, ...] = ()
    """What test cups of its lot had shown when it was mixed."""
    units: CrewUnits = METRIC_CREW
    advised: bool = True
    """Whether its crew is told what measuring the pails would gain. A plan asks for hundreds without that."""

    @property
    def material_doubt_k(self) -> float:
        """How much warmer than the air unmeasured pails may be: they may have stood in the sun since."""
        if self.material_c is not None:
            return 0.0
        at_s = self.combined.timestamp()
        warmer_k = self.air.high.at(at_s) - self.air.likely.at(at_s)
        return max(MATERIAL_DOUBT_K, math.ceil(2.0 * warmer_k) / 2.0)

    @property
    def mixing_takes_s(self) -> float:
        """How long mixing takes: as stated, else as the sheet or practice has it."""
        return self.mixing_s if self.mixing_s is not None else mixing_time(self.profile).value

    def without_readings(self) -> Bucket:
        """The same bucket as if nobody had measured it."""
        return replace(self, readings=())


@dataclass(frozen=True)
class BucketAnswer:
    """The pour-out edge of a bucket with its reasons.

    `ripeness` tells how far the likely bucket has run at an instant. `used` tells how much of the floor's clock is
    spent if the bucket is poured at that instant.
    """

    edge: Edge
    ripeness: Callable[[datetime], float]
    used: Callable[[datetime], float]
    because: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    material_moves_s: float = 0.0
    """How much later the early edge could be if somebody measured the pails."""
    lot_factor: float = 1.0
    """What cups of its lot tell of the floor ends that a crew races: a factor on their times."""
    too_big: bool = False
    """Whether the early edge comes sooner than mixing and pouring take."""


BucketModel = Callable[[Bucket], BucketAnswer | None]
"""Answers for a bucket, or None if the profile says nothing of a pot life."""
