"""Tells how fast a crew was on its past jobs, and lets a person drop one of those."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from mixclock.decide.kitshapes import AS_STATED, DayPace
from mixclock.decide.plan.days.asitwent import PastPace, believed, crew_of_names, past_pace
from mixclock.job.dayentries import PaceDropped
from mixclock.job.drafts import Draft
from mixclock.job.entry import TOLD_BY_MACHINE
from mixclock.job.folding import fold
from mixclock.job.naming import one_of
from mixclock.job.progress import Standing
from mixclock.job.saying import CannotTellError
from mixclock.outside.book import Book
from mixclock.outside.bookerrors import BookError

PAST_JOBS = 5
"""So many of the last jobs tell how fast a crew is."""


def past_paces(book: Book, standing: Standing) -> list[PastPace]:
    """The paces of a job's crew on its last finished jobs, the oldest first. Empty where the job names nobody."""
    names = crew_of_names(standing)
    jobs = [line.name for line in book.all_jobs() if line.finished is not None and line.name != standing.job]
    found = []
    for name in jobs[-PAST_JOBS:] if names else ():
        past = fold(name, book.entries(name, skip=TOLD_BY_MACHINE))
        told = past_pace(past) if crew_of_names(past) == names else None
        if told is not None:
            found.append(told)
    return found


def past_pace_of(book: Book, standing: Standing) -> DayPace:
    """What those jobs amount to."""
    return believed(past_paces(book, standing))


def past_pace_if_readable(book: Book, standing: Standing) -> DayPace:
    """The same for a watch: while nobody can read the book, a crew counts as stated, and its calls go on."""
    try:
        return past_pace_of(book, standing)
    except BookError:
        return AS_STATED


def drop_pace(book: Book, standing: Standing, job: str | None, by: str | None) -> list[PastPace]:
    """Ignore from now on what one past job, or every one, told of this crew. Gives what is dropped.

    The past job's log notes it, so that another book that imports the job knows it too.
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
