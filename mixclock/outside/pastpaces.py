"""How fast a crew was on its past jobs, as the book holds it, and what somebody dropped of that."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from mixclock.decide.plan.days.asitwent import PastPace, crew_of_names, past_pace
from mixclock.job.dayentries import PaceDropped
from mixclock.job.drafts import Draft
from mixclock.job.entry import TOLD_BY_MACHINE
from mixclock.job.folding import fold
from mixclock.job.naming import one_of
from mixclock.job.progress import Standing
from mixclock.job.saying import CannotTellError
from mixclock.outside.book import Book

PAST_JOBS = 5
"""So many of the last jobs tell how fast a crew is."""


def past_paces(book: Book, standing: Standing) -> list[PastPace]:
    """What the last finished jobs tell of the crew of a job, the oldest first; nothing where nobody is named."""
    names = crew_of_names(standing)
    jobs = [line.name for line in book.all_jobs() if line.finished is not None and line.name != standing.job]
    found = []
    for name in jobs[-PAST_JOBS:] if names else ():
        past = fold(name, book.entries(name, skip=TOLD_BY_MACHINE))
        told = past_pace(past) if crew_of_names(past) == names else None
        if told is not None:
            found.append(told)
    return found


def drop_pace(book: Book, standing: Standing, job: str | None, by: str | None) -> list[PastPace]:
    """Go no more by what one past job told of this crew, or by what all did; gives what is dropped.

    It is written into the log of that job, so that a book that takes the job in knows it too.
    """
    held = [each for each in past_paces(book, standing) if not each.dropped]
    if not held:
        raise CannotTellError("no past job tells how fast this crew is, so there is nothing to drop")
    meant = one_of(job, [each.job for each in held], "job that tells how fast this crew is") if job else None
    gone = [each for each in held if meant is None or each.job == meant]
    for each in gone:
        book.append_within(each.job, _always((Draft(PaceDropped(), by=by),)))
    return gone


def _always(drafts: Sequence[Draft]) -> Callable[[object], Sequence[Draft]]:
    return lambda _: drafts
