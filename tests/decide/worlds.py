"""Small jobs for the tests: a boat shed with three bays, told as entries of a log."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.shapes import Window
from mixclock.decide.tracks import Track, tracks
from mixclock.decide.windows import seen_at
from mixclock.job.entry import Entry, Facts, JobStarted, ProfileUsed
from mixclock.job.folding import fold
from mixclock.job.progress import Standing
from tests.boatshed import PAIL, PAIR_WITH_RATES, shed_base, shed_job, shed_top

MORNING = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)

BASE = shed_base(limits=True, tack_free=True)
TOP = shed_top(damp=True)
SITE = "\n" + shed_job(bays=3, size="12 m2", joined=True, crew=PAIR_WITH_RATES, vessel=PAIL)
MODEL = bucket_model()


@dataclass
class Log:
    """A log that a test writes line by line, minutes after eight in the morning."""

    entries: list[Entry] = field(default_factory=list)

    def __post_init__(self) -> None:
        if not self.entries:
            self.add(-60, JobStarted("Boat shed", SITE))
            self.add(-60, ProfileUsed("Shed base", BASE))
            self.add(-60, ProfileUsed("Shed top", TOP))

    def add(self, minutes: float, facts: Facts, by: str | None = None, written: float | None = None) -> Entry:
        """One more entry; `written` is when it was entered, where that was later."""
        entry = Entry(
            len(self.entries) + 1, "shed", instant(minutes), instant(minutes if written is None else written), facts, by
        )
        self.entries.append(entry)
        return entry

    def standing(self, at: float | None = None, known: float | None = None) -> Standing:
        """The job as it stands."""
        asked = None if at is None else instant(at)
        return fold("shed", self.entries, at=asked, known=None if known is None else instant(known))

    def tracks(self, at: float | None = None) -> tuple[Track, ...]:
        """All windows, before anybody asks what time it is."""
        return tracks(self.standing(at), MODEL)

    def window(self, name: str, minutes: float, area: str | None = None, batch: int = 1) -> Window:
        """One window at an instant."""
        found = [
            seen_at(track, instant(minutes))
            for track in self.tracks()
            if track.name == name and track.batch.id == batch and area in (None, track.area)
        ]
        assert len(found) == 1, f"{len(found)} windows '{name}'"
        return found[0]


def instant(minutes: float) -> datetime:
    """So many minutes after eight."""
    return MORNING + timedelta(minutes=minutes)


def minutes_of(at: datetime | None) -> float:
    """Minutes after eight."""
    assert at is not None
    return (at - MORNING).total_seconds() / 60.0
