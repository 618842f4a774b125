"""A book that lives in memory: for hundreds of simulated days, where the disk would be the slowest of the crew."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from contextlib import AbstractContextManager, nullcontext
from datetime import datetime
from pathlib import Path
from types import SimpleNamespace

from mixclock.job.drafts import Draft
from mixclock.job.entry import Entry, Facts, JobFinished
from mixclock.outside.book import BookError, JobLine
from mixclock.outside.bookdrawers import Picture
from mixclock.outside.clock import Clock


class MemoryBook:
    """As much of a book as the daemon uses. `broken` makes every write fail, as a full disk does."""

    path = Path("/dev/null/book.sqlite3")
    """Nothing can lie beside it."""

    def __init__(self, clock: Clock) -> None:
        self.clock = clock
        self.log: list[Entry] = []
        self.broken = False
        self.generation = 0
        self.unrecorded = None
        self.mended = ()
        self.drawers = SimpleNamespace(damaged=frozenset())

    def append(
        self,
        job: str,
        facts: Facts,
        *,
        happened: datetime | None = None,
        by: str | None = None,
        note: str | None = None,
    ) -> Entry:
        return self.append_within(job, lambda _: [Draft(facts, happened, by, note)])[0]

    def lost_entries(self, job: str) -> int:
        return 0

    def append_within(
        self,
        job: str,
        build: Callable[[Sequence[Entry]], Iterable[Draft]],
        skip: Iterable[str] = (),
        pictures: Sequence[Picture] = (),
    ) -> tuple[Entry, ...]:
        if self.broken:
            raise BookError("the disk is full and nothing was written")
        now = self.clock.now()
        skipped = set(skip)
        seen = [entry for entry in self.log if entry.job == job and entry.facts.kind not in skipped]
        drafts = tuple(build(seen))
        entries = tuple(
            Entry(
                len(self.log) + place,
                job,
                draft.happened or now,
                now,
                draft.facts,
                draft.by,
                draft.note,
                self.clock.boot_id(),
                self.clock.boot_s(),
            )
            for place, draft in enumerate(drafts, start=1)
        )
        self.log += entries
        return entries

    def entries(self, job: str, after: int = 0, skip: Iterable[str] = ()) -> tuple[Entry, ...]:
        skipped = set(skip)
        return tuple(e for e in self.log[after:] if e.job == job and e.facts.kind not in skipped)

    def hurried(self, wait_s: float) -> AbstractContextManager[None]:
        return nullcontext()

    def data_version(self) -> tuple[int, int, int]:
        return 0, len(self.log), 0

    def current_job(self) -> str | None:
        return self.log[0].job if self.log else None

    def all_jobs(self) -> list[JobLine]:
        names = dict.fromkeys(entry.job for entry in self.log)
        return [self._line(name) for name in names]

    def is_for_reading(self, job: str) -> bool:
        return False

    def called_here(self) -> list[str]:
        return []

    def open_jobs(self) -> list[JobLine]:
        return [line for line in self.all_jobs() if line.finished is None]

    def running_jobs(self, besides: Collection[str]) -> list[JobLine]:
        return self.all_jobs()

    def _line(self, name: str) -> JobLine:
        entries = [entry for entry in self.log if entry.job == name]
        finished = next((entry.happened for entry in entries if isinstance(entry.facts, JobFinished)), None)
        last = entries[-1].written
        return JobLine(name, entries[0].written, finished, len(entries), last, len(entries), last)
