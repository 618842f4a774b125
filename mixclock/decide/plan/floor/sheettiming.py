"""The plan's clocks by the sheets: the same edges as the windows of a real batch, asked for hours that lie ahead."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import NamedTuple

from mixclock.decide.batchknowledge import factor_of
from mixclock.decide.buckets import Bucket as Vesselful
from mixclock.decide.buckets import BucketAnswer, BucketModel
from mixclock.decide.clocks import LearnedFactor, clock_of
from mixclock.decide.edges import edge_s
from mixclock.decide.plan.floor.conditions import ExpectedConditions
from mixclock.decide.plan.floor.meter import A_BUCKET, Meter
from mixclock.decide.plan.floor.timing import Bucketful, Span
from mixclock.decide.shapes import Edge
from mixclock.decide.weather import Weather, weather
from mixclock.job import practice
from mixclock.job.profile import Profile, SheetSpan
from mixclock.job.progress import Standing
from mixclock.job.readings import readings_of
from mixclock.job.site import Site
from mixclock.job.steps import POUR_OUT
from mixclock.job.windownames import carries_bucket
from mixclock.values import dataclass, field, replace

STOOD_GRID_S = 30.0
MASS_STEP = 0.25
"""Buckets are asked for masses so far apart; between two of them the answer is read off (judgement)."""

GRID_S = 900
"""A search asks for hours so far apart."""

BUCKET_GRID_S = 7200
"""Buckets are asked for hours so far apart."""

Held = tuple[float, float, float]
"""What a bucket holds, by mass and by volume, and how long it stood."""

NOTHING_HELD: Held = (0.0, 0.0, 0.0)
ON_THE_SAFE_SIDE = 0.997
MOST_USED = 0.999


def blank_standing(site: Site, profiles: Mapping[str, Profile]) -> Standing:
    """A job of which nothing has been stated yet."""
    by_name = {name.casefold(): profile for name, profile in profiles.items()}
    return Standing(site.name, site, by_name, {}, (), readings_of([]), (), frozenset())


class _AskedEdge(NamedTuple):
    """An edge of a window: the profile that states it, and whether its clock starts with what the bucket has used."""

    profile: Profile | None
    carried: bool


@dataclass
class SheetTiming:
    """Clocks of a job as it stands. Hours are taken on a grid, the less favourable end of it, so that the search may
    ask often; a grid of 0 asks for the instant itself."""

    standing: Standing
    bucket_model: BucketModel
    grid_s: int = GRID_S
    meter: Meter = field(default_factory=Meter)
    _known: dict[tuple[object, ...], Span | None] = field(default_factory=dict)
    _read_off: dict[tuple[object, ...], Span | None] = field(default_factory=dict)
    _hours: dict[tuple[object, ...], Span | None] = field(default_factory=dict)
    _masses: dict[tuple[float, float], tuple[tuple[float, float, float], ...]] = field(default_factory=dict)
    _buckets: dict[tuple[str, datetime, float, float], BucketAnswer | None] = field(default_factory=dict)
    _used_up: dict[tuple[object, ...], float] = field(default_factory=dict)
    _edges: dict[tuple[str, str, bool], _AskedEdge] = field(default_factory=dict)
    _out_around: dict[tuple[object, ...], tuple[Span | None, Span | None]] = field(default_factory=dict)
    _weather: list[Weather] = field(default_factory=list)

    def with_more(self, standing: Standing) -> SheetTiming:
        """The same clocks for a job that knows more products: what was asked already is not asked again."""
        return replace(self, standing=standing)

    @property
    def conditions(self) -> Weather:
        """What is expected on the whole floor."""
        if not self._weather:
            self._weather.append(weather(self.standing, None))
        return self._weather[0]

    def at(self, instant: datetime) -> ExpectedConditions:
        """What is expected at an instant, for the limits on conditions: where a reading that jumped is still asked
        about, the warmer air over the colder slab."""
        at_s, known = instant.timestamp(), self.conditions
        courses = known.air.at_worst(colder=False), known.humidity.likely, known.slab.at_worst(colder=True)
        air_c, rh_pct, slab_c = (course.at(at_s) for course in courses)
        return ExpectedConditions(air_c, rh_pct, slab_c, known.slab_source == "slab")

    def closes(self, product: str, window: str, start: datetime, bucket: Bucketful) -> Span | None:
        """How long until a window shuts whose clock starts then."""
        return self._asked(product, window, start, bucket, closing=True)

    def opens(self, product: str, window: str, start: datetime, bucket: Bucketful) -> Span | None:
        """How long until a window opens whose clock starts then."""
        return self._asked(product, window, start, bucket, closing=False)

    def _asked(self, product: str, window: str, start: datetime, bucket: Bucketful, closing: bool) -> Span | None:
        asked = product, window, closing
        edge = self._edges.get(asked)
        if edge is None:
            edge = self._edges[asked] = self._edge(*asked)
        profile = edge.profile
        if profile is None:
            return None
        if not self.grid_s:
            return self._span(profile, window, start, bucket, closing)
        at_s = start.timestamp()
        if window == POUR_OUT:
            return self._out_of(profile, at_s, bucket)
        held = None
        if edge.carried:
            held = bucket.mass_kg, bucket.volume_l, -(-bucket.stood_s // STOOD_GRID_S) * STOOD_GRID_S
        key = asked, at_s // self.grid_s, held
        if key not in self._read_off:
            self._read_off[key] = self._between_masses(profile, window, at_s, held or NOTHING_HELD, closing)
        return self._read_off[key]

    def _edge(self, product: str, window: str, closing: bool) -> _AskedEdge:
        """What is asked each time for the same edge of a window: no profile where the sheet has no such edge."""
        profile = self.standing.profile(product)
        rule = profile.window(window) if profile else None
        stated = closing if window == POUR_OUT else rule is not None and (rule.closes if closing else rule.opens)
        carried = window != POUR_OUT and closing and carries_bucket(window)
        return _AskedEdge(profile if stated else None, carried)

    def _out_of(self, profile: Profile, at_s: float, bucket: Bucketful) -> Span | None:
        """When a bucket is to be out, read off between the two hours of the grid around its mixing. How long it stands
        changes nothing."""
        first_s = at_s // BUCKET_GRID_S * BUCKET_GRID_S
        key = profile.name, first_s, bucket.mass_kg, bucket.volume_l
        around = self._out_around.get(key)
        if around is None:
            held = bucket.mass_kg, bucket.volume_l, 0.0
            one, other = (
                self._on_grid(profile, POUR_OUT, first_s + step, held, closing=True) for step in (0, BUCKET_GRID_S)
            )
            around = self._out_around[key] = one, other
        one, other = around
        if one is None or other is None:
            return one or other
        share = (at_s - first_s) / BUCKET_GRID_S
        return _between(one, other, 1.0 - share, share)

    def _between_masses(self, profile: Profile, window: str, at_s: float, held: Held, closing: bool) -> Span | None:
        """The span of a floor, read off between the masses that are asked for in place of its bucket's."""
        first_s = at_s // self.grid_s * self.grid_s
        mass_kg, volume_l, stood_s = held
        (kg, litres, share), *more = self._around(mass_kg, volume_l)
        one = self._at_the_hour(profile, window, first_s, (kg, litres, stood_s), closing)
        if not more or one is None:
            return one
        other_kg, other_litres, other_share = more[0]
        other = self._at_the_hour(profile, window, first_s, (other_kg, other_litres, stood_s), closing)
        return one if other is None else _between(one, other, share, other_share)

    def _at_the_hour(self, profile: Profile, window: str, first_s: float, held: Held, closing: bool) -> Span | None:
        """The less favourable span of a floor window between two hours of the grid."""
        key = profile.name, window, first_s, held, closing
        if key not in self._hours:
            one, other = (self._on_grid(profile, window, first_s + step, held, closing) for step in (0, self.grid_s))
            self._hours[key] = _less_favourable(one, other, closing)
        return self._hours[key]

    def _on_grid(self, profile: Profile, window: str, at_s: float, held: Held, closing: bool) -> Span | None:
        key = profile.name, window, at_s, held, closing
        if key not in self._known:
            self._known[key] = self._span(profile, window, datetime.fromtimestamp(at_s, UTC), Bucketful(*held), closing)
        return self._known[key]

    def _span(self, profile: Profile, window: str, start: datetime, bucket: Bucketful, closing: bool) -> Span | None:
        if window == POUR_OUT:
            return self._pour_out(profile, start, bucket)
        rule = profile.window(window)
        span = rule and (rule.closes if closing else rule.opens)
        return self._floor(profile, window, span, start, bucket, closing) if span else None

    def _floor(
        self, profile: Profile, window: str, span: SheetSpan, start: datetime, bucket: Bucketful, closing: bool
    ) -> Span:
        used = 0.0
        if closing and carries_bucket(window) and bucket.mass_kg > 0.0:
            stood = timedelta(seconds=bucket.stood_s)
            combined = self._at_grid(start - stood)
            used = min(MOST_USED, self._used(profile, combined, combined + stood, bucket))
        learned = self._learned(profile.name, window)
        clock, start_s = clock_of(window, span, profile.family, learned, closing), start.timestamp()
        early_s, likely_s, late_s = edge_s(clock, self.conditions, start_s, used)
        return Span(*(math.floor(at_s * 1e3) / 1e3 - start_s for at_s in (early_s, likely_s, late_s)))

    def _pour_out(self, profile: Profile, start: datetime, bucket: Bucketful) -> Span | None:
        """The bucket's own edge; the search reads it between the two buckets of the grid that hold less and more."""
        spans: list[tuple[Span, float]] = []
        for kg, litres, share in self._around(bucket.mass_kg, bucket.volume_l):
            answer = self._bucket(profile, start, Bucketful(kg, litres))
            if answer is None:
                return None
            spans.append((_span_of(start, answer.edge), share))
        if len(spans) == 1:
            return spans[0][0]
        (one, share), (other, other_share) = spans
        return _between(one, other, share, other_share)

    def _used(self, profile: Profile, combined: datetime, poured: datetime, bucket: Bucketful) -> float:
        """How much of its life a bucket has used up when it is poured: the same for each window of its floor."""
        key = profile.name, combined, poured, bucket.mass_kg, bucket.volume_l
        if key not in self._used_up:
            found = 0.0
            for kg, litres, share in self._around(bucket.mass_kg, bucket.volume_l):
                answer = self._bucket(profile, combined, Bucketful(kg, litres))
                found += share * answer.used(poured) if answer else 0.0
            self._used_up[key] = found
        return self._used_up[key]

    def _around(self, mass_kg: float, volume_l: float) -> tuple[tuple[float, float, float], ...]:
        """The mass and the volume of the buckets that are asked in its place, with the share that each has: itself
        where nothing is rounded."""
        known = self._masses.get((mass_kg, volume_l))
        if known is None:
            known = self._masses[mass_kg, volume_l] = self._masses_around(mass_kg, volume_l)
        return known

    def _masses_around(self, mass_kg: float, volume_l: float) -> tuple[tuple[float, float, float], ...]:
        if not self.grid_s or mass_kg <= 0.0:
            return ((mass_kg, volume_l, 1.0),)
        steps = math.log(mass_kg) / math.log1p(MASS_STEP)
        if abs(steps - round(steps)) < 1e-4:  # one of the grid already
            return ((mass_kg, volume_l, 1.0),)
        below = math.floor(steps)
        kg_l = mass_kg / volume_l if volume_l else 0.0
        masses = [round((1.0 + MASS_STEP) ** step, 6) for step in (below, below + 1)]
        less, more = ((kg, round(kg / kg_l, 6) if kg_l else 0.0) for kg in masses)
        share = steps - below
        return (*less, 1.0 - share), (*more, share)

    def _at_grid(self, at: datetime) -> datetime:
        """The bucket of a floor window may have been mixed up to a grid sooner: that changes what it has used little,
        and buckets that were asked for their pour-out need not be asked again."""
        if not self.grid_s:
            return at
        return datetime.fromtimestamp(at.timestamp() // BUCKET_GRID_S * BUCKET_GRID_S, UTC)

    def _bucket(self, profile: Profile, combined: datetime, bucket: Bucketful) -> BucketAnswer | None:
        key = (profile.name, combined, bucket.mass_kg, bucket.volume_l)
        if key not in self._buckets:
            self._buckets[key] = self._poured_out(profile, combined, bucket)
        return self._buckets[key]

    def _poured_out(self, profile: Profile, combined: datetime, bucket: Bucketful) -> BucketAnswer | None:
        self.meter.spend(A_BUCKET)
        learned = self._learned(profile.name, POUR_OUT)
        vessels = practice.vessels(self.standing.site).value
        fitting = [one for one in vessels if one.volume_l >= bucket.volume_l] or list(vessels)
        vessel = min(fitting, key=lambda one: one.volume_l)
        return self.bucket_model(
            Vesselful(
                profile=profile,
                mass_kg=bucket.mass_kg,
                across_m=practice.across_m(vessel).value,
                material_c=None,
                air=self.conditions.air.around_a_bucket(),
                combined=combined,
                learned_factor=learned.factor,
                learned_sigma=learned.sigma,
                observations=learned.observations,
                observed_kg=learned.mass_kg,
                advised=False,
            )
        )

    def _learned(self, product: str, window: str) -> LearnedFactor:
        return factor_of(self.standing.factors.get((product.casefold(), window)))


def _between(one: Span, other: Span, share: float, other_share: float) -> Span:
    """A span between two others, straight on the logarithm of time (as a bucket's life runs with its mass), and a hair
    less."""

    def mean(a: float | None, b: float | None) -> float | None:
        if a is None or b is None or a <= 0.0 or b <= 0.0:
            return min((value for value in (a, b) if value is not None), default=None)
        return math.exp(share * math.log(a) + other_share * math.log(b)) * ON_THE_SAFE_SIDE

    early_s, likely_s = mean(one.early_s, other.early_s), mean(one.likely_s, other.likely_s)
    return Span(early_s or 0.0, likely_s or 0.0, mean(one.late_s, other.late_s))


def _span_of(start: datetime, edge: Edge) -> Span:
    late_s = (edge.late - start).total_seconds() if edge.late is not None else None
    return Span((edge.early - start).total_seconds(), (edge.likely - start).total_seconds(), late_s)


def _less_favourable(one: Span | None, other: Span | None, closing: bool) -> Span | None:
    if one is None or other is None:
        return one or other
    if closing:
        return min(one, other, key=lambda span: span.early_s)
    return max(one, other, key=lambda span: span.safe_open_s)
