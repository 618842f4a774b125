"""Acid that lies on a floor or stands mixed when the rest is planned again: when the crew neutralises and rinses it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta

from mixclock.decide.etching import treated_at
from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.floor.acid import etch_under, neutraliser_for
from mixclock.decide.plan.floor.timing import Bucketful
from mixclock.decide.tracks import Track
from mixclock.job.profile import WASHED_OFF, Family, Profile
from mixclock.job.progress import Batch, Portion, Standing
from mixclock.job.site import Coat
from mixclock.job.steps import DWELL, NEUTRALISE, RINSE
from mixclock.values import dataclass

LONG_GONE = timedelta(hours=2)
"""After this long, acid counts as neutralised even if nobody stated it: else it would have dried in (judgement)."""


@dataclass(frozen=True)
class AcidStep:
    """A step that acid still needs: on which areas, from when, and by when."""

    kind: str
    areas: tuple[str, ...]
    opens: datetime
    by: datetime | None


@dataclass(frozen=True)
class LyingSpan:
    """From when to when the next step may follow the acid, or the neutraliser after it."""

    opens_s: float
    closes_s: float | None


def is_washed_off(profile: Profile | None) -> bool:
    """Whether a product is rinsed off again."""
    return profile is not None and profile.family in WASHED_OFF


class AcidStanding:
    """One batch of acid, or of a neutraliser by itself, and what it still needs."""

    def __init__(self, standing: Standing, tracks: Sequence[Track], bench: Bench, coat: Coat, batch: Batch) -> None:
        """`bench.begins` is now."""
        self.standing, self.tracks, self.bench, self.coat, self.batch = standing, tracks, bench, coat, batch
        self.profile = standing.profile(batch.product)
        self.is_acid = self.profile is not None and self.profile.family is Family.ACID_ETCH

    def ended(self, portion: Portion, area: str) -> Mapping[str, datetime]:
        """When acid on an area was neutralised and rinsed, whichever bucket the crew stated it of."""
        steps = {NEUTRALISE: self._neutralised(portion, area), RINSE: self._rinsed(portion, area)}
        return {kind: at for kind, at in steps.items() if at is not None}

    def due_on_floor(self, portion: Portion, pour_s: float, neutralise_s: float) -> Iterator[AcidStep]:
        """The steps that a poured portion still needs, given how long pouring and neutralising take. The crew states
        only the end of a pour, so the pour began that long before."""
        poured = portion.poured.at
        begun = poured - timedelta(seconds=pour_s)
        if self.bench.begins - poured > LONG_GONE or self._goes_with_an_etch():
            return
        left = [area for area in portion.areas if self._rinsed(portion, area) is None]
        acid = tuple(area for area in left if self.is_acid and self._neutralised(portion, area) is None)
        if acid:
            yield from self._both(acid, begun, poured, neutralise_s, self._closes_by_readings(portion, acid[0]))
        for area in left:
            treated = self._neutralised(portion, area) if self.is_acid else poured
            if treated is not None:
                yield self._due(RINSE, (area,), treated, treated, 0.0, self._rinsing(treated))

    def due_from_bucket(self, begins: datetime, ends: datetime, neutralise_s: float) -> Iterator[AcidStep]:
        """The steps of a bucket that is poured from now on."""
        if self.is_acid:
            yield from self._both(self.batch.areas, begins, ends, neutralise_s, None)
        elif not self._goes_with_an_etch():
            yield self._due(RINSE, self.batch.areas, begins, ends, 0.0, self._rinsing(ends))

    def _both(
        self, areas: tuple[str, ...], begun: datetime, poured: datetime, step_s: float, by: datetime | None
    ) -> Iterator[AcidStep]:
        first = self._due(NEUTRALISE, areas, begun, poured, step_s, self._lying(poured))
        yield first if by is None else AcidStep(first.kind, areas, first.opens, by)
        ended = max(first.opens, self.bench.begins) + timedelta(seconds=step_s)
        yield self._due(RINSE, areas, ended, ended, 0.0, self._rinsing(ended))

    def _due(
        self, kind: str, areas: tuple[str, ...], begun: datetime, ended: datetime, step_s: float, lies: LyingSpan
    ) -> AcidStep:
        """A step that takes `step_s`, and follows over the floor behind one that lasts from `begun` to `ended`."""
        opened = timedelta(seconds=lies.opens_s)
        opens = max(begun + opened, ended + opened - timedelta(seconds=step_s))
        if lies.closes_s is None:
            return AcidStep(kind, areas, opens, None)
        shut = timedelta(seconds=lies.closes_s)
        return AcidStep(kind, areas, opens, min(ended + shut, begun + shut + timedelta(seconds=step_s)))

    def _lying(self, poured: datetime) -> LyingSpan:
        return self._lies(((self.batch.product, DWELL), (self.batch.product, NEUTRALISE)), poured)

    def _rinsing(self, since: datetime) -> LyingSpan:
        asked = [(self.batch.product, RINSE)]
        own = neutraliser_for(self.standing.site, self.standing.profiles, self.coat)
        asked += [(own.product, DWELL), (own.product, RINSE)] if own is not None else []
        return self._lies(asked, since)

    def _lies(self, asked: Sequence[tuple[str, str]], since: datetime) -> LyingSpan:
        exact, bucket = self.bench.exact, Bucketful(self.batch.mass_kg, self.batch.volume_l)
        opened = [exact.opens(product, window, since, bucket) for product, window in asked]
        shut = [exact.closes(product, window, since, bucket) for product, window in asked]
        opens_s = max((span.safe_open_s for span in opened if span is not None), default=0.0)
        return LyingSpan(opens_s, min((span.early_s for span in shut if span is not None), default=None))

    def _closes_by_readings(self, portion: Portion, area: str) -> datetime | None:
        """The early edge of the acid on the floor, by the readings of the day."""
        edges = [
            track.closes.edge.early
            for track in self.tracks
            if (track.batch.id, track.portion, track.area) == (self.batch.id, portion.number, area)
            and track.name in (DWELL, NEUTRALISE)
            and track.closes is not None
        ]
        return min(edges, default=None)

    def _neutralised(self, portion: Portion, area: str) -> datetime | None:
        stated = treated_at(self.standing, self.batch, portion, NEUTRALISE, area, portion.poured.at)
        return stated.at if stated is not None else None

    def _rinsed(self, portion: Portion, area: str) -> datetime | None:
        """When an area was rinsed after this pour; the crew may state it of the acid or of the neutraliser."""
        found = [
            stated.at
            for batch in self.standing.batches
            if is_washed_off(self.standing.profile(batch.product))
            for each in batch.portions
            if (stated := each.step(RINSE, area)) is not None and stated.at >= portion.poured.at
        ]
        return min(found, default=None)

    def _goes_with_an_etch(self) -> bool:
        """A neutraliser over an etch is rinsed off with the acid's own steps."""
        return etch_under(self.standing.site, self.standing.profiles, self.coat) is not None
