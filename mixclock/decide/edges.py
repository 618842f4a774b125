"""Edges of windows on the floor: early, likely and late, with the reasons and the assumptions in words.

Closing edges are put early by the fast law on the warmer history, opening edges late by the slow law on the colder
one; both come out of the same three integrations.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from mixclock.decide.clocks import NOTHING_LEARNED, Clock, Damp, Learned, clock_of
from mixclock.decide.edgewords import EdgeTold, edge_words
from mixclock.decide.shapes import Edge
from mixclock.decide.weather import Weather
from mixclock.formulas.cure import ripeness, time_of_ripeness
from mixclock.formulas.history import History, Moisture
from mixclock.formulas.rate_law import RateLaw
from mixclock.job.profile import Profile, SheetSpan
from mixclock.units import METRIC_CREW, CrewUnits

FAR_S = 400 * 86400.0
"""An edge more than this far ahead is a floor that does not cure; it is given as this far."""


@dataclass(frozen=True)
class FoundEdge:
    """An edge with what it rests on. `clock` and `start_ripeness` let its ripeness be asked at any instant.

    `closes_at` is set where a rule of the sheet closes the window sooner than its clock: it is ripe by then.
    """

    edge: Edge
    clock: Clock
    started: datetime
    start_ripeness: float
    because: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    closes_at: datetime | None = None


def edge_of(
    window: str,
    span: SheetSpan,
    profile: Profile,
    weather: Weather,
    start: datetime,
    start_ripeness: float = 0.0,
    learned: Learned = NOTHING_LEARNED,
    units: CrewUnits = METRIC_CREW,
) -> FoundEdge:
    """When one edge of a window falls: the instants at which its ripeness reaches 1."""
    clock = clock_of(window, span, profile.family, learned)
    start_s = start.timestamp()
    slab, damp = weather.slab, clock.damp
    doubted = _moistures(damp, weather)
    likely_moisture = _moisture(damp, weather, damp.exponent) if damp else None
    likely_s = _reached(clock.likely, slab.likely, start_s, start_ripeness, likely_moisture)
    early_s = min(_reached(clock.fast, slab.high, start_s, start_ripeness, option) for option in doubted)
    late_s = max(_reached(clock.slow, slab.low, start_s, start_ripeness, option) for option in doubted)
    edge = Edge(_instant(min(early_s, likely_s)), _instant(likely_s), _instant(max(late_s, likely_s)))
    because, assumed = edge_words(EdgeTold(window, span, profile.family, clock, weather, start_s, likely_s), units)
    return FoundEdge(edge, clock, start, start_ripeness, because, assumed)


def ripeness_at(found: FoundEdge, weather: Weather, now: datetime) -> float:
    """How far the likely clock of an edge has run at an instant; beyond 1 once the edge has passed."""
    damp = found.clock.damp
    moisture = _moisture(damp, weather, damp.exponent) if damp else None
    start_s, now_s = found.started.timestamp(), now.timestamp()
    run = ripeness(found.clock.likely, weather.slab.likely, start_s, now_s, moisture=moisture)
    if found.closes_at is None:
        return found.start_ripeness + run
    by_rule = (now_s - start_s) / (found.closes_at.timestamp() - start_s)
    return max(found.start_ripeness + run, by_rule)


def _reached(law: RateLaw, history: History, start_s: float, ripe: float, moisture: Moisture | None) -> float:
    reached_s = time_of_ripeness(law, history, start_s, start_ripeness=ripe, moisture=moisture)
    return min(reached_s, start_s + FAR_S)


def _instant(at_s: float) -> datetime:
    return datetime.fromtimestamp(math.floor(at_s * 1e3) / 1e3, UTC)


def _moisture(damp: Damp, weather: Weather, exponent: float) -> Moisture:
    return Moisture(weather.slab_humidity_pct(), damp.reference_rh_pct, exponent)


def _moistures(damp: Damp | None, weather: Weather) -> Sequence[Moisture | None]:
    """The exponents that doubt must reckon with; which of them is the faster depends on the air, so both are tried."""
    if damp is None:
        return (None,)
    return [_moisture(damp, weather, exponent) for exponent in sorted({damp.low, damp.high})]
