"""Where batches met and how much film they made."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from itertools import pairwise

from mixclock.decide.edges import edge_of, ripeness_at
from mixclock.decide.joints import neighbours_of
from mixclock.decide.why.case import Case, Gathered, Laid, Missing, Piece, Value, worst
from mixclock.decide.why.gather.onclock import STATED_TO_S
from mixclock.job.entry import Did, Measured

STOP_RIPENESS = 3.0
"""From here on two areas did not meet wet: there was a stop at their joint, as at a saw cut (judgement)."""

LEAST_SHARE, MOST_SHARE = 0.8, 1.5
"""Film over what the job asks for: ISO 19840's 80 % (from memory), and half as much again (judgement)."""

GAUGE_SIGMA, COVERED_SIGMA, WHOLE_AREA_SIGMA = 0.05, 0.06, 0.12

Joint = tuple[Laid, Piece, Laid, Piece]
"""The film that waited, and the film that came to it."""


def wet_edge(case: Case, laid: Laid) -> Gathered:
    """How much of the wet edge was used when the next batch came, at the worst joint of this area."""
    found = [_joint_value(case, joint) for joint in _joints(case, laid)]
    return worst([value for value in found if not _is_stop(value)], +1)


def cold_joint(case: Case, laid: Laid) -> Gathered:
    """A joint that was met hours later: a stop between areas rather than a wet edge."""
    found = [(joint, _joint_value(case, joint)) for joint in _joints(case, laid)]
    for (waiting, _, coming, _), value in found:
        if _is_stop(value) and isinstance(value, Value):
            return Value(f"{coming.area} met {waiting.area} after its wet edge was long over: a stop, not a joint")
    return None


def _is_stop(value: Gathered) -> bool:
    return isinstance(value, Value) and isinstance(value.value, float) and value.value > STOP_RIPENESS


def _joints(case: Case, laid: Laid) -> Iterator[Joint]:
    own = sorted(laid.pieces, key=lambda piece: piece.since)
    for earlier, later in pairwise(own):
        if earlier.batch.id != later.batch.id:
            yield laid, earlier, laid, later
    for name in neighbours_of(case.standing.site, laid.area):
        other = case.laid.get((name, laid.coat))
        cut = {(laid.area, name), (name, laid.area)} & set(case.standing.site.saw_cuts)
        if other is not None and not cut:
            yield from _between(laid, other)


def _between(one: Laid, other: Laid) -> Iterator[Joint]:
    """Two areas meet where the later one begins; a batch that covers both makes no joint."""
    waiting, coming = (one, other) if one.first <= other.first else (other, one)
    first = min(coming.pieces, key=lambda piece: piece.since)
    before = [piece for piece in waiting.pieces if piece.since <= first.since]
    if before and first.batch.id not in {piece.batch.id for piece in waiting.pieces}:
        yield waiting, max(before, key=lambda piece: piece.since), coming, first


def _joint_value(case: Case, joint: Joint) -> Gathered:
    waiting, piece, coming, following = joint
    track = case.track("wet-edge", piece, waiting.area)
    if track is None or track.closes is None or track.closes.started != piece.since:
        return None
    if piece.poured is None or following.poured is None:
        unknown = piece if piece.poured is None else following
        return Missing(f"when batch {unknown.batch.id} was poured", "ask who was there, and state it with --at")
    ripe = track.ripeness_closes(following.poured)
    if ripe is None:
        return None
    if track.weather is not None and track.weather.slab_source == "none":
        return Missing(f"slab and air temperature on {waiting.area}", "look in the room's logger, if any")
    where = "in it" if waiting.area == coming.area else f"between {waiting.area} and {coming.area}"
    told = f"joint of batch {piece.batch.id} and batch {following.batch.id} {where}"
    return Value(max(ripe, 1e-4), at=following.poured, batch=following.batch.id, told=told)


def cut_in(case: Case, laid: Laid) -> Gathered:
    """How much of the wet edge the cut-in had used when the field came to it."""
    profile = case.profile(laid)
    rule = profile.window("wet-edge") if profile else None
    cut_at = _cut_in_at(case, laid)
    if profile is None or rule is None or rule.closes is None or cut_at is None:
        return None
    field = laid.last
    if field <= cut_at:
        return Value(0.01, at=cut_at, told="cut in after the field was poured")
    conditions = case.weather(laid.area)
    found = edge_of("wet-edge", rule.closes, profile, conditions, cut_at)
    ripe = ripeness_at(found, conditions, field)
    sigma = 0.18 + STATED_TO_S / max(60.0, (field - cut_at).total_seconds())
    return Value(max(ripe, 1e-4), sigma=sigma, at=field, told=f"{laid.area} cut in, then poured")


def _cut_in_at(case: Case, laid: Laid) -> datetime | None:
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


def film_thin(case: Case, laid: Laid) -> Gathered:
    """The thinnest film on the area against the least that sheet and job allow."""
    return _film(case, laid, -1)


def film_thick(case: Case, laid: Laid) -> Gathered:
    """The thickest film on the area against the most that sheet and job allow."""
    return _film(case, laid, +1)


def _film(case: Case, laid: Laid, worse: int) -> Gathered:
    limit = _film_limit(case, laid, worse)
    if limit is None:
        return None
    gauged = gauge_readings(case, laid)
    if gauged:
        value = min(gauged) if worse < 0 else max(gauged)
        return Value(value, *limit, sigma=GAUGE_SIGMA, told="by the wet film gauge")
    pieces = [film_of(piece) for piece in laid.pieces]
    known = [Value(film, *limit, sigma=COVERED_SIGMA, batch=batch, told=f"batch {batch}: volume over the size covered")
             for film, batch in pieces if film is not None]  # fmt: skip
    if len(known) == len(laid.pieces):
        return worst(known, worse)
    whole = _whole_area_film(case, laid)
    if whole is None:
        return worst([*known, Missing(f"how far batch {laid.batches[0].id} went, and the wet film on {laid.area}",
                                      "a chip and a film gauge tell it still")], worse)  # fmt: skip
    told = "all batches of the area over its size, taken as fully covered"
    return Value(whole, *limit, sigma=WHOLE_AREA_SIGMA, told=told)


def film_of(piece: Piece) -> tuple[float | None, int]:
    """The film that a portion made where its covered size was stated, in µm, and its batch."""
    portion = piece.portion
    if portion is None or portion.volume_l is None or not portion.covered_m2:
        return None, piece.batch.id
    return portion.volume_l / portion.covered_m2 * 1000.0, piece.batch.id


def _whole_area_film(case: Case, laid: Laid) -> float | None:
    """Mean film where every batch of the area went onto it alone: what was mixed over its size."""
    area = case.standing.site.area(laid.area)
    if area is None or any(piece.portion is None or len(piece.portion.areas) != 1 for piece in laid.pieces):
        return None
    volume = sum(piece.portion.volume_l or 0.0 for piece in laid.pieces if piece.portion)
    return volume / area.size_m2 * 1000.0 if volume > 0 else None


def gauge_readings(case: Case, laid: Laid) -> list[float]:
    """Wet films that somebody gauged on this coat, in µm."""
    batches = {batch.id for batch in laid.batches}
    until = case.tack_free(laid)
    return [
        entry.facts.value
        for entry in case.measured
        if isinstance(entry.facts, Measured)
        and entry.facts.quantity.replace("-", " ") == "wet film"
        and (entry.facts.batch in batches or (entry.facts.batch is None and entry.facts.area == laid.area))
        and min(batch.combined.at for batch in laid.batches) <= entry.happened <= until
    ]


def wanted_film_um(case: Case, laid: Laid) -> float | None:
    """The wet film that the job asks for."""
    coat = case.coat(laid)
    if coat is None:
        return None
    return coat.wet_film_um or (1000.0 / coat.spread_m2_l if coat.spread_m2_l else None)


def _film_limit(case: Case, laid: Laid, worse: int) -> tuple[float, str] | None:
    wanted, profile = wanted_film_um(case, laid), case.profile(laid)
    sheet = profile.film.wet_um if profile else None
    limits = []
    if wanted is not None:
        share, said = (LEAST_SHARE, "80 %") if worse < 0 else (MOST_SHARE, "150 %")
        source = "ISO 19840, from memory" if worse < 0 else "judgement"
        limits.append((wanted * share, f"{said} of the film that the job asks for ({source})"))
    if sheet is not None:
        limits.append((sheet[0] if worse < 0 else sheet[1], "data sheet's wet film"))
    if not limits:
        return None
    return max(limits) if worse < 0 else min(limits)
