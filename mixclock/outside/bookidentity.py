"""Which book this is, for others: a name that nobody else has drawn, and what a person calls it."""

from __future__ import annotations

import secrets

from mixclock.job.saying import CannotTellError
from mixclock.job.saying import text as plain_text
from mixclock.outside.book import Book
from mixclock.values import dataclass

_KEY = "this book"
_LONGEST_NAME = 40


@dataclass(frozen=True)
class BookIdentity:
    """What tells this book from every other. `name` is what a person calls it, such as "van 2"."""

    id: str
    name: str
    named: bool


def identity_of(book: Book) -> BookIdentity:
    """Who this book is. The id is drawn by lot the first time that anybody asks."""
    kept = book.drawers.kept("settings", _KEY)
    if not isinstance(kept, dict) or "id" not in kept:
        kept = {"id": secrets.token_hex(6), "name": None}
        book.drawers.keep("settings", _KEY, kept)
    name = kept.get("name")
    return BookIdentity(kept["id"], name or f"book {kept['id'][:4]}", named=bool(name))


def name_book(book: Book, name: str) -> BookIdentity:
    """Call this book so from now on, in what is exported."""
    said = plain_text(name, "the name")
    if len(said) > _LONGEST_NAME:
        raise CannotTellError(f"the name is {len(said)} letters long; {_LONGEST_NAME} is the most")
    book.drawers.keep("settings", _KEY, {"id": identity_of(book).id, "name": said})
    return identity_of(book)


def draw_anew(book: Book) -> None:
    """Draw a new id. A book that went back to a copy hands out numbers again, so it must count as another book."""
    kept = identity_of(book)
    name = kept.name if kept.named else None
    book.drawers.keep("settings", _KEY, {"id": secrets.token_hex(6), "name": name})
