"""Saves the book from the loss of its file: keeps copies beside it, and a tail of the entries since.

SQLite's own backup makes the copies. Each is checked row by row before it counts, and old ones are rotated out. The
tail takes each entry once more, as a line of its own, right after it is safely in the book. Each copy begins a new
tail. So a book that is deleted, cut short or overwritten comes back whole, with what was stated a second ago.
"""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from pathlib import Path
from shutil import disk_usage

from mixclock.outside.bookerrors import BookError, NoRoomError
from mixclock.outside.bookreading import all_rows, broken_rows, file_damage
from mixclock.outside.bookrows import Row, as_lines

LIVE_EVERY_S = 300.0
"""How often the book is copied while a batch is live."""

IDLE_EVERY_S = 24 * 3600.0
"""How often otherwise."""

SHARE_OF_TIME = 1 / 30
"""Copying and checking a long book takes long. It may take no more than this share of the time (judgement)."""

RAREST_S = 3600.0
"""However long a copy took, the next one is made by then. The tail holds what was stated meanwhile."""

NEWEST_KEPT = 6
DAYS_KEPT = 7
BYTES_KEPT = 2_000_000_000
"""What all copies take together at the most (judgement); the newest one is kept whatever it takes."""

SHARE_OF_DISK = 0.25
"""Nor may the copies take more than this of the room that the disk would have without them."""

LEFT_FREE = 64_000_000
"""So much room stays free for statements: no copy is made that would take it."""

CHECKED_AT_ONCE = 400


def copied_again_s(usual_s: float, took_s: float) -> float:
    """How long after a copy the next one is due.

    >>> copied_again_s(LIVE_EVERY_S, 2.0), copied_again_s(LIVE_EVERY_S, 60.0), copied_again_s(IDLE_EVERY_S, 60.0)
    (300.0, 1800.0, 86400.0)
    """
    return max(usual_s, min(took_s / SHARE_OF_TIME, RAREST_S))


def how_often_lines() -> Sequence[str]:
    """How often a copy is made, and how many are kept."""
    least_s, most_gb, every = LIVE_EVERY_S * SHARE_OF_TIME, BYTES_KEPT / 1e9, f"{LIVE_EVERY_S / 60:.0f} minutes"
    return (
        f"While a batch is live `mixclock watch` makes a checked one every {every}, else once a "
        "day, and only of what is new.",
        f"Where that takes over {least_s:.0f} s it goes on for {SHARE_OF_TIME:.0%} of the time, and is done every hour "
        "at the least.",
        f"Kept are the {NEWEST_KEPT} newest and the last of {DAYS_KEPT} days, as far as {most_gb:.0f} GB and a quarter "
        "of the free disk hold them; the newest always.",
    )


def copies_folder(path: Path) -> Path:
    """Where the copies of a book lie."""
    return path.with_name(f"{path.name}.copies")


class Tail:
    """The entries since the last copy but one, each as a line."""

    def __init__(self, book: Path) -> None:
        self._folder = copies_folder(book)
        self._new, self._old = self._folder / "tail", self._folder / "tail.before"

    def add(self, rows: Iterable[Row]) -> None:
        """Keep rows that are safely in the book. If that fails, the book still has them."""
        lines = as_lines(rows)
        with contextlib.suppress(OSError):
            try:
                self._append(lines)
            except FileNotFoundError:
                self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
                self._append(lines)

    def turn(self) -> None:
        """Begin a new tail, and drop the last but one, which the copies hold. Call it before making a copy."""
        with contextlib.suppress(OSError):
            self._new.replace(self._old)

    def last_number(self) -> int:
        """The number of the last entry that was kept, 0 where none is."""
        for path in (self._new, self._old):
            with contextlib.suppress(OSError):
                with path.open("rb") as file:
                    size = file.seek(0, os.SEEK_END)
                    file.seek(max(0, size - 65_536))
                    numbers = [row.number for row in _rows_of(file.read())]
                if numbers:
                    return max(numbers)
        return 0

    def rows(self) -> Iterator[Row]:
        """Every row that can be read."""
        for path in (self._old, self._new):
            with contextlib.suppress(OSError):
                yield from _rows_of(path.read_bytes())

    def _append(self, lines: str) -> None:
        number = os.open(self._new, os.O_CREAT | os.O_APPEND | os.O_WRONLY, 0o600)
        try:
            os.write(number, lines.encode())
        finally:
            os.close(number)


def copies_of(book: Path) -> list[Path]:
    """The copies of a book, the newest first."""
    with contextlib.suppress(OSError):
        return sorted(copies_folder(book).glob("*.sqlite3"), reverse=True)
    return []


def leave_behind(book: Path, copy: Path) -> None:
    """Set aside what came after a copy that somebody goes back to: else the tail and later copies would bring it back.

    The files stay in the folder under other names.
    """
    folder = copies_folder(book)
    later = [each for each in copies_of(book) if each.name > copy.name]
    for left in (*later, folder / "tail", folder / "tail.before"):
        with contextlib.suppress(OSError):
            count = sum(1 for _ in folder.glob(f"{left.name}.left-behind*"))
            left.replace(left.with_name(f"{left.name}.left-behind{count or ''}"))


def left_behind(book: Path) -> list[Path]:
    """The files that a restore or an update set aside. mixclock neither uses nor deletes them by itself."""
    with contextlib.suppress(OSError):
        folder = copies_folder(book)
        return sorted((*folder.glob("*.left-behind*"), *folder.glob("before-shape-*.book")))
    return []


def can_be_mended(book: Path) -> bool:
    """Whether there is anything to make a lost book anew from."""
    return bool(copies_of(book)) or Tail(book).last_number() > 0


DAMAGE = (sqlite3.DatabaseError, UnicodeDecodeError)
"""What a damaged file raises; the second where SQLite quotes broken letters of it."""


def is_damage(error: Exception) -> bool:
    """Whether an error is about the file's content, not about room, rights or a program that holds it."""
    if isinstance(error, UnicodeDecodeError):
        return True
    said = str(error)
    return any(sign in said for sign in ("malformed", "not a database", "no such table", "no such column", "UTF-8"))


def copy_before_change(source: sqlite3.Connection, book: Path, version: int) -> None:
    """Copy an older book before its tables are changed."""
    folder = copies_folder(book)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    with _backup(source, folder / f"before-shape-{version + 1}.book"):
        pass


@contextlib.contextmanager
def _backup(source: sqlite3.Connection, path: Path) -> Iterator[sqlite3.Connection]:
    """A new copy of a book, open to be checked. Its owner alone can read it."""
    os.close(os.open(path, os.O_CREAT | os.O_RDWR | os.O_TRUNC, 0o600))
    with contextlib.closing(sqlite3.connect(path)) as target:
        source.backup(target)
        target.execute("PRAGMA journal_mode = DELETE")
        yield target


_WRONG_LINES = """
    SELECT count(*) FROM (
        SELECT job, min(number) AS first, count(*) AS entries,
            sum(origin = '' OR origin LIKE '%"own":true}') AS own,
            min(written) AS started, max(written) AS last, max(kind = 'job finished') AS ended,
            max(CASE WHEN kind IN ('raised', 'delivered', 'planned', 'watch') THEN '' ELSE written END) AS stated
        FROM entries GROUP BY job
    ) AS e LEFT JOIN joblines AS l ON l.job = e.job
    WHERE l.job IS NULL OR l.first <> e.first OR l.entries <> e.entries OR l.own <> e.own OR l.started <> e.started
        OR l.last <> e.last OR l.stated < e.stated OR l.stated > e.last OR (l.finished IS NOT NULL) <> e.ended
"""
"""How many jobs have a line that contradicts the log: one flipped bit in a line may hide a whole job."""

_LINES = "SELECT * FROM joblines ORDER BY job"


_LIST_IS_WRONG = "the list of its jobs is not what its log says"


def copy_book(source: sqlite3.Connection, book: Path, now: datetime, pause: Callable[[], None]) -> Path | None:
    """Copy the book and check the copy. None where the last copy holds as much already.

    Raises `BookError` where the copy does not hold what was written: then the book itself is damaged.
    """
    folder = copies_folder(book)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    (last,) = source.execute("SELECT coalesce(max(number), 0) FROM entries").fetchone()
    known = copies_of(book)
    if known and known[0].name.startswith(f"{last:09}-") and _lines_of(known[0]) == source.execute(_LINES).fetchall():
        return None  # where the two lists of jobs differ either may be right: check a fresh copy against its log
    _make_room(source, book)
    Tail(book).turn()
    half = folder / "half"
    half.unlink(missing_ok=True)
    with _backup(source, half) as target:
        (last,) = target.execute("SELECT coalesce(max(number), 0) FROM entries").fetchone()
        (wrong_lines,) = target.execute(_WRONG_LINES).fetchone()
        wrong = _LIST_IS_WRONG if wrong_lines else damage_of(target, pause)
    if wrong is not None:
        half.unlink(missing_ok=True)
        raise BookError(f"{book}: {wrong}")
    copy = folder / f"{last:09}-{now:%Y%m%dT%H%M%SZ}.sqlite3"
    half.replace(copy)
    _rotate(book)
    return copy


def damage_of(connection: sqlite3.Connection, pause: Callable[[], None]) -> str | None:
    """What in a book is not as it was written, in one line; None where all is. It calls `pause` now and then."""
    try:
        damage = file_damage(connection)
        if damage is not None:
            return f"the file is damaged ({damage[:100]})"
        wrong = next(broken_rows(_with_pauses(all_rows(connection), pause)), None)
    except (sqlite3.Error, TypeError, UnicodeDecodeError) as error:
        return f"the file is damaged ({error})"
    return None if wrong is None else f"entry {wrong[0]} {wrong[1]}"


def _with_pauses(rows: Iterable[Row], pause: Callable[[], None]) -> Iterator[Row]:
    for count, row in enumerate(rows, start=1):
        yield row
        if count % CHECKED_AT_ONCE == 0:
            pause()


def _lines_of(copy: Path) -> list[tuple[object, ...]] | None:
    """The list of jobs in a copy; None where the copy cannot be read and another must be made."""
    with contextlib.suppress(sqlite3.Error, UnicodeDecodeError):
        uri = f"{copy.absolute().as_uri()}?mode=ro&immutable=1"
        with contextlib.closing(sqlite3.connect(uri, uri=True)) as kept:
            return kept.execute(_LINES).fetchall()
    return None


def _make_room(source: sqlite3.Connection, book: Path) -> None:
    """Delete older copies where the next one would not fit. Refused where it does not fit even then."""
    (pages,), (page_size,) = (source.execute(f"PRAGMA {what}").fetchone() for what in ("page_count", "page_size"))
    needed = pages * page_size
    _rotate(book, needed)
    disk = disk_usage(copies_folder(book))
    if disk.free < needed + min(LEFT_FREE, disk.total // 20):
        raise NoRoomError(
            f"{book}: no room for another copy of {needed / 1e6:.0f} MB; free some space. "
            "What is stated is still kept twice, in the book and in the tail beside it"
        )


def _rotate(book: Path, coming: int = 0) -> None:
    """Keep the newest copies and the last of each day for a week, as far as there is room. Always keep the newest.

    `coming` is how many bytes another copy will take.
    """
    copies = copies_of(book)
    last_of_day: dict[str, Path] = {}
    for copy in copies:
        last_of_day.setdefault(copy.name.partition("-")[2][:8], copy)
    wanted = dict.fromkeys([*copies[:2], *list(last_of_day.values())[:DAYS_KEPT], *copies[:NEWEST_KEPT]])
    sizes = {copy: _size(copy) for copy in copies}
    room = min(BYTES_KEPT, int(SHARE_OF_DISK * (disk_usage(copies_folder(book)).free + sum(sizes.values())))) - coming
    kept = set(copies[:1])
    for copy in wanted:
        if copy in kept or sum(sizes[each] for each in kept) + sizes[copy] <= room:
            kept.add(copy)
    for copy in copies:
        if copy not in kept:
            with contextlib.suppress(OSError):
                copy.unlink()


def _size(copy: Path) -> int:
    try:
        return copy.stat().st_size
    except OSError:
        return 0


def _rows_of(content: bytes) -> Iterator[Row]:
    for line in content.split(b"\n"):
        try:
            values: Sequence[object] = json.loads(line)
            row = Row(*values)  # type: ignore[arg-type]
        except (ValueError, TypeError):
            continue  # a crash cut this line off, or something overwrote it
        if isinstance(row.number, int):
            yield row
