"""Grit sinks, so somebody stirs a live bucket with grit every few minutes."""

from __future__ import annotations

from datetime import datetime, timedelta

from mixclock.decide.alerting.happenings import MIX_STEP_FRESH
from mixclock.decide.crewsteps import person_for
from mixclock.decide.shapes import Alert, Stage
from mixclock.job.progress import Batch, Standing
from mixclock.job.steps import STIR, row_of

STIR_EVERY = timedelta(minutes=3)
"""How often somebody stirs the grit up: every few minutes (common practice, no source)."""


def grit_kg(standing: Standing, batch: Batch) -> float | None:
    """The grit that goes into a bucket; None for a coat without any."""
    coat = standing.site.coat(batch.coat) if batch.coat else None
    return coat.grit_g_l * batch.volume_l / 1000.0 if coat is not None and coat.grit_g_l else None


def stir_alert(standing: Standing, batch: Batch, now: datetime) -> Alert | None:
    """The call to stir a bucket with grit, from the end of mixing until it is empty."""
    if grit_kg(standing, batch) is None or batch.emptied is not None or now < batch.mixing_ended + STIR_EVERY:
        return None
    due = batch.mixing_ended + (now - batch.mixing_ended) // STIR_EVERY * STIR_EVERY
    if now - due > MIX_STEP_FRESH or batch.combined.written > due + MIX_STEP_FRESH:
        return None
    person = person_for(standing.site, STIR)
    who = batch.combined.by or (person.name if person else None)
    return Alert(f"b{batch.id}.{STIR}", STIR, row_of(STIR).rank, Stage.STEP, due, batch.id, who=who)


def next_stir(standing: Standing, batch: Batch, now: datetime) -> datetime | None:
    """The last call to stir that has fallen due by now, or else the next one; None for a bucket without grit."""
    if grit_kg(standing, batch) is None or batch.emptied is not None:
        return None
    times = max(0, (now - batch.mixing_ended) // STIR_EVERY)
    due = batch.mixing_ended + times * STIR_EVERY
    return due if times and now - due <= MIX_STEP_FRESH else due + STIR_EVERY
