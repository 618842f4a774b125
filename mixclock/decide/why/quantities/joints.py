"""Where film met film: how old the edge was that the next batch came to."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime
from itertools import pairwise

from mixclock.decide.edges import edge_of, ripeness_at
from mixclock.decide.joints import neighbours_of
from mixclock.decide.why.case import Case, clock_text
from mixclock.decide.why.gauge import BAND_20, CLOCK_SIGMA, ripeness_gauge
from mixclock.decide.why.layers import Fact, Gap, Layer, LayerPiece, Value, worst
from mixclock.decide.why.settings import wet_joint
from mixclock.decide.why.statedtimes import is_doubtful, span_sigma_s
from mixclock.job.entry import Did
from mixclock.job.progress import StatedFact
from mixclock.job.steps import TAPE, WET_EDGE
from mixclock.units import write_span

Joint = tuple[Layer, LayerPiece, Layer, LayerPiece]
"""A joint: the film that waited, and the film that came to it."""


def wet_edge(case: Case, laid: Layer) -> Fact:
    """How much of the wet edge's time was used when the next film came, at the worst joint of this area.

    A joint that is hours old is the worst kind of lap, and so is a stop inside an area. If somebody taped the edge
    before the next film came, the stop was planned and counts against nobody.
    """
    return worst([_joint_value(case, joint) for joint in _joints(case, laid) if _taped(joint) is None], +1)


def stops_told(case: Case, laid: Layer) -> tuple[str, ...]:
    """The joints of an area that are stops: which film met which taped edge."""
    return tuple(_stop_told(case, joint, taped) for joint in _joints(case, laid) if (taped := _taped(joint)))


def wet_edge_apart(case: Case, laid: Layer, area: str) -> Fact:
    """The same on a healthy area, without its joint with the area in question: that joint belongs to the other area."""
    apart = [joint for joint in _joints(case, laid) if area not in (joint[0].area, joint[2].area)]
    joints = [joint for joint in apart if _taped(joint) is None]
    return worst([_joint_value(case, joint) for joint in joints], +1)


def _joints(case: Case, laid: Layer) -> Iterator[Joint]:
    own = sorted(laid.pieces, key=lambda piece: piece.since)
    yield from ((laid, earlier, laid, later) for earlier, later in pairwise(own))
    for name in neighbours_of(case.standing.site, laid.area):
        other = case.layers.get((name, laid.coat))
        cut = {(laid.area, name), (name, laid.area)} & set(case.standing.site.saw_cuts)
        if other is not None and not cut:
            yield from _between(laid, other)


def _between(one: Layer, other: Layer) -> Iterator[Joint]:
    """The joint between two areas. They meet when the later one begins; a batch that covers both makes no joint."""
    waiting, coming = (one, other) if one.first <= other.first else (other, one)
    first = min(coming.pieces, key=lambda piece: piece.since)
    before = [piece for piece in waiting.pieces if piece.since <= first.since]
    if before and first.batch.id not in {piece.batch.id for piece in waiting.pieces}:
        yield waiting, max(before, key=lambda piece: piece.since), coming, first


def _taped(joint: Joint) -> StatedFact | None:
    """When the edge that waited was taped, if that was before the next film came to it."""
    waiting, piece, _, following = joint
    taped = piece.portion.step(TAPE, waiting.area) if piece.portion else None
    return taped if taped is not None and taped.at <= following.since else None


def _stop_told(case: Case, joint: Joint, taped: StatedFact) -> str:
    waiting, piece, coming, following = joint
    met = f"Batch {following.batch.id} on {coming.area} met batch {piece.batch.id} on {waiting.area}"
    when = clock_text(case.standing, taped.at)
    return f"{met} at an edge that was taped {when}: a stop that was meant, no lap joint."


def _joint_value(case: Case, joint: Joint) -> Fact:
    waiting, piece, _, following = joint
    track = case.track(WET_EDGE, piece, waiting.area)
    if track is None or track.closes is None or track.closes.started != piece.since:
        return None
    unknown = next((each for each in (piece, following) if _unknown(each)), None)
    if unknown is not None:
        return Gap(f"when batch {unknown.batch.id} was poured", "ask who was there, and state it with --at")
    ripe = track.ripeness_closes(following.poured) if following.poured is not None else None
    if ripe is None or following.poured is None:
        return None
    if track.weather is not None and track.weather.slab_source == "none":
        return Gap(f"slab and air temperature on {waiting.area}", "look in the room's logger, if any", topic="readings")
    assert following.portion is not None
    passed = max(60.0, (following.poured - track.starts).total_seconds())
    timing = span_sigma_s(piece.portion.poured if piece.portion else None, following.portion.poured) / passed
    return Value(
        max(ripe, 1e-4),
        sigma=math.hypot(CLOCK_SIGMA, timing),
        unshared_sigma=timing,
        at=following.poured,
        batch=following.batch.id,
        told=_joint_told(case, joint),
        by_sheet=track.closes.edge.likely,
        called=track.closes.edge.early,
    )


def _age(piece: LayerPiece, following: LayerPiece) -> str:
    return write_span((following.since - piece.since).total_seconds())


def _unknown(piece: LayerPiece) -> bool:
    return piece.poured is None or piece.portion is None or is_doubtful(piece, piece.portion.poured)


def _joint_told(case: Case, joint: Joint) -> str:
    """Which joint it is, in words. If the job file names no neighbours, the words say that they are assumed."""
    waiting, piece, coming, following = joint
    when = f"{clock_text(case.standing, following.since)}, when that edge was {_age(piece, following)} old"
    if waiting.area == coming.area:
        return f"batch {following.batch.id} met batch {piece.batch.id} inside {waiting.area} {when}"
    told = f"batch {following.batch.id} on {coming.area} met batch {piece.batch.id} on {waiting.area} {when}"
    named = any(area.next_to for area in case.standing.site.areas)
    return told if named else f"{told} (taken as neighbours: the job file names none)"


def cut_in(case: Case, laid: Layer) -> Fact:
    """How much of the wet edge's time the cut-in had used when the field came to it."""
    profile = case.profile(laid)
    rule = profile.window(WET_EDGE) if profile else None
    cut_at = _cut_in_at(case, laid)
    if profile is None or rule is None or rule.closes is None or cut_at is None:
        return None
    field = laid.last
    if field <= cut_at:
        return Value(0.01, at=cut_at, told="cut in after the field was poured")
    conditions = case.weather(laid.area)
    found = edge_of(WET_EDGE, rule.closes, profile, conditions, cut_at, closing=True)
    ripe = ripeness_at(found, conditions, field)
    timing = span_sigma_s(None, StatedFact(field, None, 0, field)) / max(60.0, (field - cut_at).total_seconds())
    told = f"{laid.area} was cut in at {clock_text(case.standing, cut_at)}, its field followed"
    return Value(max(ripe, 1e-4), sigma=math.hypot(CLOCK_SIGMA, timing), unshared_sigma=timing, at=field, told=told)


def _cut_in_at(case: Case, laid: Layer) -> datetime | None:
    above = case.above(laid)
    for entry in case.live:
        facts = entry.facts
        if not isinstance(facts, Did) or facts.step.replace(" ", "-") != "cut-in":
            continue
        here = laid.area in facts.areas or facts.batch in {batch.id for batch in laid.batches}
        since = min(batch.combined.at for batch in laid.batches)
        if here and entry.happened >= since and (above is None or entry.happened < above.first):
            return entry.happened
    return None


WET_EDGE_USED = ripeness_gauge(
    "wet_edge_ripeness",
    "wet edge used when the next batch met it",
    wet_edge,
    +1,
    1.2,
    BAND_20,
    wet_joint,
    wet_edge_apart,
)

CUT_IN_USED = ripeness_gauge(
    "cut_in_ripeness", "wet edge of the cut-in used when the field met it", cut_in, +1, 1.2, BAND_20
)
