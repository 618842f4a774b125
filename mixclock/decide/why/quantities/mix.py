"""What was in the bucket: ratio, mixing, lots, heat."""

from __future__ import annotations

from datetime import datetime

from mixclock.decide.hot import hot_limit_c
from mixclock.decide.why.case import Case
from mixclock.decide.why.gauge import Gauge
from mixclock.decide.why.layers import Fact, Gap, Layer, LayerPiece, Value, worst
from mixclock.decide.why.observation import Observation
from mixclock.decide.why.settings import longer_mixing, parts_measured
from mixclock.decide.why.statedtimes import span_sigma_s
from mixclock.job.entry import Combined, MixingEnded
from mixclock.job.profile import Profile
from mixclock.job.progress import Batch, StatedFact, mixing_span_told

_ASK = "ask who mixed it, and state it with --at"
TOLD_SPAN_SIGMA_S = 20.0
"""How well people know how long they mixed (judgement)."""

WHOLE_KIT = 0.03
"""A batch within this share of whole kits was opened as kits, and so has the maker's ratio (judgement)."""


def ratio_error(case: Case, laid: Layer) -> Fact:
    """How far A to B was off the sheet's ratio, in the worst batch."""
    profile = case.profile(laid)
    if profile is None or not profile.two_part:
        return None
    return worst([_ratio_error(case, laid, batch, profile) for batch in laid.batches], +1)


def _ratio_error(case: Case, laid: Layer, batch: Batch, profile: Profile) -> Fact:
    measured = _measured_ratio(batch, profile)
    if measured is not None:
        ratio, wanted = measured
        error = abs(ratio / wanted - 1.0) * 100.0
        return Value(error, batch=batch.id, told=f"batch {batch.id}: {ratio:.2f} to 1 instead of {wanted:.2f} to 1")
    coat = case.coat(laid)
    kit = coat.kit_l if coat else None
    if kit and abs(batch.volume_l / kit - round(batch.volume_l / kit)) <= WHOLE_KIT and batch.volume_l >= 0.9 * kit:
        return Value(0.0, batch=batch.id, told=f"batch {batch.id}: whole kits", sigma=2.0)
    return Gap(
        f"how much A and how much B went into batch {batch.id}", "weigh what is left in the pails; ask the mixer"
    )


def _measured_ratio(batch: Batch, profile: Profile) -> tuple[float, float] | None:
    by_volume, by_mass, density = profile.mix.ratio_by_volume, profile.mix.ratio_by_mass, profile.mix.density_kg_l
    if batch.a_l and batch.b_l:
        if by_volume:
            return batch.a_l / batch.b_l, by_volume[0] / by_volume[1]
        if by_mass and density and len(density) > 1:
            return batch.a_l * density[0] / (batch.b_l * density[1]), by_mass[0] / by_mass[1]
    if batch.a_kg and batch.b_kg:
        if by_mass:
            return batch.a_kg / batch.b_kg, by_mass[0] / by_mass[1]
        if by_volume and density and len(density) > 1:
            return batch.a_kg / density[0] / (batch.b_kg / density[1]), by_volume[0] / by_volume[1]
    return None


def mixing(case: Case, laid: Layer) -> Fact:
    """Mixing time over the sheet's, in the batch that was mixed shortest."""
    profile = case.profile(laid)
    if profile is None or not profile.mix.time_s:
        return None
    wanted = profile.mix.time_s
    return worst([_mixing(case, batch, wanted) for batch in laid.batches], -1)


def _mixing(case: Case, batch: Batch, wanted_s: float) -> Fact:
    if not batch.mixing_stated and not mixing_span_told(case.entry(batch.combined.entry)):
        return Gap(f"how long batch {batch.id} was mixed", _ASK)
    took_s = (batch.mixing_ended - batch.combined.at).total_seconds()
    told = f"batch {batch.id}: {took_s / 60.0:.1f} min instead of {wanted_s / 60.0:.1f} min"
    sigma = _mixing_sigma_s(case, batch) / wanted_s
    return Value(max(took_s, 1.0) / wanted_s, batch=batch.id, sigma=sigma, told=told, at=batch.mixing_ended)


def _mixing_sigma_s(case: Case, batch: Batch) -> float:
    """The doubt of a mixing time. A span that somebody told is surer than one between two stated times."""
    entry = case.entry(batch.combined.entry)
    if entry is not None and isinstance(entry.facts, Combined) and entry.facts.mixing_s is not None:
        return TOLD_SPAN_SIGMA_S
    return span_sigma_s(batch.combined, StatedFact(batch.mixing_ended, None, 0, _written_end(case, batch)))


def _written_end(case: Case, batch: Batch) -> datetime:
    ends = [entry.written for entry in case.live
            if isinstance(entry.facts, MixingEnded) and entry.facts.batch == batch.id]  # fmt: skip
    return max(ends, default=batch.combined.written)


def lot(case: Case, laid: Layer) -> Fact:
    """A lot that no other area of the same coat got."""
    lots = {lot for batch in laid.batches for lot in batch.lots}
    missing = next((batch for batch in laid.batches if not batch.lots), None)
    if not lots:
        return Gap(f"the lot of batch {laid.batches[0].id}", "read it on the empty pails, and state it")
    siblings = case.healthy(laid) or case.unseen(laid)
    others = {lot for sibling in siblings for batch in sibling.batches for lot in batch.lots}
    alone = sorted(lots - others)
    gap = Gap(f"the lot of batch {missing.id}", "read it on the empty pails, and state it") if missing else None
    if alone and others:
        return Value(f"lot {', '.join(alone)}; the other areas had {', '.join(sorted(others))}", gap=gap)
    if not siblings:
        return None
    if not others:
        return Gap("the lots of the other areas", "read them on the empty pails, and state them")
    return Value(0.0, told=f"lot {', '.join(sorted(lots))}, as on the other areas", gap=gap)


def first_of_pail(case: Case, laid: Layer) -> Fact:
    """Whether a batch was the first out of its lot, and so took with it what had settled."""
    seen: set[str] = set()
    for batch in case.standing.batches:
        if batch.lots and not seen.issuperset(batch.lots):
            seen.update(batch.lots)
            if batch.id in {own.id for own in laid.batches} and len(case.standing.batches) > 1:
                return Value(f"batch {batch.id} was the first from lot {', '.join(batch.lots)}", batch=batch.id)
    return None


def _hottest(case: Case, piece: LayerPiece) -> Fact:
    readings = case.standing.readings.bucket(piece.batch.id)
    if not readings:
        return None
    hot = max(readings, key=lambda sample: sample.value)
    limit = hot_limit_c(case.standing, piece.batch)
    return Value(hot.value, limit=limit, batch=piece.batch.id, at=hot.at, told=f"bucket of batch {piece.batch.id}")


def stringy(_: Case, laid: Layer) -> Fact:
    """Whether somebody saw the mix go stringy before it was poured."""
    for piece in laid.pieces:
        for sign in piece.batch.signs:
            if sign.sign == "stringy" and sign.stated.at <= piece.since:
                return Value(f"batch {piece.batch.id} went stringy before it was poured", batch=piece.batch.id)
    return None


RATIO_ERROR = Gauge(
    "ratio_error_pct",
    "error of the mix ratio",
    ratio_error,
    +1,
    5.0,
    5.0,
    1.5,
    "sheets allow 2 to 5 % (common practice, no source)",
    "twice what sheets allow (judgement)",
    "marks on a pail or a shop scale: 1.5 % (judgement)",
    unit="pct",
    setting=parts_measured,
)

MIXING = Gauge(
    "mixing_share",
    "mixing time as a share of the sheet's",
    mixing,
    -1,
    1.0,
    1.0 / 3.0,
    0.12,
    "mixing time on the data sheet",
    "a third of the mixing left out (judgement)",
    "a span that was told is good to 20 s and one between two taps to 73 s (judgement)",
    unit="share",
    setting=longer_mixing,
)

HOTTEST_BUCKET = Gauge(
    "bucket_max_c",
    "hottest bucket",
    lambda case, laid: worst([_hottest(case, piece) for piece in laid.pieces], +1),
    +1,
    40.0,
    15.0,
    2.0,
    "15 K over the mix up to 25 °C, 40 °C up to 28 °C, 12 K over the mix above: an alarm by itself (judgement)",
    "at 55 °C the mix is past saving",
    "probe held in a thick mix (judgement)",
    unit="c",
)

LOT = Observation("lot", "lot", lot)
FIRST_OF_PAIL = Observation("first of pail", "first of pail", first_of_pail)
STRINGY = Observation("sign:stringy", "seen", stringy)
