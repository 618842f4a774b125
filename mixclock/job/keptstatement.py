"""A statement that the book holds."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from mixclock.job.entry import Entry
from mixclock.job.progress import Standing


@dataclass(frozen=True)
class KeptStatement:
    """A statement that is durably in the book, with the job as it stands after it and as it stood before."""

    entries: tuple[Entry, ...]
    standing: Standing
    now: datetime
    before: Standing | None = None

    @property
    def entry(self) -> Entry:
        """The statement itself, without what was logged along with it."""
        return self.entries[-1]
