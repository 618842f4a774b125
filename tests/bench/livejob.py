"""A job with as many live batches and entries as are asked for, in a book on the disk: made up, one bay for each."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from mixclock.job.drafts import Draft
from mixclock.job.entry import (
    KINDS,
    Combined,
    Delivered,
    Did,
    Entry,
    Facts,
    JobStarted,
    Poured,
    ProfileUsed,
    Raised,
    Reading,
)
from mixclock.outside.book import Book
from mixclock.outside.clock import FakeClock
from mixclock.outside.profilefiles import find

PRODUCT = "Slow epoxy base"
NOON = datetime(2026, 4, 14, 11, 0, tzinfo=UTC)
BEGUN_WITHIN = timedelta(minutes=12)
"""The buckets that live were mixed within so long before now: all of them are still to be poured out."""

FINISHED = timedelta(hours=9)
BEGINS = NOON - FINISHED - timedelta(hours=1)


def job_text(bays: int) -> str:
    """A hall of bays, each beside the next, for a mixer and a roller."""
    areas = "".join(f'[[areas]]\nname = "bay {bay}"\nsize = "9 m2"\n' for bay in range(1, bays + 1))
    return (
        f'name = "Boat hall"\nzone = "Europe/Lisbon"\n{areas}[[crew]]\nname = "mixer"\n[[crew]]\nname = "roller"\n'
        f'[[coats]]\nname = "base"\nproduct = "{PRODUCT}"\nwet_film = "300 um"\n'
    )


def make_live_job(path: Path, live: int, entries: int = 0, finished: int = 0, clock: FakeClock | None = None) -> Book:
    """A book with one job: so many live batches now, so many that were laid this morning, entries to fill it up."""
    clock = clock or FakeClock(BEGINS)
    now = NOON
    book = Book(path, clock)
    steps = sorted(_steps(live, finished, now), key=lambda step: step[0])
    book.append_within("Boat hall", lambda _: [Draft(JobStarted("Boat hall", job_text(live + finished))),
                                               Draft(ProfileUsed(PRODUCT, find(PRODUCT).text))])  # fmt: skip
    _fill(book, max(1, live), max(0, entries - len(steps) - 2) // 3)
    for at, facts in steps:
        clock.set(max(clock.now(), at))
        _write(book, [Draft(facts)])
    clock.set(now)
    return book


def _fill(book: Book, batches: int, rest: int) -> None:
    """What was called out before, and what became of it."""
    due = (NOON - timedelta(minutes=30)).isoformat()
    for first in range(0, rest, 100):
        numbers = [1 + each % batches for each in range(first, min(rest, first + 100))]
        told = [Raised(f"b{batch}.mixing", "step", "timely", "Scrape the sides.", due, batch) for batch in numbers]
        raised = _write(book, [Draft(facts) for facts in told])
        channels = ("desktop", "sound")
        _write(book, [Draft(Delivered(one.number, name, "sent", shown=True)) for one in raised for name in channels])


def _write(book: Book, drafts: list[Draft]) -> tuple[Entry, ...]:
    return book.append_within("Boat hall", lambda _: drafts, skip=KINDS)


def _steps(live: int, finished: int, now: datetime) -> Iterator[tuple[datetime, Facts]]:
    for number in range(12):
        yield (
            now - FINISHED + timedelta(minutes=45 * number),
            Reading(air_c=19.0, rh_pct=55.0, slab_c=16.0 + number / 10),
        )
    for batch in range(1, finished + 1):
        at = now - FINISHED + timedelta(seconds=batch * 4 * 3600 / finished)
        yield at, Combined(PRODUCT, (f"bay {live + batch}",), "base", volume_l=4.0, material_c=19.0)
        yield at + timedelta(minutes=8), Poured(batch)
        yield at + timedelta(minutes=14), Did("back-roll", batch)
    for batch in range(1, live + 1):
        at = now - BEGUN_WITHIN * (1 - (batch - 1) / live)
        yield at, Combined(PRODUCT, (f"bay {batch}",), "base", volume_l=4.0 + batch % 7 / 10, material_c=19.0)


def make_job_of_now(path: Path, live: int, now: datetime) -> None:
    """The same by the machine's own clock: so many buckets whose steps of mixing and pour-outs fall due from now on."""
    from mixclock.outside.clock import SystemClock

    with Book(path, SystemClock()) as book:
        start = now - timedelta(hours=1)
        first = [JobStarted("Boat hall", job_text(live)), ProfileUsed(PRODUCT, find(PRODUCT).text),
                 Reading(air_c=19.0, rh_pct=55.0, slab_c=16.0)]  # fmt: skip
        _write(book, [Draft(facts, start) for facts in first])
        begun = [now - BEGUN_WITHIN * (1 - (batch - 1) / live) for batch in range(1, live + 1)]
        mixed = [Combined(PRODUCT, (f"bay {batch}",), "base", volume_l=4.0 + batch % 7 / 10, material_c=19.0)
                 for batch in range(1, live + 1)]  # fmt: skip
        _write(book, [Draft(facts, at) for facts, at in zip(mixed, begun, strict=True)])
