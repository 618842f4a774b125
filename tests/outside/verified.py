"""Whether a book still says what was written, in one line: for tests that break it."""

from __future__ import annotations

from mixclock.outside.book import Book, BookError
from mixclock.outside.bookcheck import checked


def verify(book: Book) -> str | None:
    """The first thing that a whole check finds; None where all is as it was written."""
    try:
        return next(iter(checked(book).wrong), None)
    except BookError as error:
        return str(error)
