"""Prints how often the sentence of `why` names what was planted: `python tests/decide/why/confusion.py [SEED] [EACH]`.

The generator shares its clocks and limits with the diagnosis: a regression, not a proof. Results: `results.md` beside.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.why import Case, Diagnosis, diagnose
from mixclock.job.folding import fold
from mixclock.words.whytext import why_lines
from tests.decide.why.planted import PLANTS, STRENGTHS, TIES, Planted, healthy_job, plant_job, unlisted_job

MODEL = bucket_model()

NAMED_WITHIN = 3
"""A forgotten fact counts as named when it stands in the first so many lines."""


@dataclass
class Row:
    """One line of the table."""

    planted: str
    strength: str
    jobs: int = 0
    first: int = 0
    in_three: int = 0
    not_shown: int = 0
    shown: int = 0
    shown_true: int = 0
    named: int = 0
    instead: Counter[str] = field(default_factory=Counter)


def answer(job: Planted) -> Diagnosis:
    """What why says to a made-up job."""
    standing = fold("pottery", job.entries)
    case = Case(standing, max(entry.happened for entry in job.entries), MODEL)
    return diagnose(case, job.area)


def same(one: str, other: str | None) -> bool:
    """Whether two causes are one, or share the deciding quantity."""
    return one == other or any(one in tie and other in tie for tie in TIES)


def tally(row: Row, job: Planted, facts: tuple[str, ...] = ()) -> Row:
    """Count one answer."""
    told = answer(job)
    names = [suspect.cause.name for suspect in told.named]
    shown = [suspect.cause.name for suspect in told.shown]
    row.jobs += 1
    row.not_shown += not names
    row.shown += bool(shown)
    row.shown_true += bool(shown) and same(shown[0], job.cause)
    row.first += bool(names) and same(names[0], job.cause)
    row.in_three += any(same(name, job.cause) for name in names[:3])
    said = " ".join(why_lines(told)[:NAMED_WITHIN])
    row.named += any(fact in said for fact in facts)
    if names and not same(names[0], job.cause):
        row.instead[names[0]] += 1
    return row


def table(seed: int, each: int) -> Iterator[Row]:
    """The whole table: causes by strength, then nothing planted, then what no table holds, then forgotten facts."""
    for plant in PLANTS:
        for strength in STRENGTHS:
            row = Row(plant.cause, strength)
            for index in range(each):
                tally(row, plant_job(plant, strength, seed + index))
            yield row
    healthy, unlisted = Row("nothing", "-"), Row("not in the table", "-")
    for index in range(each * 6):
        tally(healthy, healthy_job(seed + index))
        tally(unlisted, unlisted_job(seed + index))
    yield healthy
    yield unlisted
    for plant in PLANTS:
        row = Row(plant.cause, "forgotten")
        for index in range(each):
            tally(row, plant_job(plant, "clear", seed + index, forget=True), plant.fact)
        yield row


def share(part: int, whole: int) -> str:
    """A share in percent."""
    return f"{100.0 * part / whole:.0f} %" if whole else "-"


def lines(rows: list[Row]) -> Iterator[str]:
    """The table as text, with its sums."""
    head = f"{'planted':<18} {'strength':<10} {'jobs':>4} {'first':>6} {'in 3':>6}"
    yield f"{head} {'shown':>6} {'nothing':>9} {'named':>6}  instead"
    for row in rows:
        named = share(row.named, row.jobs) if row.strength == "forgotten" else ""
        instead = ", ".join(f"{name} {count}" for name, count in row.instead.most_common(3))
        yield (
            f"{row.planted:<18} {row.strength:<10} {row.jobs:>4} {share(row.first, row.jobs):>6} "
            f"{share(row.in_three, row.jobs):>6} {share(row.shown, row.jobs):>6} "
            f"{share(row.not_shown, row.jobs):>9} {named:>6}  {instead}"
        )
    yield ""
    for title, part, whole in sums(rows):
        yield f"{title}: {part} of {whole} ({share(part, whole)})"


def sums(rows: list[Row]) -> Iterator[tuple[str, int, int]]:
    """What the table must hold."""
    strong = [row for row in rows if row.strength in ("clear", "gross")]
    mild = [row for row in rows if row.strength == "mild"]
    plain = [row for row in rows if row.strength == "-"]
    forgotten = [row for row in rows if row.strength == "forgotten"]
    told = [row for row in rows if row.strength != "-"]
    yield "of all that is shown, true", sum(r.shown_true for r in rows), sum(r.shown for r in rows)
    yield "shown where a cause was planted", sum(r.shown for r in told), sum(r.jobs for r in told)
    yield (
        "planted cause first in the sentence, clear and gross",
        sum(r.first for r in strong),
        sum(r.jobs for r in strong),
    )
    yield "planted cause in the sentence, mild", sum(r.in_three for r in mild), sum(r.jobs for r in mild)
    for row in plain:
        yield f"'shown' with {row.planted}", row.shown, row.jobs
    yield "deciding fact unrecorded and named", sum(r.named for r in forgotten), sum(r.jobs for r in forgotten)


if __name__ == "__main__":
    start = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 10
    print("\n".join(lines(list(table(start, count)))))
