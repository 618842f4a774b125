"""Keeps what each job of the book says about recurring faults, so that no question reads a long book again."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from typing import Any, Final

from mixclock import __version__
from mixclock.decide.why.acrossjobs import JobLookedAt
from mixclock.job.entry import Entry
from mixclock.outside.book import Book, JobLine
from mixclock.outside.bookerrors import BookError
from mixclock.outside.bookidentity import identity_of
from mixclock.outside.bookrows import FOR_READING, reading_mark
from mixclock.values import dataclass

LOOK_FOR_S: Final = 4.0
"""So long one question looks at jobs that nobody looked at before, the newest first (judgement)."""

_AT_LEAST: Final = 8
_KEY: Final = "\x1flooked at:"
_KEPT_AS: Final = 1


@dataclass(frozen=True)
class LookAcross:
    """The jobs that were looked at, and how many the book has."""

    jobs: tuple[JobLookedAt, ...]
    of: int
    copies: int

    @property
    def line(self) -> str:
        """What was looked at, in words; empty where that was everything."""
        parts = []
        if len(self.jobs) < self.of:
            parts.append(
                f"Looked at the {len(self.jobs)} newest of {self.of} jobs; ask again to look at more, or --everything"
            )
        if self.copies:
            parts.append(f"{self.copies} copies of other jobs are left out")
        return ". ".join(parts) + ("." if parts else "")


def look_across(book: Book, look: Callable[[str], JobLookedAt], everything: bool = False) -> LookAcross:
    """Look at the jobs of the book. Known ones come from what is kept, the others are read while there is time."""
    begun_s = book.clock.monotonic_s()
    found: list[JobLookedAt] = []
    fresh: dict[str, Any] = {}
    marks: set[str] = set()
    copies = 0
    lines = book.all_jobs()
    firsts = {line.name: first for line in lines if (first := book.first(line.name)) is not None}
    of_copies = _signs_in_copies(book, firsts)
    for line in reversed(lines):
        first = firsts.get(line.name)
        if first is None or (first.mark in marks and first.mark) or first.mark in of_copies:
            copies += 1
            continue
        marks.add(first.mark)
        job = _kept(book, line)
        in_time = everything or len(fresh) < _AT_LEAST or book.clock.monotonic_s() - begun_s < LOOK_FOR_S
        if job is None and in_time:
            # a job whose log is damaged says nothing here; `book check` names it
            with suppress(BookError, ValueError):
                job = look(line.name)
                fresh[f"{_KEY}{line.name}"] = _stored(job, line)
        if job is not None:
            found.append(job)
    with suppress(BookError):
        for key, kept in fresh.items():
            book.drawers.keep("lessons", key, kept)
    return LookAcross(tuple(found), len(lines) - copies, copies)


def _signs_in_copies(book: Book, firsts: Mapping[str, Entry]) -> frozenset[str]:
    """The marks with which copies without names begin, for each job that this book holds whole."""
    if all(first.origin is None or first.origin.book != FOR_READING for first in firsts.values()):
        return frozenset()
    own = identity_of(book).id
    begun = ((first.origin.book if first.origin is not None else own, first.mark) for first in firsts.values())
    return frozenset(reading_mark(where, mark) for where, mark in begun if where != FOR_READING)


def _rests_on(line: JobLine) -> list[object]:
    return [__version__, _KEPT_AS, line.entries]


def _stored(job: JobLookedAt, line: JobLine) -> dict[str, Any]:
    return {"rests_on": _rests_on(line), "layings": job.layings, "rolled": job.rolled, "stated": job.stated_m2_h}


def _kept(book: Book, line: JobLine) -> JobLookedAt | None:
    with suppress(BookError, ValueError, KeyError, TypeError):
        kept = book.drawers.kept("lessons", f"{_KEY}{line.name}")
        if kept is not None and kept["rests_on"] == _rests_on(line):
            layings = tuple((tuple(map(_pair, features)), bool(failed)) for features, failed in kept["layings"])
            return JobLookedAt(layings, tuple(map(_pair, kept["rolled"])), tuple(map(_pair, kept["stated"])))
    return None


def _pair(pair: Sequence[Any]) -> tuple[Any, Any]:
    one, other = pair
    return one, other
