"""How far each window's clock had run when its step was stated."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime

from mixclock.decide.clocks import P90_SIGMAS
from mixclock.decide.tracks import Track
from mixclock.decide.why.case import Case, Gathered, Laid, Missing, Piece, Value, worst
from mixclock.job.entry import Traffic
from mixclock.job.progress import Stated

NO_BAND_SIGMA = 0.35
"""Spread where no band may be claimed: a bucket colder than its sheet (judgement, nearly twice the ±25 %)."""

STATED_TO_S = 60.0
FROM_MEMORY = 0.1
FROM_MEMORY_AT_MOST_S = 600.0
"""A time is stated to a minute, and to a tenth of how much later it was written, at most 10 min (judgement)."""

_ASK = "ask who was there, and state it with --at"


def pour_out(case: Case, laid: Laid) -> Gathered:
    """The pot life used when the worst piece was poured."""
    return worst([_pour_out(case, piece) for piece in laid.pieces], +1)


def _pour_out(case: Case, piece: Piece) -> Gathered:
    track = case.track("pour-out", piece, None)
    if track is None:
        return None
    missing = Missing(f"when batch {piece.batch.id} was poured", _ASK)
    if piece.portion is None:
        return missing
    if piece.portion.assumed:
        return _poured_by_then(track, piece) or missing
    ripe = track.ripeness_closes(piece.portion.poured.at)
    return _value(track, piece, piece.portion.poured, ripe, "poured")


def _poured_by_then(track: Track, piece: Piece) -> Value | None:
    """A pour that nobody stated still came before the next step: that may already clear it."""
    steps = [stated.at for stated in (piece.portion.steps.values() if piece.portion else ())]
    latest = track.ripeness_closes(min(steps)) if steps else None
    if latest is None or latest > 0.8:
        return None
    return Value(latest, batch=piece.batch.id, at=min(steps), told="at the latest, by the step that followed")


def back_roll(case: Case, laid: Laid) -> Gathered:
    """The back-roll window used when the worst piece was rolled."""
    return _step(case, laid, "back-roll", "rolled")


def broadcast(case: Case, laid: Laid) -> Gathered:
    """The broadcast window used when the worst piece was flaked, where the coat takes flake."""
    coat = case.coat(laid)
    if coat is not None and coat.flake_kg_m2 is None:
        return None
    return _step(case, laid, "broadcast", "flaked")


def _step(case: Case, laid: Laid, window: str, said: str) -> Gathered:
    profile = case.profile(laid)
    if profile is None or profile.window(window) is None:
        return None
    return worst([_step_of(case, laid, piece, window, said) for piece in laid.pieces], +1)


def _step_of(case: Case, laid: Laid, piece: Piece, window: str, said: str) -> Gathered:
    if piece.portion is None or piece.portion.assumed:
        return Missing(f"when batch {piece.batch.id} was poured", _ASK)
    track = case.track(window, piece, laid.area)
    stated = piece.portion.step(window, laid.area)
    if track is None or track.closes is None:
        return None
    if stated is None:
        return Missing(f"when batch {piece.batch.id} was {said} on {laid.area}", _ASK)
    return _without_bucket(case, piece, track, _value(track, piece, stated, track.ripeness_closes(stated.at), said))


def _without_bucket(case: Case, piece: Piece, track: Track, value: Gathered) -> Gathered:
    """A step is not late for what an over-aged bucket had used up: that is the bucket's doing."""
    poured_late = _pour_out(case, piece)
    over = isinstance(poured_late, Value) and isinstance(poured_late.value, float) and poured_late.value > 1.0
    if not over or track.closes is None or not isinstance(value, Value) or not isinstance(value.value, float):
        return value
    on_floor = max(0.01, value.value - track.closes.start_ripeness)
    return replace(value, value=on_floor, told=f"{value.told}, without what the bucket had used up")


def stand(case: Case, laid: Laid) -> Gathered:
    """How much of the induction that the sheet asks for had passed when the first of the bucket was poured."""
    profile = case.profile(laid)
    rule = profile.window("induction") if profile else None
    if rule is None or rule.opens is None or max(point.span_s for point in rule.opens.points) < 60.0:
        return None
    return worst([_stand(case, piece) for piece in laid.pieces], -1)


def _stand(case: Case, piece: Piece) -> Gathered:
    track = case.track("induction", piece, None)
    if track is None or piece.poured is None or piece.portion is None:
        return Missing(f"how long batch {piece.batch.id} stood before it was poured", _ASK)
    ripe = track.ripeness_opens(piece.poured)
    stated = piece.portion.poured
    return _value(track, piece, stated, max(ripe or 0.0, 0.01), "stood, then poured", own_sigma=0.12)


def recoat_opened(case: Case, laid: Laid) -> Gathered:
    """How far the recoat window of the coat below had opened when this one went on."""
    return _recoat(case, laid, -1)


def recoat_closed(case: Case, laid: Laid) -> Gathered:
    """How much of the recoat window of the coat below was used when this one went on."""
    return _recoat(case, laid, +1)


def _recoat(case: Case, laid: Laid, worse: int) -> Gathered:
    below = case.below(laid)
    if below is None:
        return None
    mine = next((piece for piece in laid.pieces if piece.poured is not None), None)
    if mine is None or mine.portion is None:
        return Missing(f"when batch {laid.pieces[0].batch.id} was poured", _ASK)
    return worst([_recoat_of(case, below, piece, mine.portion.poured, worse) for piece in below.pieces], worse)


def _recoat_of(case: Case, below: Laid, piece: Piece, next_pour: Stated, worse: int) -> Gathered:
    track = case.track("recoat", piece, below.area)
    if track is None:
        return None
    if piece.poured is None:
        return Missing(f"when batch {piece.batch.id} was poured", _ASK)
    ripe = track.ripeness_opens(next_pour.at) if worse < 0 else track.ripeness_closes(next_pour.at)
    if ripe is None:
        return None
    return _value(track, piece, next_pour, ripe, f"{below.coat} recoated", opening=worse < 0)


def traffic(case: Case, laid: Laid) -> Gathered:
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
        return Missing(
            f"when people or cars first used {laid.area}", "ask the owner, and state it with `traffic` and --at"
        )
    found = [_traffic(case, laid, entry.happened, entry.facts, entry.written) for entry in entries]
    return worst([value for value in found if value is not None], -1)


def _traffic(case: Case, laid: Laid, at: datetime, facts: object, written: datetime) -> Gathered:
    assert isinstance(facts, Traffic)
    window = "vehicle-traffic" if facts.by_what == "vehicle" else "foot-traffic"
    values = []
    for piece in laid.pieces:
        track = case.track(window, piece, laid.area)
        ripe = track.ripeness_opens(at) if track is not None else None
        if track is not None and ripe is not None:
            stated = Stated(at, None, 0, written)
            values.append(_value(track, piece, stated, ripe, f"{facts.by_what} traffic", opening=True))
    return worst(values, -1)


def _value(
    track: Track,
    piece: Piece,
    stated: Stated,
    ripe: float | None,
    said: str,
    opening: bool = False,
    own_sigma: float | None = None,
) -> Gathered:
    if ripe is None:
        return None
    if track.weather is not None and track.weather.slab_source == "none":
        return Missing(f"slab and air temperature on {track.area or 'the floor'}", "look in the room's logger, if any")
    clock = own_sigma if own_sigma is not None else _clock_sigma(track, opening)
    passed = max(60.0, (stated.at - track.starts).total_seconds())
    sigma = math.hypot(clock, time_sigma_s(stated) / passed)
    return Value(max(ripe, 1e-4), sigma=sigma, at=stated.at, batch=piece.batch.id, told=_told(piece, said, stated))


def _told(piece: Piece, said: str, stated: Stated) -> str:
    late_min = (stated.written - stated.at).total_seconds() / 60.0
    memory = f", written {late_min:.0f} min later" if late_min >= 5.0 else ""
    return f"batch {piece.batch.id} {said}{memory}"


def time_sigma_s(stated: Stated) -> float:
    """How well a stated time is known: a statement entered late is not a step done late, but it is less sure."""
    lag_s = max(0.0, (stated.written - stated.at).total_seconds())
    return STATED_TO_S + min(FROM_MEMORY_AT_MOST_S, FROM_MEMORY * lag_s)


def _clock_sigma(track: Track, opening: bool) -> float:
    edge = track.opening if opening else track.closing
    if edge is None or edge.late is None:
        return NO_BAND_SIGMA
    likely, late = ((at - track.starts).total_seconds() for at in (edge.likely, edge.late))
    return max(0.05, math.log(late / likely) / P90_SIGMAS) if likely > 0 else NO_BAND_SIGMA
