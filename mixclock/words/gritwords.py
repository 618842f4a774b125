"""Anti-slip grit: the same dose in every bucket, said in grams of this one."""

from __future__ import annotations

from mixclock.decide.alerting.grit import STIR_EVERY, grit_kg
from mixclock.job.progress import Batch, Standing
from mixclock.units import CrewUnits, write_span
from mixclock.units.scales import OZ_GAL_G_L


def dose_words(g_l: float, units: CrewUnits) -> str:
    """A dose of grit as this crew says it.

    >>> from mixclock.units import METRIC_CREW, US_CREW
    >>> dose_words(60.0, METRIC_CREW), dose_words(60.0, US_CREW)
    ('60 g/L', '8 oz/gal')
    """
    return f"{g_l / OZ_GAL_G_L:.2g} oz/gal" if units.system == "US" else f"{g_l:.3g} g/L"


def grit_line(standing: Standing, batch: Batch) -> str | None:
    """How much grit goes into a bucket, and how often it is stirred up; None for a coat without any."""
    kg = grit_kg(standing, batch)
    if kg is None:
        return None
    amount, every = standing.site.units.write_mass(kg, measured=True), write_span(STIR_EVERY.total_seconds())
    return f"stir in {amount} of grit, weighed, the same dose in every bucket; stir it up again every {every}"
