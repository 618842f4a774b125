"""A fact on its way into the log: what is said, before the book gives it a number."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from mixclock.job.entry import Facts


@dataclass(frozen=True)
class Draft:
    """Facts with the instant at which they happened (UTC); without one they happened as they are written."""

    facts: Facts
    happened: datetime | None = None
    by: str | None = None
    note: str | None = None
