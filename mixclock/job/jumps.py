"""A temperature that jumped: somebody moved a probe, left out a letter, or opened a door.

The reading counts at once. A question stands beside it until a second reading or a withdrawal answers it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta

from mixclock.job.progress import Standing
from mixclock.job.readings import Readings, Sample
from mixclock.values import dataclass, replace

JUMP_K = 15.0
JUMP_WITHIN = timedelta(hours=2)
"""Within this time, neither a slab nor the air of a closed hall moves further than this (judgement)."""


@dataclass(frozen=True)
class Jump:
    """One reading that lies far from the one before it. It is `alone` if a later one went back to the old value."""

    what: str
    before: Sample
    after: Sample
    alone: bool = False


def jumps(samples: Sequence[Sample], what: str) -> tuple[Jump, ...]:
    """The jumps that nobody has answered yet, place by place. A second reading near the one that jumped answers it.

    >>> from datetime import UTC, datetime
    >>> at = [datetime(2026, 5, 4, 10, minute, tzinfo=UTC) for minute in (0, 20, 25)]
    >>> far = [Sample(then, value) for then, value in zip(at, (15.0, 35.0, 34.0), strict=True)]
    >>> len(jumps(far[:2], "slab")), len(jumps(far, "slab"))
    (1, 0)
    """
    places = {sample.area for sample in samples}
    found = [
        jump for place in places for jump in _unanswered([sample for sample in samples if sample.area == place], what)
    ]
    return tuple(sorted(found, key=lambda jump: jump.after.at))


def _unanswered(samples: Sequence[Sample], what: str) -> Iterator[Jump]:
    """The open jump, if any. A reading is believed until the next one. After a jump, the next reading tells which of
    the two was right."""
    believed: Sample | None = None
    asked: Jump | None = None
    for sample in samples:
        if asked is not None:
            back, on = (abs(sample.value - each.value) for each in (asked.before, asked.after))
            if on < back and on <= JUMP_K:
                asked, believed = None, sample
                continue
            yield replace(asked, alone=back <= JUMP_K)
            believed, asked = (asked.before if back > JUMP_K else sample), None
        if believed is not None and _jumped(believed, sample):
            asked = Jump(what, believed, sample)
        else:
            believed = sample
    if asked is not None:
        yield asked


def _jumped(before: Sample, after: Sample) -> bool:
    return after.at - before.at <= JUMP_WITHIN and abs(after.value - before.value) > JUMP_K


def open_jumps(standing: Standing) -> tuple[Jump, ...]:
    """Every unanswered question about a jump of the slab's or the air's temperature on a job."""
    return (*jumps(standing.readings.slab(None), "slab"), *jumps(standing.readings.air(None), "air"))


def worst_read(readings: Readings, area: str | None = None) -> tuple[tuple[Sample, ...], tuple[Sample, ...]]:
    """The air and the slab as the dew margin goes by them: the warmer air and the colder slab where one is in doubt."""
    return at_worst(readings.air(area), colder=False), at_worst(readings.slab(area), colder=True)


def at_worst(samples: Sequence[Sample], colder: bool) -> tuple[Sample, ...]:
    """The readings for the dew margin: while a jump is unanswered, the colder or the warmer of the two counts.

    >>> from datetime import UTC, datetime
    >>> at = [datetime(2026, 5, 4, 10, minute, tzinfo=UTC) for minute in (0, 20, 25)]
    >>> far = [Sample(then, value) for then, value in zip(at, (15.0, 35.0, 34.0), strict=True)]
    >>> [[each.value for each in at_worst(read, colder=True)] for read in (far[:2], far)]
    [[15.0, 15.0], [15.0, 35.0, 34.0]]
    """
    pick = min if colder else max
    worst = {id(jump.after): pick(jump.before.value, jump.after.value) for jump in jumps(samples, "")}
    return tuple(replace(each, value=worst[id(each)]) if id(each) in worst else each for each in samples)


def both_ways(samples: Sequence[Sample]) -> tuple[tuple[Sample, ...], ...]:
    """The readings if the jump is an error, and the readings if the one before it is; nothing if nothing jumped."""
    asked = jumps(samples, "")
    if not asked:
        return ()
    wrong = {id(jump.after) for jump in asked}
    early = {id(jump.before): jump.after.value for jump in asked}
    without = tuple(sample for sample in samples if id(sample) not in wrong)
    moved = tuple(replace(sample, value=early.get(id(sample), sample.value)) for sample in samples)
    return without, moved
