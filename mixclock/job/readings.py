"""Readings through the day, kept per quantity and per place."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta
from functools import cached_property
from typing import Protocol

from mixclock.formulas.past import Notes
from mixclock.job.entry import Entry, Reading
from mixclock.values import dataclass, field


@dataclass(frozen=True)
class Sample:
    """One value at one instant."""

    at: datetime
    value: float
    how: str | None = None
    """How a slab was read, if somebody said so: by contact or infrared."""
    area: str | None = None
    """The place that was read; None if one spot stands for the whole floor."""
    entry: int = field(default=0, compare=False)
    """Its entry in the log; 0 if nobody read it."""
    moved_s: float = field(default=0.0, compare=False)
    """By how much somebody set the wall clock since it was read."""

    @property
    def hour_then(self) -> datetime:
        """The hour of the day at which it was read, by the clock that hung there then."""
        return self.at - timedelta(seconds=self.moved_s)


@dataclass(frozen=True)
class KeptSeries:
    """Which readings of a place are at hand: those from `from_s` on (epoch seconds), or all where it is None."""

    label: str
    from_s: float | None


@dataclass(frozen=True)
class JumpAnswer:
    """A series as one answer to a question of a jump has it (the place of it in `jumps.both_ways`), or as it was read.

    `read` is the series as it was read.
    """

    either: int | None
    read: Sequence[Sample]


class OlderReadings(Protocol):
    """What is known of readings before those that are at hand."""

    @property
    def tail_from(self) -> datetime:
        """From when on every reading of every place is at hand."""

    @property
    def notes(self) -> Notes:
        """What was asked of the others."""

    @property
    def known_from(self) -> dict[str, float | None]:
        """From when on the readings of a series are at hand, by its label."""

    @property
    def whole(self) -> Readings | None:
        """All of them, where they are at hand."""

    def series(self, kept: Readings, what: str, area: str | None, way: JumpAnswer) -> KeptSeries:
        """From when on the readings of a place are at hand."""

    def all_of(self, what: str, area: str | None, way: JumpAnswer) -> tuple[Sequence[Sample], JumpAnswer]:
        """All readings of a place up to the last of these, and as they were read; `ForgottenError` without them."""

    def last_air(self, by: datetime) -> float | None:
        """The last reading of the air up to an instant before those at hand."""


@dataclass(frozen=True)
class Readings:
    """All readings that count, in the order in which they happened."""

    entries: tuple[Entry, ...] = ()
    past: OlderReadings | None = field(default=None, compare=False, repr=False)
    """What is known of older ones, where only the last are at hand."""

    @cached_property
    def own_areas(self) -> frozenset[str]:
        """The areas that have air, humidity or slab readings of their own."""
        return frozenset(reading.area for _, reading in self._readings if reading.area is not None)

    def place(self, area: str | None) -> str | None:
        """A key that areas share if the same readings hold for them. All areas without readings of their own share one.

        >>> Readings().place("bay 3"), Readings().place(None)
        ('', None)
        """
        return area if area is None or area in self.own_areas else ""

    def slab(self, area: str | None) -> tuple[Sample, ...]:
        """Slab temperatures that hold for an area: its own and those of the whole floor."""
        return self._of("slab_c", area)

    def air(self, area: str | None = None) -> tuple[Sample, ...]:
        """Air temperatures that hold for an area."""
        return self._of("air_c", area)

    def humidity(self, area: str | None = None) -> tuple[Sample, ...]:
        """Relative humidities that hold for an area."""
        return self._of("rh_pct", area)

    def last_air(self, by: datetime) -> float | None:
        """The air at its last reading up to an instant; None where there was none."""
        samples = self.air()
        read = bisect_right(samples, by, key=lambda sample: sample.at)
        if self.past is None or by >= self.past.tail_from:
            return samples[read - 1].value if read else None
        return self.past.last_air(by)

    def _of(self, quantity: str, area: str | None) -> tuple[Sample, ...]:
        key = (quantity, self.place(area))
        if key not in self._kept:
            self._kept[key] = tuple(
                Sample(entry.happened, value, reading.how, reading.area, entry.number, entry.moved_s)
                for entry, reading in self._readings
                if (value := getattr(reading, quantity)) is not None and (area is None or reading.area in (None, area))
            )
        return self._kept[key]

    @cached_property
    def _kept(self) -> dict[tuple[str, str | None], tuple[Sample, ...]]:
        return {}

    def bucket(self, batch: int) -> tuple[Sample, ...]:
        """Temperatures read in one bucket."""
        return self._buckets.get(batch, ())

    @cached_property
    def _buckets(self) -> dict[int | None, tuple[Sample, ...]]:
        found: dict[int | None, list[Sample]] = {}
        for entry, reading in self._readings:
            if reading.bucket_c is not None:
                found.setdefault(reading.batch, []).append(Sample(entry.happened, reading.bucket_c))
        return {batch: tuple(samples) for batch, samples in found.items()}

    @cached_property
    def _readings(self) -> list[tuple[Entry, Reading]]:
        return [(entry, entry.facts) for entry in self.entries if isinstance(entry.facts, Reading)]


def readings_of(entries: Sequence[Entry]) -> Readings:
    """The readings among the entries, in the order in which they happened."""
    found = [entry for entry in entries if isinstance(entry.facts, Reading)]
    return Readings(tuple(sorted(found, key=lambda entry: entry.happened)))  # alike: as the log has them
