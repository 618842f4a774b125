"""A firm's book of many jobs and years, made up from a seed: for questions and for figures.

    python -m tests.bench.longbook FOLDER [JOBS] [ENTRIES]

Every job is a day of a made-up pottery: readings, buckets, steps that are now and then late, calls and who heard them,
signs and findings. The last job is under way.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from mixclock.job.drafts import Draft
from mixclock.job.entry import (
    Combined,
    Delivered,
    Did,
    Entry,
    FactorUsed,
    Found,
    Heard,
    JobFinished,
    JobStarted,
    Poured,
    ProfileUsed,
    Raised,
    Reading,
    Saw,
)
from mixclock.outside.book import Book
from mixclock.outside.bookrows import COLUMNS, FIRST_HASH, row_of
from mixclock.outside.clock import SystemClock
from mixclock.outside.profilefiles import find

PRODUCTS = ("Slow epoxy base", "Polyaspartic top coat")
CREW = ("mixer", "roller", "second hand", "learner")
LATE_AT = {13: 0.35, 14: 0.3, 15: 0.25}
"""How often a pour is late, by the hour: after the break more often."""

LISBON = ZoneInfo("Europe/Lisbon")
BAYS = 10
FLOOR = """
name = "{name}"
zone = "Europe/Lisbon"
{areas}
[[crew]]
name = "mixer"
does = ["mix", "pour"]
[[crew]]
name = "roller"
does = ["roll"]
roll = "75 m2/h"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "300 um"
[[coats]]
name = "top"
product = "Polyaspartic top coat"
wet_film = "125 um"
after = "base"
"""


@dataclass
class _Day:
    """One job that is being made up."""

    name: str
    begins: datetime
    dice: random.Random
    lot: str

    def drafts(self, entries: int) -> Iterator[Draft]:
        """About so many entries of a day, in their order."""
        areas = "".join(f'[[areas]]\nname = "bay {bay}"\nsize = "11 m2"\n' for bay in range(1, BAYS + 1))
        yield self._at(0, JobStarted(self.name, FLOOR.format(name=self.name, areas=areas)))
        for product in PRODUCTS:
            yield self._at(0, ProfileUsed(product, find(product).text))
        yield self._at(0, FactorUsed(PRODUCTS[0], "tack-free", round(1.0 + 0.2 * self.dice.random(), 3), 0.2, 3))
        yield self._at(1, Reading(air_c=20.0, rh_pct=55.0, slab_c=17.0))
        batches = max(2, min(2 * BAYS, entries // 24))
        made = [draft for number in range(1, batches + 1) for draft in self._batch(number, 20.0 + 24.0 * number)]
        yield from made
        for each in range(max(0, entries - len(made) - 7)):  # the rest are a logger's readings
            at = 20.0 + 24.0 * batches * each / entries
            yield self._at(at, Reading(air_c=19.0 + self.dice.random(), rh_pct=55.0, slab_c=17.0, logger="door"))
        if self.dice.random() < 0.4:
            area = f"bay {self.dice.randint(1, BAYS)}"
            yield self._at(900, Found(area, "dull", None))
        yield self._at(1000, JobFinished())

    def _batch(self, number: int, at: float) -> Iterator[Draft]:
        base = number <= BAYS
        bay = f"bay {(number - 1) % BAYS + 1}"
        product = PRODUCTS[0] if base else PRODUCTS[1]
        who = self.dice.choice(CREW[:2])
        hour = (self.begins + timedelta(minutes=at)).astimezone(LISBON).hour
        late = self.dice.random() < LATE_AT.get(hour, 0.05)
        stand = 14.0 + 8.0 * self.dice.random() if not late else 45.0 + 15.0 * self.dice.random()
        facts = Combined(product, (bay,), "base" if base else "top", volume_l=4.0, lot=self.lot, mixing_s=180.0)
        yield self._at(at, facts, who)
        name = f"b{number}.pour-out"
        due = (self.begins + timedelta(minutes=at + 15)).isoformat()
        calls = ("heads-up", "now", "late", "late") if late else ("heads-up", "now")
        for repeat, stage in enumerate(calls):
            said = Raised(name, stage, "critical", f"Batch {number}: pour it out", due, number)
            yield self._at(at + 5 + 2 * repeat, said)
            for channel in ("desktop", "sound"):
                yield self._at(at + 5 + 2 * repeat, Delivered(-1, channel, "sent"))
        if late:
            yield self._at(at + 15, Heard(), who)
        yield self._at(at + stand, Poured(number, covered_m2=11.0), who)
        yield self._at(at + stand + 6 + 5 * self.dice.random(), Did("back-roll", number), CREW[1])
        if base and number == 1:
            yield self._at(at + stand + 300 * (0.8 + 0.4 * self.dice.random()), Saw("tack free", number))

    def _at(self, minutes: float, facts: object, by: str | None = None) -> Draft:
        return Draft(facts, self.begins + timedelta(minutes=minutes), by)  # type: ignore[arg-type]


def make_long_book(path: Path, jobs: int, entries: int, seed: int = 17, last_live: bool = True) -> int:
    """Make a book of so many jobs and about so many entries; gives how many it became."""
    dice = random.Random(seed)
    book = Book(path, SystemClock())
    connection = book.connection.own()
    connection.execute("BEGIN IMMEDIATE")
    number, before = 0, FIRST_HASH
    places = ", ".join("?" * len(COLUMNS.split(",")))
    for job in range(jobs):
        ago = timedelta(days=round(900 * (jobs - 1 - job) / max(1, jobs - 1)))
        begins = SystemClock().now().replace(hour=5, minute=30, second=0, microsecond=0) - ago - timedelta(days=1)
        day = _Day(f"Pottery {job + 1}", begins, dice, f"L{job // 7}")
        drafts = list(day.drafts(entries // jobs))
        if last_live and job == jobs - 1:
            drafts = [draft for draft in drafts if not isinstance(draft.facts, JobFinished)]
        rows, raised = [], 0
        for draft in drafts:
            number += 1
            facts = draft.facts
            if isinstance(facts, Raised):
                raised = number
            elif isinstance(facts, Delivered):
                facts = facts.but(raised=raised)
            assert draft.happened is not None
            seconds = (draft.happened - begins).total_seconds()
            entry = Entry(
                number, day.name, draft.happened, draft.happened, facts, draft.by, None, f"boot {job}", seconds
            )
            rows.append(row_of(entry, before))
            before = rows[-1].hash
        connection.executemany(f"INSERT INTO entries ({COLUMNS}) VALUES ({places})", [row.values() for row in rows])
    connection.execute("COMMIT")
    book.close()
    return number


def another_reading(path: Path) -> None:
    """One more reading of the last job, now, with values that the book has not held."""
    dice = random.Random()
    with Book(path, SystemClock()) as book:
        job = book.all_jobs()[-1].name
        book.append(job, Reading(air_c=19.0 + dice.random(), rh_pct=55.0, slab_c=17.0 + dice.random(), logger="door"))


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    many = [int(word) for word in sys.argv[2:]] or [2000, 1_000_000]
    print(f"{make_long_book(folder / 'book.sqlite3', many[0], many[1] if len(many) > 1 else 500 * many[0]):,} entries")
