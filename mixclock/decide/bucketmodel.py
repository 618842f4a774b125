"""The bucket by the self-heating ensemble: every resin that the sheet allows, run for this mass, vessel and warmth.

`bucket_model` answers for a bucket. Calibrations are handed in, so that the caller can keep them between commands; the
answers of equal buckets are remembered, as a crew mixes the same kit all day.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache, lru_cache
from types import MappingProxyType

from mixclock.decide.buckets import Bucket, BucketAnswer, BucketModel
from mixclock.decide.clocks import Learned, prior_sigma
from mixclock.decide.edgewords import learned_words, sheet_words
from mixclock.decide.hot import hot_words
from mixclock.decide.shapes import Edge
from mixclock.formulas import ensemble
from mixclock.formulas.ensemble import Calibration, Edges, SheetPot, Vessel, calibrate_ensemble
from mixclock.formulas.ensemble_draw import Body, End
from mixclock.formulas.history import History
from mixclock.job.amounts import ASSUMED_DENSITY_KG_L, mixed_density
from mixclock.job.practice import pot_life_mass
from mixclock.job.profile import Family, PotLife, Profile
from mixclock.job.windownames import POUR_OUT

Calibrations = Callable[[SheetPot], Calibration]

MATERIAL_DOUBT_K = 3.0
"""Material that nobody measured is taken as warm as the air, ±3 °C; early reckons with the warmer (judgement)."""

STANDS_FOR = 10.0
"""No bucket is looked at for longer than this many times its sheet's longest pot life (judgement)."""

STEADY_WITHIN_K = 0.5
"""Air that moves by less than this while the bucket stands is held: equal buckets then share one answer."""

STATED_C = 23.0
"""The temperature of a pot life that names none: from memory, laboratory air."""

MEASURABLE_C = (-10.0, 60.0)
"""Material outside this is refused by the formulas; nobody mixes there."""

FULL_SOLIDS_PCT = 99.0

EARLY_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "share of likely": "held to a share of the likely time until this product has been seen",
        "one sheet point": "one point on the sheet: cold earns little credit, heat full blame",
        "adiabatic": "held to what a mass that loses no heat would have",
        "practice": "practice: a full kit gets 10 minutes in the bucket at most",
    }
)


def bucket_model(calibrations: Calibrations | None = None) -> BucketModel:
    """A model of buckets that keeps its calibrations as the caller wishes."""
    return _Model(calibrations or cache(calibrate_ensemble)).answer


@dataclass(frozen=True)
class _Model:
    calibrations: Calibrations

    def answer(self, bucket: Bucket) -> BucketAnswer | None:
        """The pour-out of a bucket; None where the profile states no pot life."""
        pot_life = bucket.profile.pot_life
        if pot_life is None:
            return None
        if not pot_life.span.depends_on_temperature:
            return _fixed(bucket, pot_life)
        return self._modelled(bucket, pot_life)

    def _modelled(self, bucket: Bucket, pot_life: PotLife) -> BucketAnswer:
        calibration = self.calibrations(sheet_pot(bucket.profile, pot_life))
        like = _cup(bucket, 0.0)
        learned = Learned(bucket.learned_factor, bucket.learned_sigma, bucket.observations)
        capped = is_full_solids(bucket.profile)
        edges = _edges(calibration, like, learned, capped)
        early_s = edges.early_s
        if bucket.material_c is None:
            early_s = min(early_s, _edges(calibration, _cup(bucket, MATERIAL_DOUBT_K), learned, capped).early_s)
        start = bucket.combined
        late = None if edges.late_s is None else start + timedelta(seconds=max(edges.late_s, edges.likely_s))
        early = start + timedelta(seconds=math.floor(min(early_s, edges.likely_s)))
        likely = start + timedelta(seconds=edges.likely_s)

        def ripeness(at: datetime) -> float:
            return max(0.0, (at - start).total_seconds()) / edges.likely_s

        def used(at: datetime) -> float:
            poured_s = round(max(0.0, (at - start).total_seconds()), 1)
            return _used(calibration, like, poured_s, learned.factor)

        because = _because(bucket, like, edges, learned)
        return BucketAnswer(Edge(early, likely, late), ripeness, used, because, _assumed(bucket, pot_life, edges))


def sheet_pot(profile: Profile, pot_life: PotLife) -> SheetPot:
    """The sheet's pot life as the ensemble is calibrated on it."""
    points = tuple((point.temp_c, point.span_s) for point in pot_life.span.points if point.temp_c is not None)
    return SheetPot(
        points=points,
        mass_kg=pot_life_mass(profile).value,
        end=_end(pot_life),
        body=_body(profile),
        vessel=Vessel(density_kg_l=_density_kg_l(profile)),
    )


def _end(pot_life: PotLife) -> End:
    if not pot_life.end_stated:
        return "unknown"
    return "gel" if pot_life.end == "gel" else "workability"


def _body(profile: Profile) -> Body:
    if profile.family is Family.WATERBORNE_EPOXY:
        return "waterborne"
    return "filled" if profile.filled else "unfilled"


def _density_kg_l(profile: Profile) -> float:
    return mixed_density(profile) or ASSUMED_DENSITY_KG_L


def is_full_solids(profile: Profile) -> bool:
    """Whether the practice cap on a full kit applies; an epoxy whose sheet is silent is taken as full solids."""
    solids = profile.film.volume_solids_pct
    return profile.family is Family.EPOXY and (solids is None or solids >= FULL_SOLIDS_PCT)


def _cup(bucket: Bucket, warmer_k: float) -> ensemble.Bucket:
    start_s = bucket.combined.timestamp()
    air_c = round(_held(bucket.air.likely.at(start_s)), 1)
    lasts_s = max(point.span_s for point in bucket.profile.pot_life.span.points) if bucket.profile.pot_life else 0.0
    ahead = (_held(bucket.air.likely.at(start_s + share * lasts_s)) for share in (0.5, 1.0))
    moves = any(abs(value - air_c) > STEADY_WITHIN_K for value in ahead)
    air = _while_it_stands(bucket.air.likely, start_s, STANDS_FOR * lasts_s) if moves else air_c
    material_c = air_c if bucket.material_c is None else bucket.material_c
    readings = tuple(
        (sample.at.timestamp() - start_s, sample.value) for sample in bucket.readings if sample.at >= bucket.combined
    )
    vessel = Vessel(bucket.across_m, _density_kg_l(bucket.profile))
    return ensemble.Bucket(round(bucket.mass_kg, 2) or 0.01, _held(material_c + warmer_k), air, vessel, readings)


def _while_it_stands(air: History, start_s: float, span_s: float) -> History:
    """The air from mixing on, as long as any bucket could stand: what was before and comes after is nothing to it."""
    first = max(0, bisect_right(air.times_s, start_s) - 1)
    last = bisect_left(air.times_s, start_s + span_s) + 1
    return History(air.times_s[first:last], air.values[first:last]).shifted(-start_s)


def _held(temp_c: float) -> float:
    low, high = MEASURABLE_C
    return min(high, max(low, temp_c))


@dataclass(frozen=True, eq=False)
class _ById:
    """A calibration as a key: the same object is the same key."""

    calibration: Calibration

    def __hash__(self) -> int:
        return id(self.calibration)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _ById) and other.calibration is self.calibration


@lru_cache(maxsize=4096)
def _edges_of(calibration: _ById, cup: ensemble.Bucket, factor: float, observed: bool, capped: bool) -> Edges:
    return ensemble.edge_times(calibration.calibration, cup, factor=factor, observed=observed, practice_cap=capped)


def _edges(calibration: Calibration, cup: ensemble.Bucket, learned: Learned, capped: bool) -> Edges:
    observed = learned.observations > 0
    edges = _edges_of(_ById(calibration), cup, learned.factor, observed, capped)
    if not observed or learned.sigma is None:
        return edges
    narrower = min(1.5, learned.sigma / prior_sigma(POUR_OUT))
    early_s, late_s = edges.early_s, edges.late_s
    if edges.early_by == "spread":
        early_s = edges.likely_s * (edges.early_s / edges.likely_s) ** narrower
    if late_s is not None and edges.late_by == "spread":
        late_s = edges.likely_s * (late_s / edges.likely_s) ** narrower
    return Edges(early_s, edges.likely_s, late_s, edges.early_by, edges.late_by, edges.hot_s, edges.adiabatic_s)


@lru_cache(maxsize=4096)
def _used_of(calibration: _ById, cup: ensemble.Bucket, poured_s: float, factor: float) -> float:
    return ensemble.hand_over(calibration.calibration, cup, poured_s, factor=factor).ripeness[1]


def _used(calibration: Calibration, cup: ensemble.Bucket, poured_s: float, factor: float) -> float:
    return _used_of(_ById(calibration), cup, poured_s, factor)


def _fixed(bucket: Bucket, pot_life: PotLife) -> BucketAnswer:
    """A pot life without a temperature on its sheet: the clock alone, with the practice cap."""
    start, span_s = bucket.combined, pot_life.span.points[0].span_s * bucket.learned_factor
    early_s = span_s
    if is_full_solids(bucket.profile) and bucket.mass_kg >= ensemble.FULL_KIT_KG:
        early_s = min(span_s, ensemble.PRACTICE_CAP_S)
    edge = Edge(
        start + timedelta(seconds=early_s), start + timedelta(seconds=span_s), start + timedelta(seconds=span_s)
    )

    def share(at: datetime) -> float:
        return max(0.0, (at - start).total_seconds()) / span_s

    because = (f"sheet: {sheet_words(pot_life.span, bucket.units)} in the bucket",)
    return BucketAnswer(edge, share, share, because, ("the sheet gives no temperature: the same at any",))


def _because(bucket: Bucket, like: ensemble.Bucket, edges: Edges, learned: Learned) -> tuple[str, ...]:
    assert bucket.profile.pot_life is not None
    mass_kg = pot_life_mass(bucket.profile).value
    because = [
        f"sheet: {sheet_words(bucket.profile.pot_life.span, bucket.units)} for {bucket.units.write_mass(mass_kg)}"
    ]
    because.append(f"this bucket: {bucket.units.write_mass(bucket.mass_kg)}, which heats itself")
    if bucket.readings:
        because.append(f"sharpened by {len(bucket.readings)} readings in the bucket")
    if learned.observations:
        because.append(learned_words(learned))
    if edges.early_by == "hot":
        because.append(f"by then the mass is at {hot_words(like.material_c, bucket.units)}")
    elif edges.early_by in EARLY_WORDS:
        because.append(EARLY_WORDS[edges.early_by])
    if bucket.profile.family is Family.WATERBORNE_EPOXY:
        because.append("nothing visible marks its end: the clock alone rules")
    return tuple(because)


def _assumed(bucket: Bucket, pot_life: PotLife, edges: Edges) -> tuple[str, ...]:
    assumed = []
    if bucket.material_c is None:
        assumed.append("material not measured: as warm as the air, ±3 °C")
    assumed.extend(bucket.air.assumed)
    if pot_life.mass_kg is None:
        assumed.append("the sheet names no mass: 150 g assumed")
    if bucket.across_m is None:
        assumed.append("bucket as wide as it is filled high")
    if edges.late_s is None:
        assumed.append("colder than the sheet: no late time may be claimed")
    if bucket.profile.family in (Family.POLYASPARTIC, Family.POLYURETHANE, Family.ACRYLIC):
        assumed.append("heats itself like an epoxy")
    return tuple(assumed)
