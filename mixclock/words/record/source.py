"""What the record is made from: the job as it stands, its clocks, and small copies of its pictures."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from functools import cached_property
from zoneinfo import ZoneInfo

from mixclock.decide.buckets import Bucket, BucketAnswer, BucketModel
from mixclock.decide.shapes import State, Window
from mixclock.decide.tracks import Track
from mixclock.decide.why.case import Case, clock_text
from mixclock.decide.windows import seen_at
from mixclock.formulas.history import History
from mixclock.job.progress import Batch, Standing
from mixclock.job.readings import Sample
from mixclock.units import CrewUnits
from mixclock.values import dataclass, field, replace

MANY_BATCHES = 200
"""From here on buckets in nearly the same air share one reckoning: half a kelvin moves a pot life by under 1 %."""

AIR_TO_K = 0.5
LOOKED_AT_S = (0.0, 1800.0)


def with_steady_air(model: BucketModel) -> BucketModel:
    """The same model, with the air round a bucket held at its mean while it stands, to half a kelvin."""

    def answer(bucket: Bucket) -> BucketAnswer | None:
        start_s = bucket.combined.timestamp()
        mean_c = sum(bucket.air.likely.at(start_s + after_s) for after_s in LOOKED_AT_S) / len(LOOKED_AT_S)
        held = History((0.0,), (round(mean_c / AIR_TO_K) * AIR_TO_K,))
        return model(replace(bucket, air=replace(bucket.air, likely=held, low=held, high=held)))

    return answer


@dataclass(frozen=True)
class SmallCopy:
    """A picture as it stands on the page. `small` is None where no copy could be made."""

    media: str
    small: bytes | None
    why_not: str = ""


@dataclass(frozen=True)
class Record:
    """One job, as it was known at an instant (`at`); `written` is when it is really written down, where later."""

    standing: Standing
    at: datetime
    bucket_model: BucketModel
    pictures: Mapping[str, SmallCopy] = field(default_factory=dict)
    version: str = ""
    written: datetime | None = None

    @cached_property
    def case(self) -> Case:
        """The job laid out by coat and area."""
        model = with_steady_air(self.bucket_model) if self.is_long else self.bucket_model
        return Case(self.standing, self.at, model)

    @property
    def is_long(self) -> bool:
        """Whether the job is so long that the air round its buckets is taken to half a kelvin."""
        return len(self.standing.batches) > MANY_BATCHES

    @cached_property
    def windows(self) -> tuple[Window, ...]:
        """Every window as it stands."""
        return tuple(_window(track, self.at) for track in self.case.tracks)

    @cached_property
    def windows_of(self) -> Mapping[tuple[int | None, str | None], tuple[Window, ...]]:
        """The windows of each batch on each area."""
        found: dict[tuple[int | None, str | None], list[Window]] = {}
        for window in self.windows:
            found.setdefault((window.batch, window.area), []).append(window)
        return {key: tuple(windows) for key, windows in found.items()}

    def samples(self, what: str, area: str | None) -> tuple[Sample, ...]:
        """Readings of air, humidity or slab that hold for an area."""
        return self.case.samples(what, area).samples

    @cached_property
    def batches(self) -> Mapping[int, Batch]:
        """Batches by their number."""
        return {batch.id: batch for batch in self.standing.batches}

    @property
    def zone(self) -> ZoneInfo:
        """The zone in which the crew's clocks run."""
        return self.standing.site.wall

    @property
    def units(self) -> CrewUnits:
        """The units that the crew reads."""
        return self.case.units

    def clock(self, at: datetime) -> str:
        """A time of day on the crew's wall, with its day."""
        return clock_text(self.standing, at)


def _window(track: Track, at: datetime) -> Window:
    """A window as it stands. A record looks back, so it tells how far a clock had run only where a step was stated."""
    seen = seen_at(track, at, ripe=track.stated is not None and track.stated.at <= at)
    return replace(seen, state=State.OPEN) if seen.state is State.CLOSING else seen
