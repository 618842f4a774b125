"""A job laid out for the question why: what lies where, in which portions, and what each quantity may be."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property
from types import MappingProxyType

from mixclock.decide.buckets import BucketModel
from mixclock.decide.hours import local
from mixclock.decide.tracks import Track, tracks
from mixclock.decide.weather import Weather, weather
from mixclock.job.entry import Entry, Found, Measured, Noted
from mixclock.job.profile import Profile
from mixclock.job.progress import Batch, Portion, Standing
from mixclock.job.readings import Sample
from mixclock.job.site import Coat
from mixclock.units import CrewUnits, write_time_of_day

CURES_FOR = timedelta(hours=12)
"""How long a film lies open to the air where its sheet names neither tack free, recoat nor feet (judgement)."""


@dataclass(frozen=True)
class Value:
    """One quantity as the record holds it. `gap` names the part of it that nobody recorded.

    `limit`, `sigma` and `worse` stand in for the gauge's where the product or the statement gives better ones.
    """

    value: float | str
    limit: float | None = None
    limit_source: str | None = None
    sigma: float | None = None
    worse: int | None = None
    at: datetime | None = None
    batch: int | None = None
    told: str = ""
    gap: Missing | None = None
    holds_elsewhere: bool = False


@dataclass(frozen=True)
class Missing:
    """A fact that nobody recorded, and how to find it out now."""

    what: str
    find_out: str


Gathered = Value | Missing | None
"""What is known of a quantity; None where it does not apply here."""


@dataclass(frozen=True)
class Piece:
    """One portion of a batch on an area; `portion` is None while no pour was stated or implied."""

    batch: Batch
    portion: Portion | None

    @property
    def poured(self) -> datetime | None:
        """When it was poured, if somebody stated it."""
        return self.portion.poured.at if self.portion and not self.portion.assumed else None

    @property
    def since(self) -> datetime:
        """From when it lay on the floor, as far as is known."""
        return self.portion.poured.at if self.portion else self.batch.mixing_ended


@dataclass(frozen=True)
class Laid:
    """One coat on one area."""

    area: str
    coat: str
    pieces: tuple[Piece, ...]

    @cached_property
    def first(self) -> datetime:
        """When the first of it came onto the floor."""
        return min(piece.since for piece in self.pieces)

    @cached_property
    def last(self) -> datetime:
        """When the last of it came onto the floor."""
        return max(piece.since for piece in self.pieces)

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

    def within(self, start: datetime, until: datetime) -> tuple[datetime, ...]:
        """The times of the readings between two instants."""
        return self.times[bisect_left(self.times, start) : bisect_right(self.times, until)]

    def nearest(self, at: datetime) -> Sample | None:
        """The reading nearest to an instant."""
        known = [sample for sample in self.around(at) if sample is not None]
        return min(known, key=lambda sample: abs(sample.at - at), default=None)


@dataclass(frozen=True)
class Case:
    """A job as it stands, with its clocks."""

    standing: Standing
    at: datetime
    bucket_model: BucketModel

    @property
    def units(self) -> CrewUnits:
        """The units that the crew reads."""
        return self.standing.site.units

    @cached_property
    def laid(self) -> Mapping[tuple[str, str], Laid]:
        """Every coat on every area that a batch was stated for."""
        found: dict[tuple[str, str], list[Piece]] = {}
        for batch in self.standing.batches:
            for area, piece in _pieces(batch):
                found.setdefault((area, batch.coat or batch.product), []).append(piece)
        return MappingProxyType({key: Laid(*key, tuple(pieces)) for key, pieces in found.items()})

    @cached_property
    def tracks(self) -> tuple[Track, ...]:
        """Every clock of the job."""
        return tracks(self.standing, self.bucket_model)

    @cached_property
    def _tracks(self) -> Mapping[tuple[str, int, str | None, int], Track]:
        named = {(track.name, track.batch.id, track.area, track.portion): track for track in self.tracks}
        return MappingProxyType(named)

    @cached_property
    def _weathers(self) -> dict[str | None, Weather]:
        return {}

    def track(self, name: str, piece: Piece, area: str | None) -> Track | None:
        """One clock of a piece; pour-out and induction belong to the bucket and have no area."""
        portion = piece.portion.number if piece.portion and area is not None else 0
        return self._tracks.get((name, piece.batch.id, area, portion))

    def weather(self, area: str | None) -> Weather:
        """The conditions at an area."""
        place = self.standing.readings.place(area)
        if place not in self._weathers:
            self._weathers[place] = weather(self.standing, area)
        return self._weathers[place]

    def profile(self, laid: Laid) -> Profile | None:
        """The product of a coat."""
        return self.standing.profile(laid.pieces[0].batch.product)

    def coat(self, laid: Laid) -> Coat | None:
        """What the job file says of the coat."""
        return self.standing.site.coat(laid.coat)

    def on(self, area: str) -> tuple[Laid, ...]:
        """The coats on an area, the first laid first."""
        return self._by_area.get(area, ())

    @cached_property
    def _by_area(self) -> Mapping[str, tuple[Laid, ...]]:
        found: dict[str, list[Laid]] = {}
        for laid in sorted(self.laid.values(), key=lambda laid: laid.first):
            found.setdefault(laid.area, []).append(laid)
        return {area: tuple(coats) for area, coats in found.items()}

    @cached_property
    def live(self) -> tuple[Entry, ...]:
        """The statements that count."""
        return tuple(self.standing.live())

    @cached_property
    def measured(self) -> tuple[Entry, ...]:
        """The measurements among them."""
        return tuple(entry for entry in self.live if isinstance(entry.facts, Measured))

    @cached_property
    def noted(self) -> tuple[tuple[Entry, str], ...]:
        """The statements that carry words, with these."""
        said = ((entry, said_in(entry)) for entry in self.live)
        return tuple((entry, words) for entry, words in said if words)

    def samples(self, what: str, area: str | None) -> Series:
        """Readings of air, humidity or slab that hold for an area, with their times apart for searching."""
        key = (what, self.standing.readings.place(area))
        if key not in self._series:
            readings = self.standing.readings
            pick = {"air": readings.air, "humidity": readings.humidity, "slab": readings.slab}[what]
            self._series[key] = Series(pick(area))
        return self._series[key]

    @cached_property
    def _series(self) -> dict[tuple[str, str | None], Series]:
        return {}

    def below(self, laid: Laid) -> Laid | None:
        """The coat that this one was laid on."""
        under = [other for other in self.on(laid.area) if other.first < laid.first]
        return under[-1] if under else None

    def above(self, laid: Laid) -> Laid | None:
        """The coat that was laid on this one."""
        over = [other for other in self.on(laid.area) if other.first > laid.first]
        return over[0] if over else None

    def tack_free(self, laid: Laid) -> datetime:
        """When its film was tack free: as seen, else as its clock says."""
        ends = [self._tack_free(piece, laid.area) for piece in laid.pieces]
        return min(max(ends), max(self.at, laid.last))

    def _tack_free(self, piece: Piece, area: str) -> datetime:
        for name in ("tack-free", "recoat", "foot-traffic"):
            track = self.track(name, piece, area)
            if track is not None and name == "tack-free" and track.stated is not None:
                return track.stated.at
            if track is not None and track.opens is not None:
                return track.opens.edge.likely
        return piece.since + CURES_FOR

    @cached_property
    def findings(self) -> Mapping[str, tuple[Entry, ...]]:
        """What was found, per area, the earliest first."""
        found: dict[str, list[Entry]] = {}
        for entry in sorted(self.live, key=lambda entry: (entry.happened, entry.number)):
            if isinstance(entry.facts, Found):
                found.setdefault(entry.facts.area, []).append(entry)
        return MappingProxyType({area: tuple(entries) for area, entries in found.items()})

    def siblings(self, laid: Laid) -> tuple[tuple[Laid, ...], str]:
        """Healthy areas with the same coat, of the same day where there are such; and which they are, in words."""
        key = (laid.area, laid.coat)
        if key not in self._siblings:
            self._siblings[key] = self._find_siblings(laid)
        return self._siblings[key]

    @cached_property
    def _siblings(self) -> dict[tuple[str, str], tuple[tuple[Laid, ...], str]]:
        return {}

    def _find_siblings(self, laid: Laid) -> tuple[tuple[Laid, ...], str]:
        same = [
            other
            for other in self.laid.values()
            if other.coat == laid.coat and other.area != laid.area and other.area not in self.findings
        ]
        near = [other for other in same if abs(other.first - laid.first) < timedelta(hours=16)]
        if near:
            return tuple(near), "healthy areas of the same coat and day"
        return tuple(same), "healthy areas of the same coat on other days" if same else "no healthy area of this coat"


def _pieces(batch: Batch) -> Iterator[tuple[str, Piece]]:
    for portion in batch.portions:
        for area in portion.areas:
            yield area, Piece(batch, portion)
    if not batch.portions:
        for area in batch.areas:
            yield area, Piece(batch, None)


def said_in(entry: Entry) -> str:
    """What a note says, and the note on any other statement."""
    own = entry.facts.text if isinstance(entry.facts, Noted) else ""
    return "; ".join(part for part in (own, entry.note or "") if part)


def clock_text(standing: Standing, at: datetime) -> str:
    """An instant as the crew says it, with the day."""
    there = local(standing.site, at)
    return f"{there:%a} {there.day} {there:%b} {write_time_of_day(there.time())}"


def worst(values: Sequence[Gathered], key: int) -> Gathered:
    """The worst of several pieces: `key` +1 where more is worse. What is missing on one piece stays as a gap."""
    known = [value for value in values if isinstance(value, Value)]
    missing = next((value for value in values if isinstance(value, Missing)), None)
    if not known:
        return missing
    found = max(known, key=lambda value: key * value.value if isinstance(value.value, float) else 0.0)
    if missing is not None and found.gap is None:
        return replace(found, gap=missing)
    return found
