"""Anti-slip grit: the same dose in every bucket, said in grams of this one."""

from __future__ import annotations

from mixclock.decide.alerting.grit import STIR_EVERY, grit_kg
from mixclock.job.progress import Batch, Standing
from mixclock.job.site import Coat
from mixclock.units import CrewUnits, write_span
from mixclock.units.scales import OZ_GAL_G_L


def dose_words(g_l: float, units: CrewUnits) -> str:
    """A dose of grit as this crew says it.

    >>> from mixclock.units import METRIC_CREW, US_CREW
    >>> dose_words(60.0, METRIC_CREW), dose_words(60.0, US_CREW)
    ('60 g/L', '8 oz/gal')
    """
    return f"{g_l / OZ_GAL_G_L:.2g} oz/gal" if units.system == "US" else f"{g_l:.3g} g/L"


def grit_of(coat: Coat | None, volume_l: float | None, units: CrewUnits) -> str | None:
    """What is weighed out for one bucket, in words; None for a coat without any.

    >>> from mixclock.units import METRIC_CREW
    >>> grit_of(Coat("top", "Slow epoxy top", wet_film_um=150.0, grit_g_l=60.0), 6.0, METRIC_CREW)
    '360 g grit'
    """
    if coat is None or not coat.grit_g_l or volume_l is None:
        return None
    return f"{units.write_mass(coat.grit_g_l * volume_l / 1000.0, measured=True)} grit"


def grit_line(standing: Standing, batch: Batch) -> str | None:
    """How much grit goes into a bucket, and how often it is stirred up; None for a coat without any."""
    kg = grit_kg(standing, batch)
    if kg is None:
        return None
    amount, every = standing.site.units.write_mass(kg, measured=True), write_span(STIR_EVERY.total_seconds())
    return f"stir in {amount} of grit, weighed, the same dose in every bucket; stir it up again every {every}"
