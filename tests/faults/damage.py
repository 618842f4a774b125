"""The book's file is changed behind its back: bits, halves, all of it, an older or a newer one."""

from __future__ import annotations

import contextlib
import random
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

from mixclock.job.entry import Combined, Entry, JobStarted, Noted, Poured, Reading, Unreadable
from mixclock.outside import bookreading
from mixclock.outside.book import Book, BookError
from mixclock.outside.clock import FakeClock
from tests.days.shed import site
from tests.faults.forking import quick_folder
from tests.faults.jobdays import dice
from tests.faults.starving import Stopwatch
from tests.faults.table import Counted, each

MORNING = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
JOB = "Boat shed"
TOLD_WITHIN_S = 5.0


def written(folder: Path) -> list[Entry]:
    """A job with batches, pours, readings and notes; a copy was made in its middle."""
    folder.mkdir()
    clock = FakeClock(MORNING)
    with Book(folder / "book.sqlite3", clock) as book:
        book.append(JOB, JobStarted(JOB, site()))
        for number in range(1, 19):
            clock.advance(60)
            book.append(JOB, Combined("Shed base", ("bay 1",), volume_l=3.0 + number, lot=f"L{number}"))
            book.append(JOB, Reading(air_c=18.0 + number / 10, slab_c=15.5))
            book.append(JOB, Poured(number))
            book.append(JOB, Noted(f"heater {number} lit"))
            if number == 12:
                book.copy()
        return list(book.entries(JOB))


@contextlib.contextmanager
def no_hash(broken: bool) -> Iterator[None]:
    """The deliberate break: whatever can be parsed is believed."""
    honest = bookreading.believed

    def believes(row: bookreading.Row, *_: str) -> Entry | str:
        try:
            return bookreading.entry_of(row)
        except (ValueError, TypeError, AttributeError) as error:
            return str(error)

    if broken:
        bookreading.believed = believes
    try:
        yield
    finally:
        bookreading.believed = honest


def flips(trials: int, broken: bool) -> Counted:
    """One bit of the file; what is read is right, or named as unreadable, or made anew."""
    counted = Counted()
    with tempfile.TemporaryDirectory(prefix="faults-", dir=quick_folder()) as made, no_hash(broken):
        truth = written(Path(made) / "sound")
        content = (Path(made) / "sound" / "book.sqlite3").read_bytes()
        throw = dice(1)
        for trial in each(trials):
            home = Path(made) / f"trial-{trial}"
            shutil.copytree(Path(made) / "sound", home)
            changed = bytearray(content)
            changed[throw.randrange(len(changed))] ^= 1 << throw.randrange(8)
            (home / "book.sqlite3").write_bytes(changed)
            _judge(counted, home, truth, f"flip {trial}")
            shutil.rmtree(home)
    return counted


def _judge(counted: Counted, home: Path, truth: list[Entry], what: str) -> None:
    counted.trials += 1
    watch = Stopwatch()
    try:
        with Book(home / "book.sqlite3", FakeClock(MORNING)) as book:
            seen = {entry.number: entry for entry in book.entries(JOB)}
            told = bool(book.mended) or any(isinstance(e.facts, Unreadable) for e in seen.values())
            for entry in truth:
                found = seen.get(entry.number)
                if found is not None and found != entry and not isinstance(found.facts, Unreadable):
                    counted.fail(f"{what}: entry {entry.number} reads otherwise and nobody is told")
            silent = len(seen) < len(truth) and not told
            book.copy()  # what the daemon does when it starts
            if silent and not book.mended:
                counted.fail(f"{what}: entries are missing and nobody is told")
            after = list(book.entries(JOB))
            counted.lost += sum(1 for entry in truth if entry not in after)
            counted.judge(watch.took(), TOLD_WITHIN_S, what)
    except (BookError, sqlite3.Error) as error:
        counted.fail(f"{what}: {error}")


def whole_files(trials: int, broken: bool) -> Counted:
    """The file cut short, zeroed, overwritten, emptied, deleted; its log beside it gone; an older and a newer one."""
    counted = Counted()
    with tempfile.TemporaryDirectory(prefix="faults-", dir=quick_folder()) as made:
        truth = written(Path(made) / "sound")
        throw = dice(2)
        kinds = list(_FATES)
        for trial in each(trials):
            kind = kinds[trial % len(kinds)]
            home = Path(made) / f"trial-{trial}"
            shutil.copytree(Path(made) / "sound", home)
            if broken:
                shutil.rmtree(home / "book.sqlite3.copies")  # the deliberate break: no copies, no tail
            _FATES[kind](home / "book.sqlite3", throw)
            if kind == "newer":
                _newer_is_refused(counted, home / "book.sqlite3")
                continue
            _judge(counted, home, [*truth, _last(home)] if kind == "log beside it gone" else truth, kind)
    return counted


def _older(book: Path) -> None:
    with contextlib.closing(sqlite3.connect(book)) as old:
        old.executescript(
            "DROP TRIGGER entries_make_lines; DROP INDEX ends_of_jobs; DROP TABLE joblines;"
            "DROP INDEX signs_seen; DROP TABLE lessons; PRAGMA user_version = 2;"
            "DELETE FROM _sqlite_migrations WHERE name IN ('lessons_beside_the_log', 'lines_of_jobs');"
        )


def _made_newer(book: Path) -> None:
    with contextlib.closing(sqlite3.connect(book)) as newer:
        newer.execute("PRAGMA user_version = 99")


def _without_wal(path: Path) -> None:
    """Something is stated, and what SQLite had not yet folded into the file is swept away."""
    reader = sqlite3.connect(path)
    reader.execute("SELECT count(*) FROM entries").fetchone()
    book = Book(path, FakeClock(MORNING))
    book.append(JOB, Noted("only in the log beside the book"))
    content = path.read_bytes()
    reader.close()
    book.close()
    path.write_bytes(content)
    for beside in (path.with_name(f"{path.name}-wal"), path.with_name(f"{path.name}-shm")):
        beside.unlink(missing_ok=True)


def _last(home: Path) -> Entry:
    from mixclock.outside.bookcopies import Tail
    from mixclock.outside.bookrows import entry_of

    rows = [row for row in Tail(home / "book.sqlite3").rows() if "log beside" in row.facts]
    if rows:
        return entry_of(rows[-1])
    return Entry(74, JOB, MORNING, MORNING, Noted("only in the log beside the book"))


def _newer_is_refused(counted: Counted, book: Path) -> None:
    counted.trials += 1
    try:
        Book(book, FakeClock(MORNING)).close()
    except BookError as error:
        if "newer mixclock" not in str(error) or "\n" in str(error):
            counted.fail(f"newer: {error}")
    else:
        counted.fail("a newer book was opened")


_FATES: dict[str, Callable[[Path, random.Random], object]] = {
    "cut short": lambda book, throw: book.write_bytes(book.read_bytes()[: throw.randrange(1, book.stat().st_size)]),
    "zeroed": lambda book, _: book.write_bytes(bytes(book.stat().st_size)),
    "random": lambda book, throw: book.write_bytes(throw.randbytes(book.stat().st_size)),
    "emptied": lambda book, _: book.write_bytes(b""),
    "deleted": lambda book, _: book.unlink(),
    "log beside it gone": lambda book, _: _without_wal(book),
    "older": lambda book, _: _older(book),
    "newer": lambda book, _: _made_newer(book),
}
