"""Lists the jobs of the book for a person to choose from, and tells what a job still lacks."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any
from zoneinfo import ZoneInfo

from mixclock.job.instants import utc_text
from mixclock.job.mistakes import Mistakes
from mixclock.job.practice import usual_spread
from mixclock.job.site import Site
from mixclock.job.sitereading import read_site
from mixclock.outside.book import Book
from mixclock.outside.bookerrors import refuse_for_reading
from mixclock.outside.profilefiles import ProfileFileError, find
from mixclock.outside.whichjob import job_named

UTC = ZoneInfo("UTC")
"""The clock of a job whose line is damaged."""

_ZONE = re.compile(r"""^\s*zone\s*=\s*(["'])(.+?)\1""", re.MULTILINE)


def listed_jobs(book: Book) -> list[dict[str, Any]]:
    """Every job of the book, the one started last at the end."""
    in_use, walls = book.current_job(), walls_of_jobs(book)
    return [
        {
            "name": line.name,
            "started": utc_text(line.started),
            "finished": utc_text(line.finished) if line.finished else None,
            "entries": line.entries,
            "in_use": line.name == in_use,
            "zone": walls.get(line.name, UTC).key,
            "for_reading": not line.own and book.is_for_reading(line.name),
        }
        for line in book.all_jobs()
    ]


def walls_of_jobs(book: Book) -> Mapping[str, ZoneInfo]:
    """The zone in which each job's clocks run, so that its days are told by them. It reads only a line a job."""
    return {job: _wall(text) for job, text in book.job_files().items()}


def _wall(text: str) -> ZoneInfo:
    found = _ZONE.search(text)
    try:
        return ZoneInfo(found[2]) if found else UTC
    except (KeyError, ValueError, OSError):  # a damaged line must not hide a job
        return UTC


def use_job(book: Book, name: str) -> str:
    """Use a job from now on. Case does not count in its name; an unknown name is refused.

    A copy for reading is refused too, because the next statement would go to it.
    """
    found = job_named(book, name)
    refuse_for_reading(found, book.is_for_reading(found))
    book.use(found)
    return found


def needs_film(product: str) -> bool:
    """Whether only the job file can tell how far a product goes. An unreadable sheet counts as not telling it."""
    try:
        return usual_spread(find(product).profile) is None
    except ProfileFileError:
        return True


def checked_site(text: str, file: str) -> Site:
    """The job of a file's text; raises `ProfileFileError` with every mistake at once, each with the file's name."""
    try:
        return read_site(text, needs_film=needs_film)
    except Mistakes as mistakes:
        raise ProfileFileError(*mistakes.lines(file)) from mistakes


def products_missing(products: Iterable[str]) -> list[str]:
    """One line for each product that has no profile yet, or one with mistakes."""
    lines: list[str] = []
    for product in dict.fromkeys(products):
        try:
            find(product)
        except ProfileFileError as error:
            lines += error.lines
    return lines
