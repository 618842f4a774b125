"""Whether a book still holds what was written, whatever it means: for tests that break it."""

from __future__ import annotations

import sqlite3

from mixclock.outside.book import Book, BookError
from mixclock.outside.bookcheck import broken
from mixclock.outside.bookreading import all_rows


def verify(book: Book) -> str | None:
    """The first thing that is not as it was written; None where all is."""
    try:
        return next(iter(broken(book, list(all_rows(book.connection.own())))), None)
    except (BookError, sqlite3.Error) as error:
        return str(error)
