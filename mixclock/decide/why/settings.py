"""What setting would have kept a quantity inside its limit. The same clocks answer again, with the setting changed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from mixclock.decide.hours import local
from mixclock.decide.tracks import Track
from mixclock.decide.why.case import Case, clock_text
from mixclock.decide.why.evidence import number
from mixclock.decide.why.gauge import Figure, Gauge
from mixclock.decide.why.layers import Layer, LayerPiece, Value
from mixclock.decide.why.whatif import belongs, moved
from mixclock.formulas.coverage import volume_for_area_l
from mixclock.job.entry import Combined, Did, Entry, Poured
from mixclock.job.folding import fold
from mixclock.job.progress import Batch
from mixclock.job.steps import FOOT_TRAFFIC, INDUCTION, POUR_OUT, RECOAT, VEHICLE_TRAFFIC, row_of
from mixclock.units import CrewUnits, write_time_of_day
from mixclock.values import replace

IN_GOOD_TIME = 0.8
"""A step should meet its closing window by this share of the likely time, where the early edge lies (±20 %)."""

SIZES = (0.9, 0.8, 0.75, 2 / 3, 0.6, 0.5, 0.4, 1 / 3, 0.25)
SHIFTS_H = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0, 18.0, 24.0)


def _batch_of(laid: Layer, item: Figure) -> Batch | None:
    number = item.known.batch if item.known else None
    return next((batch for batch in laid.batches if batch.id == number), None)


def _replayed(case: Case, laid: Layer, item: Figure, entries: Sequence[Entry]) -> float | None:
    """The quantity as another log would give it."""
    other = Case(fold(case.standing.job, entries), case.at, case.bucket_model)
    there = other.layers.get((laid.area, laid.coat))
    value = item.source.gather(other, there) if there is not None else None
    whole = isinstance(value, Value) and value.gap is None  # hours without readings give no figure
    return value.value if whole and isinstance(value, Value) and isinstance(value.value, float) else None


def later(case: Case, laid: Layer, item: Figure) -> Iterator[str]:
    """The nearest other start, later or earlier, with which the day's own readings would have kept it inside."""
    limit = float(item.limit) if isinstance(item.limit, float) else 0.0
    units = case.units
    for hours in SHIFTS_H:
        for sign in (1, -1):
            entries = case.standing.entries
            by = timedelta(hours=sign * hours)
            for batch in laid.batches:
                entries = moved(replace(case.standing, entries=entries), batch, batch.combined.at, by)
            would = _replayed(case, laid, item, entries)
            if would is not None and _inside(item, would, limit):
                when = "half an hour" if hours == 0.5 else "an hour" if hours == 1.0 else f"{hours:g} hours"
                said = f"{item.says} {_number(item, would, units)}"
                yield f"start {laid.area} {when} {'later' if sign > 0 else 'earlier'}: {said}"
                return


def _inside(item: Figure, value: float, limit: float) -> bool:
    return isinstance(item.source, Gauge) and item.source.past(value, limit) <= 0.0


def _smaller(case: Case, laid: Layer, item: Figure) -> Iterator[str]:
    """The largest batch that keeps the step in good time at this crew's pace."""
    batch = _batch_of(laid, item)
    if batch is None:
        return
    for size in SIZES:
        would = _replayed(case, laid, item, scaled(case, batch, size))
        if would is not None and would <= IN_GOOD_TIME:
            yield (
                f"mix batches of {_litres(case, batch.volume_l * size)} instead of {_litres(case, batch.volume_l)} on "
                f"{laid.area}: "
                f"{item.says} {would * 100:.0f} % instead of {_percent(item)}"
            )
            return


def scaled(case: Case, batch: Batch, size: float) -> tuple[Entry, ...]:
    """The log with a batch of another size. Its steps on the floor take their share of the time; mixing takes as
    long."""
    poured = min((portion.poured.at for portion in batch.portions), default=batch.mixing_ended)
    return tuple(_scaled(entry, size, poured) if belongs(entry, batch) else entry for entry in case.standing.entries)


def _scaled(entry: Entry, size: float, poured: datetime) -> Entry:
    facts = entry.facts
    if isinstance(facts, Combined):
        amounts = {name: value * size for name in ("volume_l", "mass_kg", "a_l", "a_kg", "b_l", "b_kg")
                   if (value := getattr(facts, name)) is not None}  # fmt: skip
        return replace(entry, facts=facts.but(**amounts))
    if isinstance(facts, Poured):
        covered = facts.covered_m2 * size if facts.covered_m2 else None
        return replace(entry, facts=facts.but(covered_m2=covered))
    if isinstance(facts, Did):
        return replace(entry, happened=poured + (entry.happened - poured) * size)
    return entry


def _earlier_step(case: Case, laid: Layer, item: Figure) -> Iterator[str]:
    """By when the step had to be done, and so how much earlier its alert should come."""
    track = _track(case, laid, item)
    at = item.known.at if item.known else None
    if track is None or at is None:
        return
    edge = track.closing
    if edge is None or edge.early >= at:
        return
    minutes = (at - edge.early).total_seconds() / 60.0
    step = row_of(track.name).aliases[0]
    yield f"{step} by {_clock(case, edge.early)}, {minutes:.0f} min sooner; have the alert {minutes:.0f} min earlier"


def _track(case: Case, laid: Layer, item: Figure) -> Track | None:
    number = item.known.batch if item.known else None
    name = item.known.window if item.known else None
    piece = next((piece for piece in laid.pieces if piece.batch.id == number), None)
    if name is None or piece is None:
        return None
    return case.track(name, piece, None if name == POUR_OUT else laid.area)


def step_in_time(case: Case, laid: Layer, item: Figure) -> Iterator[str]:
    yield from _earlier_step(case, laid, item)
    yield from _smaller(case, laid, item)


def wet_joint(case: Case, laid: Layer, item: Figure) -> Iterator[str]:
    """When the next batch had to come for a wet joint."""
    number = item.known.batch if item.known else None
    coming = case.standing.batch(number) if number is not None else None
    if coming is None:
        return
    for minutes in range(5, 240, 5):
        entries = moved(case.standing, coming, coming.combined.at, -timedelta(minutes=minutes))
        would = _replayed(case, laid, item, entries)
        if would is not None and would <= IN_GOOD_TIME:
            used = f"{item.says} {would * 100:.0f} % instead of {_percent(item)}"
            yield f"start batch {coming.id} {minutes} min sooner: {used}"
            return


def longer_stand(case: Case, laid: Layer, item: Figure) -> Iterator[str]:
    """From when the crew could have poured the batch."""
    batch = _batch_of(laid, item)
    track = case.track(INDUCTION, LayerPiece(batch, None), None) if batch else None
    at = item.known.at if item.known else None
    if batch is None or track is None or track.opens is None or at is None:
        return
    ready = track.opens.edge.safe_open
    minutes = max(1.0, (ready - at).total_seconds() / 60.0)
    yield f"let batch {batch.id} stand until {_clock(case, ready)}, {minutes:.0f} min more"


def longer_mixing(case: Case, laid: Layer, item: Figure) -> Iterator[str]:
    profile = case.profile(laid)
    if profile is not None and profile.mix.time_s:
        more_s = (1.0 - _value(item)) * profile.mix.time_s
        yield f"mix {profile.mix.time_s / 60.0:.0f} min by the clock, {more_s:.0f} s more"


def recoat_between(case: Case, laid: Layer, item: Figure) -> Iterator[str]:  # noqa: ARG001
    """From when to when the coat below took this one."""
    below = case.below(laid)
    tracks = [case.track(RECOAT, piece, below.area) for piece in below.pieces] if below else []
    opens = [track.opens.edge.safe_open for track in tracks if track and track.opens]
    closes = [track.closes.edge.early for track in tracks if track and track.closes]
    if not opens and not closes:
        return
    said = [f"from {_day(case, max(opens))}"] if opens else []
    said += [f"until {_day(case, min(closes))}"] if closes else []
    yield f"coat {laid.area} {' '.join(said)}"


def traffic_later(case: Case, laid: Layer, item: Figure) -> Iterator[str]:
    vehicle = "a vehicle" in item.told
    name = VEHICLE_TRAFFIC if vehicle else FOOT_TRAFFIC
    tracks = [case.track(name, piece, laid.area) for piece in laid.pieces]
    opens = [track.opens.edge.safe_open for track in tracks if track and track.opens]
    if opens:
        who = "cars" if vehicle else "feet"
        yield f"no {who} on {laid.area} before {_day(case, max(opens))}"


def film_asked(case: Case, laid: Layer, item: Figure) -> Iterator[str]:  # noqa: ARG001
    """How much the area takes at the film that the job asks for."""
    area, wanted = case.standing.site.area(laid.area), case.wanted_film_um(laid)
    if area is None or wanted is None:
        return
    litres = volume_for_area_l(area.size_m2, wanted)
    film = case.units.write_film(wanted)
    yield f"{laid.area} takes {_litres(case, litres)} at {film}; {_litres(case, laid.volume_l)} went on it"


def parts_measured(case: Case, laid: Layer, item: Figure) -> Iterator[str]:
    batch, profile = _batch_of(laid, item), case.profile(laid)
    if batch is None or profile is None or profile.mix.ratio_by_volume is None:
        return
    a, b = profile.mix.ratio_by_volume
    part = batch.volume_l / (a + b)
    parts = [case.units.write_volume(part * share, measured=True) for share in (a, b)]
    yield f"for {_litres(case, batch.volume_l)} measure {parts[0]} of A and {parts[1]} of B"


def _litres(case: Case, litres: float) -> str:
    return case.units.write_volume(litres)


def _value(item: Figure) -> float:
    return item.value if isinstance(item.value, float) else 0.0


def _percent(item: Figure) -> str:
    return f"{_value(item) * 100:.0f} %"


def _number(item: Figure, value: float, units: CrewUnits) -> str:
    limit = f", limit {number(item, item.limit, units)}" if isinstance(item.limit, float) else ""
    return f"{number(item, value, units)} instead of {number(item, _value(item), units)}{limit}"


def _clock(case: Case, at: datetime) -> str:
    return write_time_of_day(local(case.standing.site, at).timetz())


def _day(case: Case, at: datetime) -> str:
    return clock_text(case.standing, at)
