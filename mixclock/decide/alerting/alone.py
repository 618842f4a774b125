"""Who works alone may ask to be called when nothing was stated for a while. It is no safety device, and says so."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from mixclock.decide.shapes import Alert, Quiet, Stage
from mixclock.decide.tracks import Track
from mixclock.job.entry import Entry
from mixclock.job.origins import is_said
from mixclock.job.profile import Family
from mixclock.job.progress import Standing
from mixclock.job.steps import CHECK_IN, TACK_FREE, row_of

NO_DEVICE = "This is no safety device and no substitute for somebody within call."
"""Printed beside it wherever it is set or sounds."""

CONTACT_AFTER = timedelta(minutes=5)
"""So long it calls on the floor before the contact is told (judgement)."""

SOLVENT = frozenset({Family.POLYURETHANE, Family.ACRYLIC})
"""Families whose thinner is about until they are tack free."""

SOLVENT_ABOUT = timedelta(hours=2)


def alone_alert(standing: Standing, tracks: Sequence[Track], now: datetime) -> Alert | None:
    """The loud call after a while without a statement or a "heard", and five minutes later the contact's."""
    after_s = standing.site.check_in_s
    if after_s is None or len(standing.site.crew) > 1 or not _is_risky(standing, tracks, now):
        return None
    last = _last_sign(standing, now)
    if last is None:
        return None
    due = max(last.happened, last.written) + timedelta(seconds=after_s)
    if now < due:
        return None
    told = now >= due + CONTACT_AFTER
    stage, since = (Stage.LATE, due + CONTACT_AFTER) if told else (Stage.NOW, due)
    detail = Quiet((now - max(last.happened, last.written)).total_seconds(), standing.site.contact)
    return Alert(f"alone.{last.number}", CHECK_IN, row_of(CHECK_IN).rank, stage, since, detail=detail)


def _last_sign(standing: Standing, now: datetime) -> Entry | None:
    """The last that a person said."""
    return next((entry for entry in reversed(standing.entries) if is_said(entry) and entry.written <= now), None)


def _is_risky(standing: Standing, tracks: Sequence[Track], now: datetime) -> bool:
    """Whether a bucket lives, or solvent is about."""
    if any(batch.emptied is None and batch.combined.at <= now for batch in standing.batches):
        return True
    for track in tracks:
        profile = standing.profile(track.batch.product)
        wet = track.name == TACK_FREE or track.area is not None
        if (
            profile is not None
            and profile.family in SOLVENT
            and wet
            and track.starts <= now < track.starts + SOLVENT_ABOUT
        ):
            return True
    return False
