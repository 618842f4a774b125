"""How far each window's clock had run when its step was stated."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from mixclock.decide.shapes import Edge
from mixclock.decide.tracks import Track
from mixclock.decide.why.case import Case, clock_beside, clock_text
from mixclock.decide.why.gauge import BAND_20, BAND_25, CLOCK, Gauge, ripeness_gauge
from mixclock.decide.why.layers import Fact, Gap, Layer, LayerPiece, Value, worst
from mixclock.decide.why.settings import longer_stand, recoat_between, step_in_time, traffic_later
from mixclock.decide.why.statedtimes import is_doubtful, span_sigma_s, was_tapped
from mixclock.formulas.rate_law import P90_SIGMAS
from mixclock.job.entry import Traffic
from mixclock.job.progress import Portion, StatedFact
from mixclock.job.steps import BACK_ROLL, BROADCAST, FOOT_TRAFFIC, INDUCTION, POUR_OUT, RECOAT, VEHICLE_TRAFFIC
from mixclock.values import replace

NO_BAND_SIGMA = 0.35
"""The spread if nobody may claim a band, for a bucket colder than its sheet (judgement: nearly twice the ±25 %)."""

CLEARED_TO = 0.8
"""If a step was over by this share of its window, it was in time, whenever exactly it was (judgement: the early
edge)."""

MOST_RAN = 3.0
"""Nobody can roll, flake or pour at three times the working time. Whoever taps then taps late (judgement)."""

_ASK = "ask who was there, and state it with --at"


def pour_out(case: Case, laid: Layer) -> Fact:
    """The pot life used when the worst piece was poured."""
    return worst([_pour_out(case, piece) for piece in laid.pieces], +1)


def _pour_out(case: Case, piece: LayerPiece) -> Fact:
    track = case.track(POUR_OUT, piece, None)
    if track is None:
        return None
    if piece.portion is None:
        return Gap(f"when batch {piece.batch.id} was poured", _ASK)
    if piece.portion.assumed:
        steps = [stated.at for stated in piece.portion.steps.values()]
        return _at_the_latest(track, piece, min(steps, default=None), "poured")
    poured = piece.portion.poured
    ripe = track.ripeness_closes(poured.at)
    if _tapped_late(piece, poured, ripe):
        return _at_the_latest(track, piece, poured.at, "poured")
    return _value(case, track, piece, poured, ripe, "poured", start=piece.batch.combined)


def _tapped_late(piece: LayerPiece, stated: StatedFact, ripe: float | None) -> bool:
    """Whether the tap tells only that the step was over by then."""
    return is_doubtful(piece, stated) or (was_tapped(stated) and ripe is not None and ripe > MOST_RAN)


def _at_the_latest(track: Track, piece: LayerPiece, at: datetime | None, said: str) -> Fact:
    """A step whose time nobody stated was over when a later step was stated. That may clear it already."""
    latest = track.ripeness_closes(at) if at is not None else None
    if at is None or latest is None or latest > CLEARED_TO:
        return Gap(f"when batch {piece.batch.id} was {said}{f' on {track.area}' if track.area else ''}", _ASK)
    told = f"batch {piece.batch.id} was {said} by then at the latest"
    return Value(max(latest, 1e-4), batch=piece.batch.id, at=at, told=told)


def back_roll(case: Case, laid: Layer) -> Fact:
    """The back-roll window used when the worst piece was rolled."""
    return _step(case, laid, BACK_ROLL, "rolled")


def broadcast(case: Case, laid: Layer) -> Fact:
    """The broadcast window used when the worst piece was flaked, if the coat takes flake or somebody threw some."""
    coat = case.coat(laid)
    stated = any(piece.portion is not None and piece.portion.step(BROADCAST, laid.area) for piece in laid.pieces)
    if coat is not None and coat.flake_kg_m2 is None and not stated:
        return None
    return _step(case, laid, BROADCAST, "flaked")


def _step(case: Case, laid: Layer, window: str, said: str) -> Fact:
    profile = case.profile(laid)
    if profile is None or profile.window(window) is None:
        return None
    return worst([_step_of(case, laid, piece, window, said) for piece in laid.pieces], +1)


def _step_of(case: Case, laid: Layer, piece: LayerPiece, window: str, said: str) -> Fact:
    portion = piece.portion
    if portion is None or portion.assumed or is_doubtful(piece, portion.poured):
        return Gap(f"when batch {piece.batch.id} was poured", _ASK)
    track = case.track(window, piece, laid.area)
    stated = portion.step(window, laid.area)
    if track is None or track.closes is None:
        return None
    if stated is None:
        return Gap(f"when batch {piece.batch.id} was {said} on {laid.area}", _ASK)
    ripe = track.ripeness_closes(stated.at)
    before = _over_by(portion, window, laid.area, stated)
    if before is not None or _tapped_late(piece, stated, ripe):
        return _at_the_latest(track, piece, before or stated.at, said)
    return _without_bucket(case, piece, track, _value(case, track, piece, stated, ripe, said, start=portion.poured))


def _over_by(portion: Portion, window: str, area: str, stated: StatedFact) -> datetime | None:
    """When the roll was over at the latest. Nobody rolls through flake, so a roll stated after the flake was over
    before it."""
    flaked = portion.step(BROADCAST, area) if window == BACK_ROLL else None
    return flaked.at if flaked is not None and flaked.at < stated.at else None


def _without_bucket(case: Case, piece: LayerPiece, track: Track, value: Fact) -> Fact:
    """The share used without the bucket's part: what an over-aged bucket used up is the bucket's fault, not the
    step's."""
    poured_late = _pour_out(case, piece)
    over = isinstance(poured_late, Value) and isinstance(poured_late.value, float) and poured_late.value > 1.0
    if not over or track.closes is None or not isinstance(value, Value) or not isinstance(value.value, float):
        return value
    on_floor = max(0.01, value.value - track.closes.start_ripeness)
    told = f"{value.told} (without what the bucket had used up)"
    return replace(value, value=on_floor, told=told, called=None)


def stand(case: Case, laid: Layer) -> Fact:
    """How much of the sheet's induction had passed when the first of the bucket was poured."""
    profile = case.profile(laid)
    rule = profile.window(INDUCTION) if profile else None
    if rule is None or rule.opens is None or max(point.span_s for point in rule.opens.points) < 60.0:
        return None
    return worst([_stand(case, piece) for piece in laid.pieces], -1)


def _stand(case: Case, piece: LayerPiece) -> Fact:
    track = case.track(INDUCTION, piece, None)
    if track is None or track.opens is None or piece.poured is None or piece.portion is None:
        return Gap(f"how long batch {piece.batch.id} stood before it was poured", _ASK)
    ripe = track.ripeness_opens(piece.poured)
    stated = piece.portion.poured
    wanted_s = _wanted_s(track)
    sigma = math.hypot(0.05, span_sigma_s(None, stated) / wanted_s)
    told = f"batch {piece.batch.id} stood {_minutes(piece.poured - track.starts)} of {wanted_s / 60.0:.0f} min"
    return Value(max(ripe or 0.0, 0.0), sigma=sigma, at=piece.poured, batch=piece.batch.id, told=told)


def _wanted_s(track: Track) -> float:
    assert track.opens is not None
    return max(60.0, (track.opens.edge.likely - track.starts).total_seconds())


def _minutes(span: timedelta) -> str:
    return f"{max(0.0, span.total_seconds()) / 60.0:.0f}"


def _recoat(case: Case, laid: Layer, worse: int) -> Fact:
    below = case.below(laid)
    if below is None:
        return None
    mine = next((piece for piece in laid.pieces if piece.poured is not None), None)
    if mine is None or mine.portion is None:
        return Gap(f"when batch {laid.pieces[0].batch.id} was poured", _ASK)
    return worst([_recoat_of(case, below, piece, mine.portion.poured, worse) for piece in below.pieces], worse)


def _recoat_of(case: Case, below: Layer, piece: LayerPiece, next_pour: StatedFact, worse: int) -> Fact:
    track = case.track(RECOAT, piece, below.area)
    if track is None:
        return None
    if piece.poured is None:
        return Gap(f"when batch {piece.batch.id} was poured", _ASK)
    ripe = track.ripeness_opens(next_pour.at) if worse < 0 else track.ripeness_closes(next_pour.at)
    if ripe is None:
        return None
    start = piece.portion.poured if piece.portion else None
    return _value(case, track, piece, next_pour, ripe, f"recoated over {below.coat}", start=start, opening=worse < 0)


def traffic(case: Case, laid: Layer) -> Fact:
    """How far the traffic window had opened when feet or wheels came."""
    entries = [
        entry
        for entry in case.live
        if isinstance(entry.facts, Traffic) and entry.facts.area == laid.area and entry.happened > laid.first
    ]
    above = case.above(laid)
    if above is not None:
        entries = [entry for entry in entries if entry.happened < above.first]
    if not entries:
        return Gap(f"when people or cars first used {laid.area}", "ask the owner, and state it with `traffic` and --at")
    found = [_traffic(case, laid, entry.happened, entry.facts, entry.written) for entry in entries]
    return worst([value for value in found if value is not None], -1)


def _traffic(case: Case, laid: Layer, at: datetime, facts: object, written: datetime) -> Fact:
    assert isinstance(facts, Traffic)
    window = VEHICLE_TRAFFIC if facts.by_what == "vehicle" else FOOT_TRAFFIC
    values = []
    for piece in laid.pieces:
        track = case.track(window, piece, laid.area)
        ripe = track.ripeness_opens(at) if track is not None else None
        if track is not None and ripe is not None:
            stated = StatedFact(at, None, 0, written)
            start = piece.portion.poured if piece.portion else None
            value = _value(case, track, piece, stated, ripe, "laid", start, opening=True)
            values.append(_told_of_traffic(case, value, track, facts, at))
    return worst(values, -1)


def _told_of_traffic(case: Case, value: Fact, track: Track, facts: Traffic, at: datetime) -> Fact:
    if not isinstance(value, Value) or track.opening is None:
        return value
    who = "a vehicle" if facts.by_what == "vehicle" else "feet"
    opens = clock_beside(case.standing, track.opening.likely, at)
    told = f"{who} came on {facts.area} {clock_text(case.standing, at)}; by the sheet it was to open {opens}"
    return replace(value, told=told)


def _value(
    case: Case,
    track: Track,
    piece: LayerPiece,
    stated: StatedFact,
    ripe: float | None,
    said: str,
    start: StatedFact | None = None,
    opening: bool = False,
) -> Fact:
    if ripe is None:
        return None
    if track.weather is not None and track.weather.slab_source == "none":
        return Gap(
            f"slab and air temperature on {track.area or 'the floor'}",
            "look in the room's logger, if any",
            topic="readings",
        )
    passed = max(60.0, (stated.at - track.starts).total_seconds())
    timing = span_sigma_s(start, stated) / passed
    edge = track.opening if opening else track.closing
    return Value(
        max(ripe, 1e-4),
        sigma=math.hypot(_clock_sigma(track, opening), timing),
        unshared_sigma=timing,
        at=stated.at,
        batch=piece.batch.id,
        window=track.name,
        told=f"batch {piece.batch.id} was {said} {_when(case, stated, edge, opening)}",
        called=edge.early if edge is not None and not opening else None,
        by_sheet=edge.likely if edge is not None else None,
    )


def _clock_sigma(track: Track, opening: bool) -> float:
    edge = track.opening if opening else track.closing
    if edge is None or edge.late is None:
        return NO_BAND_SIGMA
    likely, late = ((at - track.starts).total_seconds() for at in (edge.likely, edge.late))
    return max(0.05, math.log(late / likely) / P90_SIGMAS) if likely > 0 else NO_BAND_SIGMA


def _when(case: Case, stated: StatedFact, edge: Edge | None, opening: bool) -> str:
    """When the step was stated, beside its call and its sheet: "Mon 13 Apr 10:52; called for 10:22"."""
    standing, at = case.standing, stated.at
    said = clock_text(standing, at) + ("" if was_tapped(stated) else " (written down later)")
    if edge is None:
        return said
    sheet = clock_beside(standing, edge.likely, at)
    if opening:
        return f"{said}; by the sheet it opened {sheet}"
    return f"{said}: it was called for {clock_beside(standing, edge.early, at)}, by the sheet it was good until {sheet}"


STAND = Gauge(
    "stand_share",
    "stand between mixing and pouring, as a share of the induction asked",
    stand,
    -1,
    1.0,
    1.0 / 3.0,
    0.12,
    "induction on the data sheet",
    "a third of the stand left out (judgement)",
    "taps lie 0 to 3 minutes late, written times are good to 5 (judgement; J Transp Stat 5(1), 2002)",
    unit="share",
    setting=longer_stand,
)

POUR_OUT_USED = ripeness_gauge(
    "pour_out_ripeness", "pot life used when poured", pour_out, +1, 1.25, BAND_25, setting=step_in_time
)

BACK_ROLL_USED = ripeness_gauge(
    "back_roll_ripeness", "back-roll window used when rolled", back_roll, +1, 1.2, BAND_20, setting=step_in_time
)

BROADCAST_USED = ripeness_gauge(
    "broadcast_ripeness", "broadcast window used when flaked", broadcast, +1, 1.2, BAND_20, setting=step_in_time
)

RECOAT_OPENED = ripeness_gauge(
    "recoat_opened_ripeness",
    "recoat window reached when the next coat went on",
    lambda case, laid: _recoat(case, laid, -1),
    -1,
    1.25,
    BAND_25,
    setting=recoat_between,
)

RECOAT_CLOSED = ripeness_gauge(
    "recoat_closed_ripeness",
    "recoat window used when the next coat went on",
    lambda case, laid: _recoat(case, laid, +1),
    +1,
    1.25,
    BAND_25,
    setting=recoat_between,
)

TRAFFIC = Gauge(
    "traffic_ripeness",
    "traffic window reached when it was used",
    traffic,
    -1,
    1.0,
    math.log(1.6),
    0.25,
    "the data sheet's edge",
    "the band of hardness, ×/÷ 1.6 (judgement)",
    CLOCK,
    log=True,
    setting=traffic_later,
)
