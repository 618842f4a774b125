"""A person who works alone can ask for a call after a time without statements. It is no safety device, and says so."""

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
"""Stands beside the call wherever it is set, shown or sounded."""

CONTACT_AFTER = timedelta(minutes=5)
"""For this long it calls on the floor only; then it tells the contact (judgement)."""

SOLVENT = frozenset({Family.POLYURETHANE, Family.ACRYLIC})
"""Families that give off solvent until they are tack free."""

SOLVENT_ABOUT = timedelta(hours=2)


def alone_alert(standing: Standing, tracks: Sequence[Track], now: datetime) -> Alert | None:
    """The loud call after a time without a statement or a "heard". Five minutes later the contact is called."""
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
    """When a person last said anything."""
    return next((entry for entry in reversed(standing.entries) if is_said(entry) and entry.written <= now), None)


def _is_risky(standing: Standing, tracks: Sequence[Track], now: datetime) -> bool:
    """Whether a bucket is live, or there is solvent in the air."""
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
