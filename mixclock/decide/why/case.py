"""A job laid out for the question "why": what lies where, in which portions, and where to read each quantity."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from functools import cached_property
from types import MappingProxyType

from mixclock.decide.buckets import BucketModel
from mixclock.decide.hours import local
from mixclock.decide.tracks import Track, tracks
from mixclock.decide.weather import Weather, weather
from mixclock.decide.why.layers import Layer, LayerPiece, Series
from mixclock.decide.why.symptoms import SOUND
from mixclock.job.dayentries import Settled
from mixclock.job.entry import Entry, Found, Measured, Noted
from mixclock.job.practice import stated_film_um
from mixclock.job.profile import Profile
from mixclock.job.progress import Batch, Standing
from mixclock.job.site import Coat
from mixclock.job.steps import FOOT_TRAFFIC, RECOAT, TACK_FREE
from mixclock.units import CrewUnits, write_day, write_time_of_day
from mixclock.values import dataclass

SAME_DAY = timedelta(hours=16)
"""Coats begun within this span had the same air and the same pails (judgement)."""

CURES_FOR = timedelta(hours=12)
"""How long a film is open to the air if its sheet names neither tack free, recoat nor foot traffic (judgement)."""


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
    def layers(self) -> Mapping[tuple[str, str], Layer]:
        """Every coat on every area that a batch was stated for."""
        found: dict[tuple[str, str], list[LayerPiece]] = {}
        for batch in self.standing.batches:
            for area, piece in _pieces(batch):
                found.setdefault((area, batch.coat or batch.product), []).append(piece)
        return MappingProxyType({key: Layer(*key, tuple(pieces)) for key, pieces in found.items()})

    @cached_property
    def tracks(self) -> tuple[Track, ...]:
        """Every clock of the job, without its words: the question is why a floor cured as it did, and when."""
        return tracks(self.standing, self.bucket_model, in_words=False)

    @cached_property
    def _tracks(self) -> Mapping[tuple[str, int, str | None, int], Track]:
        named = {(track.name, track.batch.id, track.area, track.portion): track for track in self.tracks}
        return MappingProxyType(named)

    @cached_property
    def _weathers(self) -> dict[str | None, Weather]:
        return {}

    def track(self, name: str, piece: LayerPiece, area: str | None) -> Track | None:
        """One clock of a piece; pour-out and induction belong to the bucket and have no area."""
        portion = piece.portion.number if piece.portion and area is not None else 0
        return self._tracks.get((name, piece.batch.id, area, portion))

    def weather(self, area: str | None) -> Weather:
        """The conditions at an area."""
        place = self.standing.readings.place(area)
        if place not in self._weathers:
            self._weathers[place] = weather(self.standing, area)
        return self._weathers[place]

    def profile(self, laid: Layer) -> Profile | None:
        """The product of a coat."""
        return self.standing.profile(laid.pieces[0].batch.product)

    def coat(self, laid: Layer) -> Coat | None:
        """What the job file says of the coat."""
        return self.standing.site.coat(laid.coat)

    def wanted_film_um(self, layer: Layer) -> float | None:
        """The wet film that the job asks for."""
        coat = self.coat(layer)
        if coat is None:
            return None
        return stated_film_um(coat, self.profile(layer))

    def on(self, area: str) -> tuple[Layer, ...]:
        """The coats on an area, the first laid first."""
        return self._by_area.get(area, ())

    @cached_property
    def _by_area(self) -> Mapping[str, tuple[Layer, ...]]:
        found: dict[str, list[Layer]] = {}
        for laid in sorted(self.layers.values(), key=lambda laid: laid.first):
            found.setdefault(laid.area, []).append(laid)
        return {area: tuple(coats) for area, coats in found.items()}

    @cached_property
    def live(self) -> tuple[Entry, ...]:
        """The statements that count."""
        return tuple(self.standing.live())

    def entry(self, number: int) -> Entry | None:
        """The statement of that number."""
        return next((entry for entry in self.live if entry.number == number), None)

    @cached_property
    def measured(self) -> tuple[Entry, ...]:
        """The measurements among them."""
        return tuple(entry for entry in self.live if isinstance(entry.facts, Measured))

    @cached_property
    def notes(self) -> tuple[Entry, ...]:
        """The notes among them."""
        return tuple(entry for entry in self.live if isinstance(entry.facts, Noted))

    @cached_property
    def free_texts(self) -> tuple[tuple[Entry, str], ...]:
        """The statements that carry words of their own, with these."""
        said = ((entry, _words_of(entry)) for entry in self.live)
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

    def below(self, laid: Layer) -> Layer | None:
        """The coat that this one was laid on."""
        under = [other for other in self.on(laid.area) if other.first < laid.first]
        return under[-1] if under else None

    def above(self, laid: Layer) -> Layer | None:
        """The coat that was laid on this one."""
        over = [other for other in self.on(laid.area) if other.first > laid.first]
        return over[0] if over else None

    def tack_free(self, laid: Layer) -> datetime:
        """When its film was tack free: as seen, else as its clock says."""
        ends = [self._tack_free(piece, laid.area) for piece in laid.pieces]
        return min(max(ends), max(self.at, laid.last))

    def _tack_free(self, piece: LayerPiece, area: str) -> datetime:
        for name in (TACK_FREE, RECOAT, FOOT_TRAFFIC):
            track = self.track(name, piece, area)
            if track is not None and name == TACK_FREE and track.stated is not None:
                return track.stated.at
            if track is not None and track.opens is not None:
                return track.opens.edge.likely
        return piece.since + CURES_FOR

    @cached_property
    def findings(self) -> Mapping[str, tuple[Entry, ...]]:
        """What was found, per area, the earliest first."""
        found: dict[str, list[Entry]] = {}
        for entry in sorted(self.live, key=lambda entry: entry.happened):
            if isinstance(entry.facts, Found):
                found.setdefault(entry.facts.area, []).append(entry)
        return MappingProxyType({area: tuple(entries) for area, entries in found.items()})

    @cached_property
    def sound(self) -> frozenset[str]:
        """Areas that somebody found sound, and on which nobody has found a fault since."""
        return frozenset(area for area, entries in self.findings.items() if _is_sound(entries[-1]))

    @cached_property
    def settled(self) -> Mapping[str, Entry]:
        """Areas whose last fault was put right, with how."""
        found: dict[str, Entry] = {}
        for entry in sorted(self.live, key=lambda entry: (entry.happened, entry.number)):
            if isinstance(entry.facts, Settled):
                found[entry.facts.area] = entry
            elif isinstance(entry.facts, Found) and not _is_sound(entry):
                found.pop(entry.facts.area, None)
        return MappingProxyType(found)

    @cached_property
    def open_findings(self) -> Mapping[str, Entry]:
        """Areas with a fault that nobody put right nor found sound since, with the last finding."""
        return MappingProxyType(
            {
                area: entries[-1]
                for area, entries in self.findings.items()
                if area not in self.sound and area not in self.settled
            }
        )

    def faults(self, area: str) -> tuple[Entry, ...]:
        """The faults that were found on an area, the earliest first."""
        return tuple(entry for entry in self.findings.get(area, ()) if not _is_sound(entry))

    def healthy(self, layer: Layer) -> tuple[Layer, ...]:
        """The same coat on areas that were found sound: those of the same day, if there are any."""
        return self._nearest(layer, [other for other in self._same_coat(layer) if other.area in self.sound])

    def unseen(self, layer: Layer) -> tuple[Layer, ...]:
        """The same coat on areas that nobody looked at. These count as unknown, not as healthy."""
        return self._nearest(layer, [other for other in self._same_coat(layer) if other.area not in self.findings])

    def _same_coat(self, layer: Layer) -> list[Layer]:
        return [other for other in self.layers.values() if other.coat == layer.coat and other.area != layer.area]

    def _nearest(self, layer: Layer, same: Sequence[Layer]) -> tuple[Layer, ...]:
        near = [other for other in same if abs(other.first - layer.first) < SAME_DAY]
        return tuple(near or same)


def _is_sound(entry: Entry) -> bool:
    return isinstance(entry.facts, Found) and entry.facts.symptom == SOUND


def _words_of(entry: Entry) -> str:
    own = entry.facts.text if isinstance(entry.facts, Noted) else ""
    return "; ".join(part for part in (own, entry.note or "") if part)


def _pieces(batch: Batch) -> Iterator[tuple[str, LayerPiece]]:
    for portion in batch.portions:
        for area in portion.areas:
            yield area, LayerPiece(batch, portion)
    if not batch.portions:
        for area in batch.areas:
            yield area, LayerPiece(batch, None)


def clock_beside(standing: Standing, at: datetime, other: datetime) -> str:
    """An instant told beside another: only its time of day if both are of one day."""
    text, beside = clock_text(standing, at), clock_text(standing, other)
    same_day = text.rpartition(" ")[0] == beside.rpartition(" ")[0]
    return text.rpartition(" ")[2] if same_day else text


def clock_text(standing: Standing, at: datetime) -> str:
    """An instant as the crew says it, with the day."""
    there = local(standing.site, at)
    return f"{write_day(there)} {write_time_of_day(there.timetz())}"
