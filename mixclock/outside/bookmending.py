"""A book that is gone or damaged is set aside, and made anew from every row that anything still holds.

Rows come from the damaged file, the copies and the tail. They are chained by their hashes, so a row that was changed
is not taken for the one that was written. Where a row is lost for good an `Unreadable` keeps its number.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from mixclock.job.entry import Entry, Unreadable
from mixclock.outside.bookcopies import Tail, copies_of, leave_behind
from mixclock.outside.bookreading import all_rows, wrong_with
from mixclock.outside.bookrows import FIRST_HASH, INSERT, Row, own_again, row_of
from mixclock.outside.bookshape import bring_up_to_date
from mixclock.outside.clock import Clock
from mixclock.outside.foldedlogs import forget_long_logs
from mixclock.values import dataclass, replace

_DRAWERS = ("settings", "calibrations", "phones", "lessons", "pictures")
_LONGEST_GAP = 64
_OLDER_COPIES = 2
"""So many copies are asked for a row: the last one may be damaged too."""


@dataclass(frozen=True)
class BookRepair:
    """What became of a book that was mended."""

    why: str
    entries: int
    lost: tuple[int, ...]
    set_aside: Path | None
    copy: Path | None = None
    """The one copy that somebody went back to."""

    @property
    def line(self) -> str:
        """The same for a person."""
        if self.copy is not None:
            kept = f" What was written after it stays in {self.set_aside.name}." if self.set_aside else ""
            return f"The book {self.why}. It is as {self.copy.name} has it, with {self.entries} entries.{kept}"
        what = f"The book {self.why}. It was made anew from its copies with {self.entries} entries"
        lost = f"; {_listed(self.lost)} lost: check the floor" if self.lost else "; nothing that was stated is lost"
        aside = f". The damaged file is {self.set_aside.name}" if self.set_aside else ""
        return f"{what}{lost}{aside}."


def mend_book(
    book: Path, clock: Clock, why: str, still_open: sqlite3.Connection | None = None, only: Path | None = None
) -> BookRepair:
    """Set the book aside and make it anew. The caller holds the file lock.

    `still_open` is a connection to a file that was deleted under it; `only` names the one copy to go back to.
    """
    with _held_still(book, still_open) as damaged:
        rows = _chain(_candidates(book, damaged, only), clock)
        if not rows:
            raise sqlite3.DatabaseError("file is not a database: it holds no entry, and neither do its copies")
        fresh = book.with_name(f"{book.name}.fresh")
        _write(fresh, rows, [damaged, *_opened(copies_of(book)[:1])])
        aside = _set_aside(book, clock)
        if only is not None:
            leave_behind(book, only)
        fresh.replace(book)
        forget_long_logs(book)
        _sync_folder(book.parent)
    lost = tuple(row.number for row in rows if row.kind == Unreadable.kind)
    return BookRepair(why, len(rows), lost, aside, only)


@contextlib.contextmanager
def _held_still(book: Path, still_open: sqlite3.Connection | None) -> Iterator[sqlite3.Connection | None]:
    """The damaged book with nobody writing into it, as far as that can be had."""
    if still_open is not None:
        yield still_open
        return
    if not book.is_file() or book.stat().st_size == 0:
        yield None
        return
    connection = sqlite3.connect(book, timeout=5.0, isolation_level=None)
    try:
        with contextlib.suppress(sqlite3.Error, UnicodeDecodeError):
            connection.execute("BEGIN IMMEDIATE")
        yield connection
    finally:
        connection.close()


def _candidates(book: Path, damaged: sqlite3.Connection | None, only: Path | None) -> dict[int, list[Row]]:
    found: dict[int, list[Row]] = {}

    def take(rows: Iterable[Row]) -> None:
        with contextlib.suppress(sqlite3.Error, UnicodeDecodeError):
            for row in rows:
                if isinstance(row.number, int) and row.number > 0:
                    found.setdefault(row.number, []).append(row)

    for copy in _opened([only] if only is not None else copies_of(book)[:_OLDER_COPIES]):
        take(all_rows(copy))
        copy.close()
    if only is None:
        take(Tail(book).rows())
        if damaged is not None:
            take(all_rows(damaged))
    return found


def _chain(candidates: dict[int, list[Row]], clock: Clock) -> list[Row]:
    """For each number, the row that follows from the row before. If none does, the row from which the next one
    follows."""
    chosen: list[Row] = []
    before, broken = FIRST_HASH, False
    for number in range(1, _end(candidates) + 1):
        here = candidates.get(number, [])
        row = next((each for each in here if wrong_with(each, before) is None), None)
        if row is None:
            row = _vouched_for(here, candidates.get(number - 1, []))
            broken = True
            if row is None:
                row = _lost(number, here, chosen, clock)
            before = row.hash
            chosen.append(_rechained(row, chosen))
            continue
        before = row.hash
        chosen.append(_rechained(row, chosen) if broken else row)
    return chosen


def _vouched_for(here: Sequence[Row], forerunners: Sequence[Row]) -> Row | None:
    """A row whose forerunner is lost. It must fit a kept hash of the forerunner, or two places must hold the same
    row."""
    befores = [each.hash for each in forerunners if isinstance(each.hash, str)]
    fitting = [each for each in here if befores and wrong_with(each, *befores) is None]
    alike = [each for each in here if here.count(each) > 1]
    return next(iter([*fitting, *alike]), None)


def _rechained(row: Row, chosen: Sequence[Row]) -> Row:
    before = chosen[-1].hash if chosen else FIRST_HASH
    if row.chained_to(before) == row.hash:
        return row
    known = replace(row, origin=row.origin or own_again(row.hash))  # other books know it by the hash that it had
    return replace(known, hash=known.chained_to(before))


def _end(candidates: dict[int, list[Row]]) -> int:
    """The last number. A row far behind all others does not count: its number was damaged."""
    end = 0
    for number in sorted(candidates):
        if number > end + _LONGEST_GAP:
            break
        end = number
    return end


def _lost(number: int, here: Sequence[Row], chosen: Sequence[Row], clock: Clock) -> Row:
    """A placeholder: the job is that of what is left of the row, else of the row before."""
    known = {row.job for row in chosen}
    job = next((row.job for row in here if row.job in known), chosen[-1].job if chosen else "a job that is lost")
    was = next((str(row.kind)[:40] for row in here), "")
    at = clock.now()
    entry = Entry(number, job, at, at, Unreadable(was, "no copy of it was left"))
    made = row_of(entry, chosen[-1].hash if chosen else FIRST_HASH)
    kept = next((row.hash for row in here if isinstance(row.hash, str) and len(row.hash) == len(FIRST_HASH)), made.hash)
    return replace(made, hash=kept)


def _write(fresh: Path, rows: Sequence[Row], drawers_from: Sequence[sqlite3.Connection | None]) -> None:
    _remove(fresh)
    os.close(os.open(fresh, os.O_CREAT | os.O_RDWR, 0o600))
    target = sqlite3.connect(fresh, isolation_level=None)
    try:
        target.execute("PRAGMA synchronous = FULL")
        _write_into(target, rows, drawers_from)
        target.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    finally:
        target.close()


def _write_into(
    target: sqlite3.Connection, rows: Sequence[Row], drawers_from: Sequence[sqlite3.Connection | None]
) -> None:
    bring_up_to_date(target)
    target.execute("BEGIN IMMEDIATE")
    target.executemany(INSERT, [row.values() for row in rows])
    for drawer in _DRAWERS:
        _fill(target, drawer, drawers_from)
    target.execute("COMMIT")


def _fill(target: sqlite3.Connection, drawer: str, sources: Sequence[sqlite3.Connection | None]) -> None:
    for source in sources:
        if source is None:
            continue
        try:
            found = source.execute(f"SELECT * FROM {drawer}").fetchall()
        except (sqlite3.Error, UnicodeDecodeError):
            continue
        if found and _put(target, drawer, found):
            return


def _put(target: sqlite3.Connection, drawer: str, found: Sequence[Sequence[object]]) -> bool:
    """Fill a drawer. False, with nothing put in, if what the damaged file gave is no content for it."""
    places = ", ".join("?" * len(found[0]))
    target.execute("SAVEPOINT drawer")
    try:
        target.executemany(f"INSERT OR REPLACE INTO {drawer} VALUES ({places})", found)
    except sqlite3.Error:
        target.execute("ROLLBACK TO drawer")
        return False
    target.execute("RELEASE drawer")
    return True


def _set_aside(book: Path, clock: Clock) -> Path | None:
    """Keep what is damaged under another name: somebody may get more out of it than we can."""
    if not book.exists() or (book.stat().st_size == 0 and not book.is_dir()):
        _remove(book)
        return None
    name = f"{book.name}.damaged-{clock.now():%Y%m%dT%H%M%SZ}"
    aside, count = book.with_name(name), 1
    while aside.exists():
        count += 1
        aside = book.with_name(f"{name}-{count}")
    if book.is_dir():
        return book.rename(aside)
    try:
        os.link(book, aside)  # so that there is a book under its name at every moment
    except OSError:
        shutil.copy2(book, aside)
    for beside in _beside(book):
        with contextlib.suppress(OSError):
            beside.replace(aside.with_name(beside.name.replace(book.name, aside.name, 1)))
    return aside


def _opened(copies: Iterable[Path]) -> list[sqlite3.Connection]:
    found = []
    for copy in copies:
        with contextlib.suppress(sqlite3.Error, UnicodeDecodeError):
            found.append(sqlite3.connect(f"{copy.absolute().as_uri()}?mode=ro&immutable=1", uri=True))
    return found


def _remove(book: Path) -> None:
    for each in (book, *_beside(book)):
        each.unlink(missing_ok=True)


def _beside(book: Path) -> tuple[Path, Path]:
    return book.with_name(f"{book.name}-wal"), book.with_name(f"{book.name}-shm")


def _sync_folder(folder: Path) -> None:
    with contextlib.suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


def _listed(numbers: Sequence[int]) -> str:
    said = ", ".join(map(str, numbers[:8])) + (" and more" if len(numbers) > 8 else "")
    return f"entry {said} is" if len(numbers) == 1 else f"entries {said} are"


def read_into_memory(book: Path, clock: Clock) -> bytes | None:
    """What can be read of a book that the disk lets nobody open: a whole database, or None where there is nothing.

    A full disk has no room for the index beside the log; with the file to itself SQLite needs none.
    """
    memory = sqlite3.connect(":memory:", isolation_level=None)
    try:
        alone = sqlite3.connect(book, isolation_level=None, timeout=1.0)
        try:
            alone.execute("PRAGMA locking_mode = EXCLUSIVE")
            alone.execute("SELECT count(*) FROM entries").fetchone()
            alone.backup(memory)
        finally:
            alone.close()
    except (sqlite3.Error, UnicodeDecodeError):
        rows = _chain(_candidates(book, None, None), clock)
        if not rows:
            return None
        memory = sqlite3.connect(":memory:", isolation_level=None)
        _write_into(memory, rows, _opened(copies_of(book)[:1]))
    content = bytearray(memory.serialize())
    content[18:20] = b"\x01\x01"  # no longer a file with a log beside it
    return bytes(content)
