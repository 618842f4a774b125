"""The bucket by the self-heating ensemble: every resin that the sheet allows, run for this mass, vessel and warmth.

`bucket_model` answers for a bucket. The caller hands the calibrations in and can keep them between commands. A crew
mixes the same kit all day, so the model remembers the answers of equal buckets.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from functools import cache, cached_property, lru_cache
from types import MappingProxyType

from mixclock.decide.buckets import MATERIAL_DOUBT_K, Bucket, BucketAnswer, BucketModel
from mixclock.decide.clocks import LearnedFactor, prior_sigma
from mixclock.decide.edgewords import learned_words, sheet_words
from mixclock.decide.hot import hot_words
from mixclock.decide.shapes import Edge
from mixclock.formulas import ensemble
from mixclock.formulas.bucket import BucketShape
from mixclock.formulas.cup import TestCup, cup_edges, cups_agree
from mixclock.formulas.ensemble import Calibration, Edges, SheetPot
from mixclock.formulas.ensemble_draw import Body, End
from mixclock.formulas.ensemble_members import calibrate_ensemble
from mixclock.formulas.history import History
from mixclock.formulas.practicecap import capped_s
from mixclock.job.cups import Cup
from mixclock.job.entry import CupUsed
from mixclock.job.practice import POUR_S, pot_life_mass
from mixclock.job.profile import HOT_END_C, UNDATED_CLOSES_C, Family, PotLife, Profile
from mixclock.job.steps import POUR_OUT
from mixclock.values import dataclass, replace

Calibrations = Callable[[SheetPot], Calibration]

STANDS_FOR = 10.0
"""The model follows no bucket for longer than this many times its sheet's longest pot life (judgement)."""

STEADY_WITHIN_K = 0.5
"""Air that moves by less than this while the bucket stands counts as steady: equal buckets then share one answer."""

OBSERVED_SHARE = 0.5
"""Practice holds a bucket back until somebody has seen the end of one with at least this share of its mass."""

MEASURABLE_C = (-10.0, 60.0)
"""The formulas refuse material outside this range; nobody mixes there."""

FULL_SOLIDS_PCT = 99.0

EARLY_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "share of likely": "held to a share of the likely time until this product has been seen",
        "one sheet point": "one point on the sheet: cold earns little credit, heat full blame",
        "adiabatic": "held to what a mass that loses no heat would have",
        "practice": "practice: big masses of solid epoxy go off sooner than the sheet's cup tells",
    }
)


def bucket_model(calibrations: Calibrations | None = None) -> BucketModel:
    """A model of buckets that keeps its calibrations as the caller wishes."""
    return _Model(calibrations or cache(calibrate_ensemble)).answer


@dataclass(frozen=True)
class _Model:
    calibrations: Calibrations

    def answer(self, bucket: Bucket) -> BucketAnswer | None:
        """The pour-out of a bucket; None if the profile states no pot life."""
        pot_life = bucket.profile.pot_life
        if pot_life is None:
            return None
        if pot_life.span.constant and not pot_life.span.depends_on_temperature:
            return _fixed(bucket, pot_life)
        return self._modelled(bucket, pot_life)

    def _modelled(self, bucket: Bucket, pot_life: PotLife) -> BucketAnswer:
        calibration = self.calibrations(sheet_pot(bucket.profile, pot_life))
        like = _cup(bucket, 0.0)
        ask = _BucketQuestion(calibration, bucket)
        edges, lot_factor = ask.edges(0.0), ask.lot_factor
        early_s, moves_s = edges.early_s, 0.0
        if bucket.material_c is None:
            doubt_k = bucket.material_doubt_k
            early_s = min(early_s, ask.edges(doubt_k).early_s)
            if bucket.advised:
                moves_s = max(0.0, min(ask.edges(-MATERIAL_DOUBT_K).early_s, edges.likely_s) - early_s)
        early_s = math.floor(min(early_s, edges.likely_s))
        start = counted_from(bucket, pot_life)
        late = None if edges.late_s is None else start + timedelta(seconds=max(edges.late_s, edges.likely_s))
        likely = start + timedelta(seconds=edges.likely_s)
        edge = Edge(start + timedelta(seconds=early_s), likely, late)
        lasts_s = (likely - bucket.combined).total_seconds()

        def ripeness(at: datetime) -> float:
            return max(0.0, (at - bucket.combined).total_seconds()) / lasts_s

        def used(at: datetime) -> float:
            poured_s = round(max(0.0, (at - bucket.combined).total_seconds()), 1)
            return _used_of(calibration, like, poured_s, bucket.learned_factor)

        because = (*_because(bucket, like, edges), *_cup_words(bucket, ask.cup_factor))
        assumed = _assumed(bucket, pot_life, edges)
        return BucketAnswer(edge, ripeness, used, because, assumed, moves_s, lot_factor, is_too_big(bucket, edge))


@dataclass(frozen=True)
class _BucketQuestion:
    """One bucket as its calibration answers for it, warmer or colder than likely."""

    calibration: Calibration
    bucket: Bucket

    def edges(self, warmer_k: float) -> Edges:
        bucket = self.bucket
        like, held = _cup(bucket, warmer_k), is_held_back(bucket)
        learned = LearnedFactor(bucket.learned_factor, bucket.learned_sigma, bucket.observations)
        plain = _edges(self.calibration, like, learned, held)
        if not self.cups:
            return plain
        tried, _ = cup_edges(self.calibration, self.cups, like, factor=bucket.learned_factor, practice=held)
        if cups_agree(self.calibration, self.cups):
            return tried
        return replace(tried, early_s=min(tried.early_s, plain.early_s))  # one cup alone never lengthens a time

    @cached_property
    def cups(self) -> tuple[TestCup, ...]:
        """The cups of the bucket's lot that showed anything."""
        return tuple(_test_cup(cup) for cup in self.bucket.cups if cup.end_s is not None or cup.read_s)

    @cached_property
    def cup_factor(self) -> float:
        """What the cups say of the lot's times, as a factor on the sheet's."""
        if not self.cups:
            return 1.0
        return cup_edges(self.calibration, self.cups, _cup(self.bucket, 0.0), factor=self.bucket.learned_factor)[1]

    @property
    def lot_factor(self) -> float:
        """The factor on the floor ends that a crew races. Two cups that agree may lengthen them; one cup only shortens
        them."""
        if self.bucket.profile.family is Family.POLYASPARTIC:
            return 1.0
        return self.cup_factor if cups_agree(self.calibration, self.cups) else min(1.0, self.cup_factor)


def _test_cup(cup: CupUsed) -> TestCup:
    readings = tuple(zip(cup.read_s, cup.read_c, strict=True))
    return TestCup(ensemble.BucketLoad(cup.mass_kg, cup.material_c, cup.air_c, None, readings), cup.end_s)


def cup_by_sheet_s(profile: Profile, cup: Cup, calibrations: Calibrations) -> float | None:
    """When a test cup ends by its sheet alone [s from mixing]; None if the sheet states no pot life."""
    if profile.pot_life is None:
        return None
    like = ensemble.BucketLoad(cup.mass_kg, cup.material_c, cup.air_c, BucketShape(None, profile.mixed_kg_l))
    return ensemble.edge_times(calibrations(sheet_pot(profile, profile.pot_life)), like).likely_s


def _cup_words(bucket: Bucket, factor: float) -> tuple[str, ...]:
    """What the cups of the lot say, in words."""
    if not bucket.cups:
        return ()
    many = "a cup" if len(bucket.cups) == 1 else f"{len(bucket.cups)} cups"
    share = abs(factor - 1.0) * 100.0
    return (
        f"{many} of lot {bucket.cups[0].lot}: {share:.0f} % {'slower' if factor > 1.0 else 'faster'} than the sheet",
    )


def counted_from(bucket: Bucket, pot_life: PotLife) -> datetime:
    """When a pot life begins: when part B goes in, or at the end of mixing if the sheet is a kit maker's."""
    return bucket.combined + timedelta(seconds=bucket.mixing_takes_s if pot_life.measured_hot else 0.0)


def is_too_big(bucket: Bucket, edge: Edge) -> bool:
    """Whether a bucket's time ends before anybody can mix it and pour it."""
    return (edge.early - bucket.combined).total_seconds() < bucket.mixing_takes_s + POUR_S.value


def is_held_back(bucket: Bucket) -> bool:
    """Whether practice holds a bucket back: it does until somebody has seen the end of one of half its mass or more."""
    return is_full_solids(bucket.profile) and bucket.observed_kg < OBSERVED_SHARE * bucket.mass_kg


def sheet_pot(profile: Profile, pot_life: PotLife) -> SheetPot:
    """The sheet's pot life, in the form that the ensemble is calibrated on."""
    span = pot_life.span.reckoned(closing=True)
    points = tuple((point.temp_c, point.span_s) for point in span.points if point.temp_c is not None)
    return SheetPot(
        points=points,
        mass_kg=pot_life_mass(profile).value,
        end=_end(pot_life),
        body=_body(profile),
        vessel=BucketShape(density_kg_l=profile.mixed_kg_l),
    )


def _end(pot_life: PotLife) -> End:
    if pot_life.measured_hot:
        return "hot"
    if not pot_life.end_stated:
        return "unknown"
    return "gel" if pot_life.end == "gel" else "workability"


def _body(profile: Profile) -> Body:
    if profile.family is Family.WATERBORNE_EPOXY:
        return "waterborne"
    return "filled" if profile.filled else "unfilled"


def is_full_solids(profile: Profile) -> bool:
    """Whether the practice cap on a full kit applies. An epoxy whose sheet is silent counts as full solids."""
    solids = profile.film.volume_solids_pct
    return profile.family is Family.EPOXY and (solids is None or solids >= FULL_SOLIDS_PCT)


def _cup(bucket: Bucket, warmer_k: float) -> ensemble.BucketLoad:
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
    vessel = BucketShape(bucket.across_m, bucket.profile.mixed_kg_l)
    return ensemble.BucketLoad(round(bucket.mass_kg, 2) or 0.01, _held(material_c + warmer_k), air, vessel, readings)


def _while_it_stands(air: History, start_s: float, span_s: float) -> History:
    """The air around a bucket, from mixing on and for as long as any bucket could stand. No other air matters to it."""
    air = air.back_to(start_s)
    first = max(0, bisect_right(air.times_s, start_s) - 1)
    last = bisect_left(air.times_s, start_s + span_s) + 1
    return History(air.times_s[first:last], air.values[first:last]).shifted(-start_s)


def _held(temp_c: float) -> float:
    low, high = MEASURABLE_C
    return min(high, max(low, temp_c))


@lru_cache(maxsize=4096)
def _edges_of(calibration: Calibration, cup: ensemble.BucketLoad, factor: float, observed: bool, held: bool) -> Edges:
    return ensemble.edge_times(calibration, cup, factor=factor, observed=observed, practice=held)


def _edges(calibration: Calibration, cup: ensemble.BucketLoad, learned: LearnedFactor, held: bool) -> Edges:
    observed = learned.observations > 0
    edges = _edges_of(calibration, cup, learned.factor, observed, held)
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
def _used_of(calibration: Calibration, cup: ensemble.BucketLoad, poured_s: float, factor: float) -> float:
    return ensemble.hand_over(calibration, cup, poured_s, factor).likely_ripeness


def _fixed(bucket: Bucket, pot_life: PotLife) -> BucketAnswer:
    """The answer for a pot life that no temperature moves, by its file: the clock alone, held back by practice."""
    start = counted_from(bucket, pot_life)
    span_s = early_s = pot_life.span.points[0].span_s * bucket.learned_factor
    if is_held_back(bucket):
        like = _cup(bucket, 0.0)
        air_c = bucket.air.likely.at(bucket.combined.timestamp())
        early_s = capped_s(span_s, like.mass_kg, pot_life_mass(bucket.profile).value, max(like.material_c, air_c))
    likely = start + timedelta(seconds=span_s)
    edge = Edge(start + timedelta(seconds=early_s), likely, likely)

    def share(at: datetime) -> float:
        return max(0.0, (at - bucket.combined).total_seconds()) / (likely - bucket.combined).total_seconds()

    because = [f"sheet: {sheet_words(pot_life.span, bucket.units)} in the bucket"]
    if early_s < span_s:
        because.append(EARLY_WORDS["practice"])
    still = ("the sheet gives no temperature: it stands still at any",)
    return BucketAnswer(edge, share, share, tuple(because), still, too_big=is_too_big(bucket, edge))


def _because(bucket: Bucket, like: ensemble.BucketLoad, edges: Edges) -> tuple[str, ...]:
    assert bucket.profile.pot_life is not None
    mass_kg = pot_life_mass(bucket.profile).value
    because = [
        f"sheet: {sheet_words(bucket.profile.pot_life.span, bucket.units)} for {bucket.units.write_mass(mass_kg)}"
    ]
    because.append(f"this bucket: {bucket.units.write_mass(bucket.mass_kg)}, which heats itself")
    if bucket.readings:
        because.append(f"sharpened by {len(bucket.readings)} readings in the bucket")
    if bucket.profile.pot_life.measured_hot:
        because.append(
            f"a kit's time to {bucket.units.write_temp(HOT_END_C)}, from the end of mixing, as the maker prints it"
        )
    if bucket.observations:
        because.append(learned_words(LearnedFactor(bucket.learned_factor, bucket.learned_sigma, bucket.observations)))
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
        doubt = bucket.units.write_difference(bucket.material_doubt_k)
        assumed.append(f"material not measured: as warm as the air, ±{doubt}")
    assumed.extend(bucket.air.assumed)
    if pot_life.span.undated:
        taken = bucket.units.write_temp(UNDATED_CLOSES_C)
        assumed.append(f"the sheet gives no temperature: taken at {taken}, to be safe; ask for it")
    if pot_life.mass_kg is None:
        cup = bucket.units.write_mass(pot_life_mass(bucket.profile).value)
        assumed.append(f"the sheet names no mass: {cup} assumed")
    if bucket.across_m is None:
        assumed.append("bucket as wide as it is filled high")
    if edges.late_s is None:
        assumed.append("colder than the sheet: no late time may be claimed")
    if bucket.profile.family in (Family.POLYASPARTIC, Family.POLYURETHANE, Family.ACRYLIC):
        assumed.append("heats itself like an epoxy")
    return tuple(assumed)
