"""Tells whose batches this laptop calls out: its own book's, and those of a lost laptop whose place it took."""

from __future__ import annotations

from collections.abc import Sequence

from mixclock.job.entry import Entry
from mixclock.job.naming import one_of
from mixclock.job.progress import Standing
from mixclock.job.saying import CannotTellError
from mixclock.outside.book import Book
from mixclock.outside.bookerrors import refuse_for_reading
from mixclock.values import replace


def with_calls(book: Book, standing: Standing) -> Standing:
    """The job, with a note of the batches that are called out here if other books share it."""
    if all(batch.origin is None for batch in standing.batches):
        return standing
    return replace(standing, also_called=frozenset(book.called_here()))


def take_over(book: Book, entries: Sequence[Entry], van: str | None) -> list[str]:
    """Call out here the batches of a lost laptop, or of all others. Gives the names of those laptops."""
    job = entries[0].job
    refuse_for_reading(job, book.is_for_reading(job))
    others = {entry.origin.book: entry.origin.van for entry in entries if entry.origin is not None}
    if not others:
        raise CannotTellError("all of this job was stated in this book; there is nothing to take over")
    meant = one_of(van, others.values(), "van") if van is not None else None
    found = {book_id: name for book_id, name in others.items() if meant in (None, name)}
    kept = book.called_here()
    book.drawers.keep("settings", "called here", list(dict.fromkeys([*kept, *found])))
    return list(dict.fromkeys(found.values()))
