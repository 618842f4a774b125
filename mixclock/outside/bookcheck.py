"""Whether the book still says what was written: every row's content against its hash and the row before.

SQLite's own integrity check looks at the tree of pages, not at what the rows say; of 1,000 flipped bits it saw about a
quarter, a hash in each row saw the rest.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from mixclock.job.entry import Delivered, Entry, JobStarted, PhotoTaken, Withdrawn
from mixclock.job.folding import fold
from mixclock.job.mistakes import first_line, quoted
from mixclock.job.progress import Standing
from mixclock.outside.book import Book
from mixclock.outside.bookcopies import copies_of
from mixclock.outside.bookerrors import said_plainly
from mixclock.outside.bookreading import all_rows, broken_rows, file_damage
from mixclock.outside.bookrows import Row
from mixclock.outside.foldedlogs import forget_long_log
from mixclock.values import dataclass


def _broken_pictures(book: Book) -> Iterator[str]:
    for picture in book.drawers.pictures():
        if not picture.whole:
            yield f"{book.path}: the picture {picture.sha256[:12]} is not what was put in"


def _missing_pictures(book: Book, entries: Iterable[Entry]) -> Iterator[str]:
    """Photos that were stated, and whose small copies are not in the book: a damaged one stays behind in an export."""
    for entry in entries:
        facts = entry.facts
        if isinstance(facts, PhotoTaken) and book.drawers.picture(facts.sha256) is None:
            van = entry.origin.van if entry.origin is not None else None
            mend = f"take in {van}'s export again, or state" if van else "restore a copy of the book, or state"
            yield f"entry {entry.number}: the picture {quoted(facts.name)} is missing; {mend} `photo` with its file"


@dataclass(frozen=True)
class BookCheck:
    """What a check of the whole book found, each wrong thing in one line."""

    entries: int
    wrong: tuple[str, ...]
    copies: int


def broken(book: Book, rows: Iterable[Row]) -> list[str]:
    """What is not as it was written: the file's own integrity, every row against its hash, every picture."""
    damage = file_damage(book.connection.own())
    lines = [f"{book.path}: the file is damaged: {damage}"] if damage else []
    lines += [f"entry {number} {wrong}" for number, wrong in broken_rows(rows)]
    return [*lines, *_broken_pictures(book)]


def checked(book: Book) -> BookCheck:
    """What is not as it was written, and entries that contradict each other."""
    with said_plainly(book.path):
        jobs = Counter[str]()  # in the order in which they begin
        wrong = broken(book, _counted(all_rows(book.connection.own()), jobs))
    for job in jobs:
        if wrong:
            forget_long_log(book.path, job)
        wrong += [f"job '{job}': {line}" for line in _contradictions(book, job)]
    return BookCheck(jobs.total(), tuple(wrong), len(copies_of(book.path)))


def _counted(rows: Iterable[Row], jobs: Counter[str]) -> Iterator[Row]:
    """The rows, one after the other: all of a long book at once would fill a small laptop's memory."""
    for row in rows:
        jobs[str(row.job)] += 1
        yield row


def _contradictions(book: Book, job: str) -> Iterator[str]:
    """Entries that cannot all be true: a step before its batch, a pour of what is gone, a name of nothing."""
    entries = book.entries(job)
    if not entries or not isinstance(entries[0].facts, JobStarted):
        yield "its log does not begin with the start of a job"
        return
    known = {entry.number for entry in entries}
    for entry in entries:
        facts = entry.facts
        named = facts.entry if isinstance(facts, Withdrawn) else facts.raised if isinstance(facts, Delivered) else None
        if named is not None and (named not in known or named >= entry.number):
            yield f"entry {entry.number} ({facts.kind}) names entry {named}, which is none before it"
    try:
        standing = fold(job, entries)
    except ValueError as error:
        yield f"it cannot be worked out ({first_line(error)})"
        return
    if not book.is_for_reading(job):  # such a copy goes without photos
        yield from _missing_pictures(book, [entry for entry in entries if entry.number not in standing.withdrawn])
    yield from _impossible_steps(standing)


def _impossible_steps(standing: Standing) -> Iterator[str]:
    write = standing.site.units.write_volume
    for batch in standing.batches:
        for portion in batch.portions:
            if portion.poured.at < batch.combined.at:
                yield f"batch {batch.id} is poured before part B met part A (entry {portion.poured.entry})"
            early = [name for (name, _), step in portion.steps.items() if step.at < portion.poured.at]
            for name in dict.fromkeys(early):
                yield f"batch {batch.id}: {name} is stated earlier than its pour"
        poured_l = sum(portion.volume_l for portion in batch.portions)
        if batch.volume_l and poured_l > 1.05 * batch.volume_l:
            yield f"batch {batch.id}: {write(poured_l)} were poured of {write(batch.volume_l)}"
