"""A long job with its last readings at hand, and of the older ones only what was asked of them.

Statements, alerts and notes are all kept: there are hundreds of these. Of a logger's readings there are a hundred
thousand, and what stands now rests on the last ones and on what each clock had gained before, which is noted.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from mixclock.formulas.past import ForgottenError, Notes
from mixclock.job.entry import Entry, Reading
from mixclock.job.jumps import both_ways, jumps
from mixclock.job.progress import Standing
from mixclock.job.readings import JumpAnswer, KeptSeries, Readings, Sample
from mixclock.values import dataclass, field, replace

TAIL = 100
"""So many readings stay at hand, by the clock and by the log."""

OF_EACH_PLACE = 2
"""So many of each quantity and place stay at hand, however old: what moved a deadline is told by the last two."""

_QUANTITIES = ("air_c", "rh_pct", "slab_c")


@dataclass(frozen=True)
class PastReadings:
    """What is known of readings before the last ones. `whole` are all of them, while they are at hand."""

    tail_from: datetime
    """From when on every reading of every place is at hand."""
    notes: Notes = field(default_factory=Notes)
    known_from: dict[str, float | None] = field(default_factory=dict)
    whole: Readings | None = None

    def series(self, kept: Readings, what: str, area: str | None, way: JumpAnswer) -> KeptSeries:
        """From when on the readings of a place are at hand.

        Where a jump lies among these only, its answers change nothing of what was before them.
        """
        place = kept.place(area)
        label = f"{what}/{'*' if place is None else place}/"
        told = KeptSeries(label, self._from_s(label, kept, what, area, None))
        if way.either is None or told.from_s is None:
            return told
        old = _old_jumps(way.read, told.from_s)
        if not old:
            return told
        if self.whole is not None and _old_jumps(_series(self.whole, what, area), told.from_s) != old:
            raise ForgottenError("a question of a temperature that jumped rests on readings that are left out")
        label = f"{label}{way.either}:{old}"
        return KeptSeries(label, self._from_s(label, kept, what, area, way.either))

    def all_of(self, what: str, area: str | None, way: JumpAnswer) -> tuple[Sequence[Sample], JumpAnswer]:
        """All readings of a place up to the last of these, and as they were read.

        Raises `ForgottenError` where they are not at hand.
        """
        every = _series(self._everything, what, area)
        while every and way.read and every[-1].at > way.read[-1].at:
            every = every[:-1]
        return _one_way(every, way.either), JumpAnswer(way.either, every)

    def _from_s(self, label: str, kept: Readings, what: str, area: str | None, either: int | None) -> float | None:
        if label not in self.known_from:
            read = _series(kept, what, area)
            every, _ = self.all_of(what, area, JumpAnswer(either, read))
            self.known_from[label] = self._shared(_one_way(read, either), every, label)
        return self.known_from[label]

    def last_air(self, by: datetime) -> float | None:
        """The last reading of the air up to an instant before those at hand."""
        found = self.notes.told(f"air@{by.isoformat()}", lambda: self._everything.last_air(by))
        return None if found is None else float(found)

    @property
    def _everything(self) -> Readings:
        if self.whole is None:
            raise ForgottenError("the readings of then are not at hand")
        return self.whole

    def _shared(self, kept: Sequence[Sample], every: Sequence[Sample], label: str) -> float | None:
        """From when on the readings at hand are all there are."""
        alike = 0
        for one, other in zip(reversed(kept), reversed(every), strict=False):
            if one.entry != other.entry:
                break
            alike += 1
        older = self._everything.past.known_from.get(label) if self._everything.past is not None else None
        if alike == len(every):
            return older
        if not alike:
            raise ForgottenError("no reading of this place is at hand")
        return max(kept[-alike].at.timestamp(), older if older is not None else float("-inf"))


class LastReadings(PastReadings):
    """The last readings alone, while nobody has worked out what was before them: whoever asks of that is refused."""

    def _from_s(
        self,
        label: str,  # noqa: ARG002
        kept: Readings,
        what: str,
        area: str | None,
        either: int | None,
    ) -> float | None:
        samples = _one_way(_series(kept, what, area), either)
        if not samples:
            raise ForgottenError("no reading of this place is at hand")
        return samples[0].at.timestamp()


def thinned(standing: Standing) -> Standing:
    """The same job with its last readings at hand; what it is asked of the others is noted in `readings.past`."""
    readings = standing.readings
    kept = _kept_of(standing)
    tail_from = _tail_of(readings.entries)[0].happened
    entries = tuple(entry for entry in standing.entries if not _is_left_out(entry, kept, standing.withdrawn))
    last = Readings(
        tuple(entry for entry in readings.entries if entry.number in kept), PastReadings(tail_from, whole=readings)
    )
    _require_alike(last, readings)
    return replace(standing, entries=entries, readings=last)


def _is_left_out(entry: Entry, kept: set[int], withdrawn: frozenset[int]) -> bool:
    return isinstance(entry.facts, Reading) and entry.number not in kept and entry.number not in withdrawn


def _kept_of(standing: Standing) -> set[int]:
    """The numbers of the readings that stay at hand."""
    every = standing.readings.entries
    tail = _tail_of(every)
    by_log = [entry for entry in standing.entries if isinstance(entry.facts, Reading)][-TAIL:]
    kept = {entry.number for entry in (*tail, *by_log)}
    kept |= set(_last_of_places(every)) | set(_last_of_places(every[: len(every) - len(tail)]))
    kept |= {entry.number for entry in every if isinstance(entry.facts, Reading) and entry.facts.bucket_c is not None}
    kept |= {sample.entry for samples in _temperatures(standing.readings) for sample in _asked_about(samples)}
    return kept


def _tail_of(every: Sequence[Entry]) -> Sequence[Entry]:
    """The last readings by the clock, and all that were read with the first of them."""
    first = max(0, len(every) - TAIL)
    while first and every[first - 1].happened == every[first].happened:
        first -= 1
    return every[first:]


def _last_of_places(every: Sequence[Entry]) -> Iterable[int]:
    """The last readings of each quantity at each place."""
    seen: dict[tuple[str, str | None], int] = {}
    for entry in reversed(every):
        facts = entry.facts
        if not isinstance(facts, Reading):
            continue
        for quantity in _QUANTITIES:
            if getattr(facts, quantity) is None or seen.get((quantity, facts.area), 0) == OF_EACH_PLACE:
                continue
            seen[quantity, facts.area] = seen.get((quantity, facts.area), 0) + 1
            yield entry.number


def _asked_about(samples: Sequence[Sample]) -> Iterable[Sample]:
    """The readings that a question of a jump is about."""
    return (each for jump in jumps(samples, "") for each in (jump.before, jump.after))


def _temperatures(readings: Readings) -> Iterable[Sequence[Sample]]:
    """The series of which a jump is asked: of the slab and the air, everywhere and at each place."""
    for area in (None, *sorted(readings.own_areas), *(() if readings.own_areas else ("",))):
        yield readings.slab(area)
        yield readings.air(area)


def _require_alike(last: Readings, every: Readings) -> None:
    """What is asked of a jump must be what all the readings ask."""
    for kept, whole in zip(_temperatures(last), _temperatures(every), strict=True):
        if jumps(kept, "") != jumps(whole, ""):
            raise ForgottenError("a question of a temperature that jumped rests on readings that are left out")


def _series(readings: Readings, what: str, area: str | None) -> Sequence[Sample]:
    if what == "humidity":
        return readings.humidity(area)
    return readings.slab(area) if what == "slab" else readings.air(area)


def _one_way(samples: Sequence[Sample], either: int | None) -> Sequence[Sample]:
    """A series as one answer to a question of a jump has it."""
    if either is None:
        return samples
    ways = both_ways(samples)
    if either >= len(ways):
        raise ForgottenError("the question of the jump is answered by now")
    return ways[either]


def _old_jumps(samples: Sequence[Sample], until_s: float) -> list[tuple[int, int]]:
    """The questions of jumps that began no later than the first reading at hand, by their entries."""
    asked = (jump for jump in jumps(samples, "") if jump.before.at.timestamp() <= until_s)
    return [(jump.before.entry, jump.after.entry) for jump in asked]
