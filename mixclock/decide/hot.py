"""Whether a bucket runs hot, by the one rule of `formulas.hot`, and the words for it."""

from __future__ import annotations

from datetime import datetime

from mixclock.formulas.hot import HOT_C, hot_from_c
from mixclock.job.progress import Batch, Standing
from mixclock.units import CrewUnits

SMOKING = "smoking"
HOT_SIGNS = ("hot", SMOKING)
"""What somebody may say of a bucket that heats itself."""


def mix_temp_c(standing: Standing, batch: Batch) -> float | None:
    """How warm a batch was when it was mixed: as stated, else as warm as the air, else as it was first read."""
    if batch.material_c is not None:
        return batch.material_c
    air_c = standing.readings.last_air(batch.combined.at)
    if air_c is not None:
        return air_c
    read = standing.readings.bucket(batch.id)
    return read[0].value if read else None


def hot_limit_c(standing: Standing, batch: Batch) -> float:
    """The temperature from which this batch is hot."""
    mix_c = mix_temp_c(standing, batch)
    return HOT_C if mix_c is None else hot_from_c(mix_c)


def hot_since(standing: Standing, batch: Batch) -> datetime | None:
    """When a bucket was first seen to run hot: by a reading, or by somebody's word."""
    limit_c = hot_limit_c(standing, batch)
    read = (sample.at for sample in standing.readings.bucket(batch.id) if sample.value >= limit_c)
    said = (sign.stated.at for sign in batch.signs if sign.sign in HOT_SIGNS)
    return min((*read, *said), default=None)


def smoking_since(batch: Batch) -> datetime | None:
    """When somebody first saw a bucket smoke."""
    return min((sign.stated.at for sign in batch.signs if sign.sign == SMOKING), default=None)


def hot_words(mix_c: float, units: CrewUnits) -> str:
    """The rule as it holds for one mix.

    >>> from mixclock.units import METRIC_CREW
    >>> hot_words(20.0, METRIC_CREW), hot_words(26.0, METRIC_CREW), hot_words(32.0, METRIC_CREW)
    ('35 °C, 15 °C over the mix', '40 °C', '44 °C, 12 °C over the mix')
    """
    limit_c = hot_from_c(mix_c)
    said = units.write_temp(limit_c)
    return said if limit_c == HOT_C else f"{said}, {units.write_difference(limit_c - mix_c)} over the mix"
