"""The bucket by the sheet's own pot life, at the material's temperature."""

from __future__ import annotations

from datetime import datetime, timedelta

from mixclock.decide.buckets import Bucket, BucketAnswer
from mixclock.decide.clocks import Learned, clock_of
from mixclock.decide.edgewords import sheet_words
from mixclock.decide.shapes import Edge
from mixclock.formulas.history import constant_history
from mixclock.formulas.rate_law import tau_s
from mixclock.job.windownames import POUR_OUT
from mixclock.units import METRIC_CREW


def sheet_bucket(bucket: Bucket) -> BucketAnswer | None:
    """Pour-out by the pot life of the sheet, read at the material's temperature."""
    pot_life = bucket.profile.pot_life
    if pot_life is None:
        return None
    learned = Learned(bucket.learned_factor, bucket.learned_sigma, bucket.observations)
    clock = clock_of(POUR_OUT, pot_life.span, bucket.profile.family, learned)
    start = bucket.combined
    material = bucket.air.likely if bucket.material_c is None else constant_history(bucket.material_c)
    temp_c = material.at(start.timestamp())
    early, likely, late = (tau_s(law, temp_c) for law in (clock.fast, clock.likely, clock.slow))
    edge = Edge(*(start + timedelta(seconds=span_s) for span_s in (early, likely, late)))

    def ripeness(at: datetime) -> float:
        return max(0.0, (at - start).total_seconds()) / likely

    def used(at: datetime) -> float:
        return 0.25 * min(1.0, ripeness(at))

    assumed = () if bucket.material_c is not None else ("material as warm as the air",)
    return BucketAnswer(edge, ripeness, used, (f"sheet: {sheet_words(pot_life.span, METRIC_CREW)}",), assumed)
