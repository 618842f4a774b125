"""What lies where: a coat on an area in its portions, and what the record holds of one quantity of it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta
from functools import cached_property

from mixclock.decide.slabdoubt import STALE_AFTER
from mixclock.job.progress import Batch, Portion
from mixclock.job.readings import Sample
from mixclock.job.ticks import Tick
from mixclock.values import dataclass, replace


@dataclass(frozen=True)
class Value:
    """One quantity as the record holds it. `gap` names the part of it that nobody recorded.

    `limit` and `sigma` replace the gauge's own if the product or the statement gives better ones. `unshared_sigma` is
    the part of the doubt that other areas of the same day do not share. `called` is when mixclock called for the step,
    and `by_sheet` is when its window likely closed.
    """

    value: float | str
    limit: float | None = None
    limit_source: str | None = None
    sigma: float | None = None
    unshared_sigma: float | None = None
    at: datetime | None = None
    batch: int | None = None
    told: str = ""
    gap: Gap | None = None
    holds_elsewhere: bool = False
    called: datetime | None = None
    by_sheet: datetime | None = None
    window: str | None = None


@dataclass(frozen=True)
class Gap:
    """A fact that nobody recorded, and how to find it out now. `tick` is set if a person can tick it.

    Gaps on one `topic` are asked for once.
    """

    what: str
    find_out: str
    tick: Tick | None = None
    topic: str = ""


Fact = Value | Gap | None
"""What the record holds of a quantity; None if it does not apply here."""


@dataclass(frozen=True)
class LayerPiece:
    """One portion of a batch on an area; `portion` is None while no pour was stated or implied."""

    batch: Batch
    portion: Portion | None

    @property
    def poured(self) -> datetime | None:
        """When it was poured, if somebody stated it."""
        return self.portion.poured.at if self.portion and not self.portion.assumed else None

    @property
    def since(self) -> datetime:
        """When it came onto the floor, as far as is known."""
        return self.portion.poured.at if self.portion else self.batch.mixing_ended


@dataclass(frozen=True)
class Layer:
    """One coat on one area."""

    area: str
    coat: str
    pieces: tuple[LayerPiece, ...]

    @cached_property
    def first(self) -> datetime:
        """When the first of it came onto the floor."""
        return min(piece.since for piece in self.pieces)

    @cached_property
    def last(self) -> datetime:
        """When the last of it came onto the floor."""
        return max(piece.since for piece in self.pieces)

    @cached_property
    def volume_l(self) -> float:
        """How much of it went onto the floor, as far as is known."""
        return sum(piece.portion.volume_l for piece in self.pieces if piece.portion)

    @cached_property
    def batches(self) -> tuple[Batch, ...]:
        """Its batches, each once."""
        return tuple({piece.batch.id: piece.batch for piece in self.pieces}.values())


@dataclass(frozen=True)
class Series:
    """Readings of one quantity at one place, in order."""

    samples: tuple[Sample, ...]

    @cached_property
    def times(self) -> tuple[datetime, ...]:
        """When they were taken."""
        return tuple(sample.at for sample in self.samples)

    def around(self, at: datetime) -> tuple[Sample | None, Sample | None]:
        """The last reading up to an instant and the first from it on."""
        after = bisect_left(self.times, at)
        upto = bisect_right(self.times, at)
        return (
            self.samples[upto - 1] if upto else None,
            self.samples[after] if after < len(self.samples) else None,
        )

    @cached_property
    def vouched(self) -> tuple[tuple[datetime, ...], tuple[datetime, ...]]:
        """Beginnings and ends of the spans that readings vouch for. Two readings at most four hours apart vouch for the
        time between them. Each vouches for half an hour around itself."""
        begins: list[datetime] = []
        ends: list[datetime] = []
        reach = STALE_AFTER / 4
        for place, at in enumerate(self.times):
            if place and at - self.times[place - 1] <= 2 * STALE_AFTER:
                ends[-1] = at + reach
            else:
                begins.append(at - reach)
                ends.append(at + reach)
        return tuple(begins), tuple(ends)

    def vouches_for(self, at: datetime) -> bool:
        """Whether readings vouch for an instant: one within two hours on each side, or one within half an hour."""
        begins, ends = self.vouched
        place = bisect_right(begins, at) - 1
        return place >= 0 and at <= ends[place]

    def vouched_places(self, start: datetime, step: timedelta, count: int) -> set[int]:
        """Which of so many instants that lie a step apart readings vouch for: what `vouches_for` says of each."""
        begins, ends = self.vouched
        found: set[int] = set()
        first, last = bisect_left(ends, start), bisect_right(begins, start + step * (count - 1))
        for begin, end in zip(begins[first:last], ends[first:last], strict=True):
            found.update(range(max(0, -((start - begin) // step)), min(count, (end - start) // step + 1)))
        return found

    def within(self, start: datetime, until: datetime) -> tuple[datetime, ...]:
        """The times of the readings between two instants."""
        return self.times[bisect_left(self.times, start) : bisect_right(self.times, until)]

    def nearest(self, at: datetime) -> Sample | None:
        """The reading nearest to an instant."""
        known = [sample for sample in self.around(at) if sample is not None]
        return min(known, key=lambda sample: abs(sample.at - at), default=None)


def worst(values: Sequence[Fact], key: int) -> Fact:
    """The worst of several pieces. `key` is +1 if more is worse. What one piece lacks stays as a gap."""
    known = [value for value in values if isinstance(value, Value)]
    missing = next((value for value in values if isinstance(value, Gap)), None)
    if not known:
        return missing
    found = max(known, key=lambda value: key * value.value if isinstance(value.value, float) else 0.0)
    if missing is not None and found.gap is None:
        return replace(found, gap=missing)
    return found
