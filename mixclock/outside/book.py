"""The book: one SQLite file that holds the log of every job.

An entry is durable before `append` returns: WAL with synchronous=FULL, one fsync a commit. The log only grows; triggers
hold that, and a hash chained through the rows shows what a disk or an editor did behind them. Why this is plain sqlite3
stands in `bookconnection`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar

from mixclock.job.drafts import Draft
from mixclock.job.entry import KINDS, Entry, Facts
from mixclock.outside.bookconnection import BookConnection
from mixclock.outside.bookcopies import DAMAGE, Tail, copy_book, is_damage
from mixclock.outside.bookdrawers import Beside, Drawers, Picture, put_beside
from mixclock.outside.bookerrors import (
    BookError,
    DiskFullError,
    HeldError,
    NoRoomError,
    refuse_for_reading,
    said_plainly,
)
from mixclock.outside.bookreading import (
    CHAINED,
    first_entry,
    is_copy_for_reading,
    read_entries,
)
from mixclock.outside.bookrows import COLUMNS, FIRST_HASH, INSERT, Row, mark_in, row_of
from mixclock.outside.clock import Clock
from mixclock.outside.joblines import FILES_OF_JOBS, JobLine, read_lines
from mixclock.outside.unrecorded import UnrecordedEntries
from mixclock.values import replace

T = TypeVar("T")

__all__ = ["Book", "BookError", "DiskFullError", "JobLine"]


class Book:
    """The log of all jobs in one file. Safe to share between threads."""

    def __init__(self, path: Path, clock: Clock, unrecorded: UnrecordedEntries | None = None) -> None:
        """Open the book, making it where there is none. Raises `BookError`, one line.

        With `unrecorded` a crew can go on with a book that nobody can open or write. We read as much of it as we can,
        and `unrecorded` keeps what is stated until the book takes it.
        """
        self.path = path
        self.clock = clock
        self.unrecorded = unrecorded
        self.connection = BookConnection(path, clock, anyhow=unrecorded is not None)
        self.drawers = Drawers(self.connection)
        self._tail = Tail(path)
        if unrecorded is not None:
            with said_plainly(path):
                unrecorded.take_up(_end_of_log(self.connection.own())[0], self._holds)

    @property
    def reserve_used(self) -> bool:
        """Whether the disk was full and the room held in reserve was given up: the crew must free some."""
        return self.connection.reserve_used

    def append(
        self,
        job: str,
        facts: Facts,
        *,
        happened: datetime | None = None,
        by: str | None = None,
        note: str | None = None,
    ) -> Entry:
        """Write one fact; it is on the disk when this returns."""
        return self.append_within(job, lambda _: (Draft(facts, happened, by, note),))[0]

    def append_within(
        self,
        job: str,
        build: Callable[[Sequence[Entry]], Iterable[Draft]],
        skip: Iterable[str] = (),
        beside: Sequence[Beside] = (),
        after: int = 0,
    ) -> tuple[Entry, ...]:
        """Decide from the job's entries what to write and write it, with nobody writing in between.

        `build` sees the entries after a number, without the kinds in `skip`; if it raises, nothing at all is written.
        """
        skipped = tuple(skip)

        def append() -> tuple[Entry, ...]:
            try:
                return self._append(job, build, skipped, beside, after)
            except sqlite3.OperationalError as error:
                if "disk is full" not in str(error) or not self.connection.use_reserve():
                    raise
                return self._append(job, build, skipped, beside, after)

        if self.unrecorded is None:
            return self._mending(append)
        try:
            self.record()
            return self._mending(append)
        except HeldError:
            raise  # whoever holds it lets it go
        except BookError:
            if any(isinstance(each, Picture) for each in beside):
                raise  # in mind there is no room for a picture
            return self._keep_in_mind(job, build, skipped)

    def record(self) -> None:
        """Write what could only be kept in mind. Raises `BookError` while that still does not work."""
        unrecorded = self.unrecorded
        if not unrecorded:
            return

        def write() -> None:
            with self.connection.writing() as connection:
                number, before = _end_of_log(connection)
                rows = _insert(connection, before, ((entry, "") for entry in unrecorded.numbered_from(number + 1)))
            self._tail.add(rows)
            unrecorded.forget(len(rows))
            self.connection.generation += 1

        self._mending(write)

    def _holds(self, entry: Entry) -> bool:
        """Whether an entry that an earlier process kept in mind reached the file before it ended."""
        row = row_of(entry, FIRST_HASH)
        if entry.number < 0:  # a call that went out first: it got its place in the book, and its boot clock, later
            asked = "SELECT 1 FROM entries WHERE job = ? AND kind = ? AND happened = ? AND facts = ? LIMIT 1"
            return bool(self._told(asked, row.job, row.kind, row.happened, row.facts))
        asked = "SELECT 1 FROM entries WHERE job = ? AND kind = ? AND written = ? AND facts = ? AND boot_s = ? LIMIT 1"
        return bool(self._told(asked, row.job, row.kind, row.written, row.facts, row.boot_s))

    def _keep_in_mind(
        self, job: str, build: Callable[[Sequence[Entry]], Iterable[Draft]], skip: tuple[str, ...]
    ) -> tuple[Entry, ...]:
        assert self.unrecorded is not None
        drafts = tuple(build(self.entries(job, skip=skip)))
        last = max(self.unrecorded.last_number(), _end_of_log(self.connection.own())[0])
        entries = tuple(self._entry(last + place, job, draft) for place, draft in enumerate(drafts, start=1))
        self.unrecorded.add(entries)
        return entries

    def entries(self, job: str, after: int = 0, skip: Iterable[str] = ()) -> tuple[Entry, ...]:
        """The job's entries in the order in which they were written, those after a number, without some kinds."""
        found = self._mending(lambda: self._entries(job, after, tuple(skip)))
        return (*found, *self.unrecorded.of(job, after, tuple(skip))) if self.unrecorded else found

    def first(self, job: str) -> Entry | None:
        """The job's first entry, which is its start; None where there is no such job."""
        return self._mending(lambda: first_entry(self.connection.own(), job))

    def is_for_reading(self, job: str) -> bool:
        """Whether a job is a copy from which names were taken: it is read, and nothing is stated in it."""
        return self._mending(lambda: is_copy_for_reading(self.connection.own(), job))

    def job_files(self) -> dict[str, str]:
        """The text of each job's file as it goes by it now, by the job's name."""
        return {str(job): str(text or "") for job, text in self._told(FILES_OF_JOBS)}

    def jobs_with(self, kind: str) -> list[str]:
        """The jobs whose log holds an entry of a kind; signs (`saw`) have an index of their own."""
        # the kind stands in the text, because a partial index is not found for one that is filled in later
        asked = f"SELECT DISTINCT job FROM entries WHERE kind = '{KINDS[kind].kind}' ORDER BY job"
        return [str(job) for (job,) in self._told(asked)]

    def has_signs(self) -> bool:
        """Whether anybody ever saw a sign on a batch, in any job."""
        return bool(self._told("SELECT 1 FROM joblines WHERE signs > 0 LIMIT 1"))

    def teaching(self, but: str) -> tuple[int, int]:
        """How many other jobs hold a sign, and the last entry of theirs that may change what a sign taught."""
        asked = "SELECT count(*), coalesce(max(taught), 0) FROM joblines WHERE signs > 0 AND job != ?"
        ((count, last),) = self._told(asked, but)
        return int(count), last if isinstance(last, int) else 0

    def jobs_that_teach(self) -> dict[str, int]:
        """The jobs with a sign, the newest first, each with its last entry that may change what a sign taught."""
        return dict(self._told("SELECT job, taught FROM joblines WHERE signs > 0 ORDER BY first DESC"))

    def last_number(self, job: str, skip: Iterable[str] = ()) -> int:
        """The number of the job's last entry, without some kinds; 0 where there is none."""
        skipped = tuple(skip)
        left_out = f" AND kind NOT IN ({', '.join('?' * len(skipped))})" if skipped else ""
        asked = f"SELECT number FROM entries WHERE job = ?{left_out} ORDER BY number DESC LIMIT 1"
        found = self._told(asked, job, *skipped)
        return int(found[0][0]) if found else 0

    def lost_entries(self, job: str) -> int:
        """How many entries were counted for the job as they were written, more than are found under its name now."""
        asked = "SELECT entries, (SELECT count(*) FROM entries WHERE job = ?) FROM joblines WHERE job = ?"
        found = self._told(asked, job, job)
        counted, there = found[0] if found else (0, 0)
        return max(0, counted - there) if isinstance(counted, int) else 1  # a damaged count vouches for nothing

    def rows(self, job: str | None = None) -> Iterator[Row]:
        """The raw rows, of one job or of all."""
        asked = f"SELECT {COLUMNS} FROM entries {'' if job is None else 'WHERE job = ?'} ORDER BY number"
        with said_plainly(self.path):
            for values in self.connection.own().execute(asked, () if job is None else (job,)):
                yield Row(*values)

    def rows_and_before(self, job: str) -> Iterator[tuple[Row, str]]:
        """The raw rows of a job, each with the hash of the row before it in the book."""
        with said_plainly(self.path):
            for *values, hash_before in self.connection.own().execute(
                f"{CHAINED} WHERE e.job = ? ORDER BY e.number", (job,)
            ):
                yield Row(*values), hash_before or FIRST_HASH

    def begun_by(self, mark: str) -> list[str]:
        """The jobs that hold an entry which begins a job and has this mark, oldest first."""
        asked = f"SELECT {COLUMNS} FROM entries WHERE kind = 'job started' ORDER BY number"
        rows = [Row(*values) for values in self._told(asked)]
        return list(dict.fromkeys(row.job for row in rows if (mark_in(row.origin) if row.origin else row.hash) == mark))

    def take_over(self, build: Callable[[int], Iterable[tuple[Entry, str]]], pictures: Sequence[Picture] = ()) -> int:
        """Append entries that another book wrote, each with the hash that it had there; gives how many.

        `build` is told the first free number and gives the entries numbered on from there.
        """
        with said_plainly(self.path), self.connection.writing() as connection:
            number, before = _end_of_log(connection)
            rows = _insert(connection, before, build(number + 1))
            put_beside(connection, pictures)
        self._tail.add(rows)
        return len(rows)

    def all_jobs(self) -> list[JobLine]:
        """Every job in the book, the one started last at the end."""
        return self._mending(lambda: self._lines(every=True))

    def open_jobs(self) -> list[JobLine]:
        """The jobs that nobody finished, the one started last at the end; what is finished costs nothing here."""
        return [line for line in self._mending(lambda: self._lines(every=False)) if line.finished is None]

    def running_jobs(self, besides: Collection[str]) -> list[JobLine]:
        """The jobs that are not finished or go on all the same, and these besides; the others cost nothing here."""
        return self._mending(lambda: read_lines(self.connection.own(), self.clock.now(), False, besides))

    def current_job(self) -> str | None:
        """The job that is asked about: the one chosen, else the last one of ours that is not finished."""
        chosen = self.chosen_job()
        return chosen or next((line.name for line in reversed(self.open_jobs()) if line.own), None)

    def chosen_job(self) -> str | None:
        """The job that somebody chose with `job use`, None where nobody did or the book has no such job."""
        chosen = self.drawers.kept("settings", "current job")
        return chosen if isinstance(chosen, str) and self.last_number(chosen) else None

    def called_here(self) -> list[str]:
        """The books whose place this one took: what was stated in them is called out here."""
        kept = self.drawers.kept("settings", "called here")
        return kept if isinstance(kept, list) else []

    def use(self, job: str | None) -> None:
        """Choose the job that statements go to from now on; None forgets the choice."""
        if job is None:
            self.drawers.drop("settings", "current job")
        else:
            self.drawers.keep("settings", "current job", job)

    def data_version(self) -> tuple[int, int, int]:
        """A value that changes when anybody writes, this thread too. It is cheap enough to ask twice a second."""

        def version() -> tuple[int, int, int]:
            connection = self.connection.own()
            (seen,) = connection.execute("PRAGMA data_version").fetchone()
            kept = self.unrecorded.changes if self.unrecorded is not None else 0
            return self.connection.generation, seen, connection.total_changes + kept

        return self._mending(version)

    @property
    def generation(self) -> int:
        """Grows whenever the file was made anew: then the log must be read again from its beginning."""
        return self.connection.generation

    @property
    def mended(self) -> tuple[str, ...]:
        """What was mended since the book was opened, a line each."""
        return tuple(one.line for one in self.connection.mended)

    @property
    def only_read(self) -> str | None:
        """In a line, why the book can only be read; None where it can be written, or what is stated is kept in mind."""
        shut = self.connection.shut_because if self.unrecorded is None else None
        return f"{shut}; this was read from it, and nothing was kept" if shut else None

    def copy(self, pause: Callable[[], None] = lambda: None) -> Path | None:
        """Copy the book beside it and check the copy; a damaged book is made anew. None where nothing is new."""
        with said_plainly(self.path):
            try:
                return copy_book(self.connection.own(), self.path, self.clock.now(), pause)
            except NoRoomError:
                raise
            except (BookError, *DAMAGE) as error:
                if not isinstance(error, BookError) and not is_damage(error):
                    raise
                if not self.connection.mend("was damaged"):
                    raise
                return copy_book(self.connection.own(), self.path, self.clock.now(), pause)

    def restore(self, copy: Path | None = None) -> str:
        """Make the book anew: from all that holds its rows, or as one copy has it. Gives what became of it."""
        with said_plainly(self.path):
            if not self.connection.mend("was restored because somebody asked for it", copy):
                raise BookError(f"{self.path}: there is no copy to restore it from; `mixclock watch` makes them")
            self.connection.own()
            return self.mended[-1]

    def _told(self, asked: str, *values: object) -> list[tuple[Any, ...]]:
        with said_plainly(self.path):
            return self.connection.own().execute(asked, values).fetchall()

    def _mending(self, work: Callable[[], T]) -> T:
        """Do something with the file; where it turns out to be damaged, mend it and do it again."""
        with said_plainly(self.path):
            try:
                return work()
            except DAMAGE as error:
                if not is_damage(error) or not self.connection.mend("was damaged"):
                    raise
                return work()

    def hurried(self, wait_s: float) -> AbstractContextManager[None]:
        """Inside this block the thread waits only so long for another program that holds the book."""
        return self.connection.hurried(wait_s)

    def close(self) -> None:
        """Close the file. It is whole at any moment, so nothing is lost without this."""
        self.connection.close()

    def __enter__(self) -> Book:
        """Use the book in a `with` block."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close it at the end."""
        self.close()

    def _append(
        self,
        job: str,
        build: Callable[[Sequence[Entry]], Iterable[Draft]],
        skip: tuple[str, ...],
        beside: Sequence[Beside],
        after: int,
    ) -> tuple[Entry, ...]:
        with self.connection.writing() as connection:
            refuse_for_reading(job, is_copy_for_reading(connection, job))
            drafts = tuple(build(() if KINDS.keys() <= set(skip) else self._entries(job, after, skip)))
            number, before = _end_of_log(connection)
            entries = tuple(self._entry(number + place, job, draft) for place, draft in enumerate(drafts, start=1))
            rows = _insert(connection, before, ((entry, "") for entry in entries))
            put_beside(connection, beside)
        self._tail.add(rows)
        return tuple(replace(entry, mark=row.hash) for entry, row in zip(entries, rows, strict=True))

    def _entry(self, number: int, job: str, draft: Draft) -> Entry:
        written = self.clock.now()
        return Entry(
            number=number,
            job=job,
            happened=draft.happened or written,
            written=written,
            facts=draft.facts,
            by=draft.by,
            note=draft.note,
            boot_id=self.clock.boot_id(),
            boot_s=self.clock.boot_s(),
        )

    def _lines(self, every: bool) -> list[JobLine]:
        return read_lines(self.connection.own(), self.clock.now(), every)

    def _entries(self, job: str, after: int, skip: tuple[str, ...]) -> tuple[Entry, ...]:
        return read_entries(self.connection.own(), job, after, skip)


def _end_of_log(connection: sqlite3.Connection) -> tuple[int, str]:
    found = connection.execute("SELECT number, hash FROM entries ORDER BY number DESC LIMIT 1").fetchone()
    return (int(found[0]), str(found[1])) if found else (0, FIRST_HASH)


def _insert(connection: sqlite3.Connection, before: str, entries: Iterable[tuple[Entry, str]]) -> list[Row]:
    """Write entries with their origins, each chained to the one before it."""
    rows: list[Row] = []
    for entry, origin in entries:
        rows.append(row_of(entry, rows[-1].hash if rows else before, origin))
        connection.execute(INSERT, rows[-1].values())
    return rows
