"""Edges of windows on the floor: early, likely and late, with the reasons and the assumptions in words.

An end that a crew races is put early by the fast law on the warmer history and late by the slow law on the colder one.
A maker's limit parts from likely by three doubts: the law away from the sheet's temperatures, the slab, and the
moisture. They are independent, so their shares of the time are added as squares of logarithms.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime

from mixclock.decide.clocks import AT_ONCE_S, NOTHING_LEARNED, Damp, EdgeClock, LearnedFactor, clock_of
from mixclock.decide.edgewords import EdgeStory, edge_words
from mixclock.decide.shapes import Edge
from mixclock.decide.weather import Course, Weather
from mixclock.formulas.cure import ripeness, time_of_ripeness
from mixclock.formulas.gaintable import gains
from mixclock.formulas.history import History, Moisture
from mixclock.formulas.rate_law import RateLaw
from mixclock.job.profile import Profile, SheetSpan
from mixclock.units import METRIC_CREW, CrewUnits
from mixclock.values import dataclass, replace

FAR_S = 400 * 86400.0
"""A floor whose edge is further ahead than this does not cure. Its edge is given as this far."""


@dataclass(frozen=True)
class FoundEdge:
    """An edge with what it rests on. `clock` and `start_ripeness` let its ripeness be asked at any instant.

    `closes_at` is set if a rule of the sheet closes the window sooner than its clock; the window is ripe from then on.
    """

    edge: Edge
    clock: EdgeClock
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
    learned: LearnedFactor = NOTHING_LEARNED,
    units: CrewUnits | None = METRIC_CREW,
    *,
    closing: bool,
) -> FoundEdge:
    """When one edge of a window falls: the instants at which its ripeness reaches 1; `closing` tells which edge.

    Without `units` nothing is put into words.
    """
    clock = clock_of(window, span, profile.family, learned, closing)
    early_s, likely_s, late_s = edge_s(clock, weather, start.timestamp(), start_ripeness)
    edge = Edge(_instant(early_s), _instant(likely_s), _instant(late_s))
    if units is None:
        return FoundEdge(edge, clock, start, start_ripeness)
    told = EdgeStory(window, span, profile.family, clock, weather, start.timestamp(), likely_s)
    because, assumed = edge_words(told, units)
    return FoundEdge(edge, clock, start, start_ripeness, because, assumed)


def edge_s(clock: EdgeClock, weather: Weather, start_s: float, start_ripeness: float) -> tuple[float, float, float]:
    """Early, likely and late of an edge without a word of why [epoch s]: a plan asks for thousands."""
    run = _Run(clock, weather, start_s, start_ripeness)
    early_s, likely_s, late_s = run.limit() if clock.limit else run.raced()
    return min(early_s, likely_s), likely_s, max(late_s, likely_s)


@dataclass(frozen=True)
class _Run:
    """One edge's clock over the conditions of its place."""

    clock: EdgeClock
    weather: Weather
    start_s: float
    ripe: float

    def raced(self) -> tuple[float, float, float]:
        """Early, likely and late of an end that a crew races [epoch s]."""
        clock, slab, doubted = self.clock, self.weather.slab, _moistures(self.clock.damp, self.weather)
        likely_s = self._reached(clock.likely, slab.likely, self._likely_moisture)
        early_s = min(self._reached(clock.fast, slab.high, option) for option in doubted)
        late_s = max(self._reached(clock.slow, slab.low, option) for option in doubted)
        return early_s, likely_s, late_s

    def limit(self) -> tuple[float, float, float]:
        """Early, likely and late of a maker's limit [epoch s].

        What was learned moves likely both ways. The edge that the crew sees moves only to the safe side: a closing
        sooner, an opening later.
        """
        early_s, likely_s, late_s = self._limit_as_read()
        either = [self._with_slab(course)._limit_as_read() for course in self.weather.slab.asked]
        return min([early_s, *(each[0] for each in either)]), likely_s, max([late_s, *(each[2] for each in either)])

    def _with_slab(self, slab: Course) -> _Run:
        """The same edge if the slab is what one answer to an open question says."""
        return replace(self, weather=replace(self.weather, slab=slab))

    def _limit_as_read(self) -> tuple[float, float, float]:
        early_s, likely_s, late_s = self._parted(1.0)
        factor = self.clock.learned.factor
        if factor == 1.0:
            return early_s, likely_s, late_s
        by_sheet = self._parted(1.0 / factor)
        return min(early_s, by_sheet[0]), likely_s, max(late_s, by_sheet[2])

    def _parted(self, factor: float) -> tuple[float, float, float]:
        clock, slab = self.clock, self.weather.slab
        colder, warmer = slab.for_limits(self.start_s)
        soon, late = (clock.likely, clock.free) if clock.closing else (clock.free, clock.likely)
        stated = clock.is_stated(slab.range)  # both are then one law along the likely slab, not along a doubted one
        doubted = _moistures(clock.damp, self.weather)
        likely_s = self._reached(clock.likely, slab.likely, self._likely_moisture, factor)
        from_pour = self if self._late_ripe == self.ripe else replace(self, ripe=self._late_ripe)
        soon_s = likely_s if stated or soon is clock.likely else self._plainly(soon, factor)
        is_likely = (stated or late is clock.likely) and from_pour is self
        late_plain_s = likely_s if is_likely else from_pour._plainly(late, factor)
        early_s = self._combined(soon, soon_s, clock.fast, warmer, doubted, factor, min)
        late_s = from_pour._combined(late, late_plain_s, clock.slow, colder, doubted, factor, max)
        return early_s, likely_s, late_s

    def _plainly(self, law: RateLaw, factor: float) -> float:
        return self._reached(law, self.weather.slab.likely, self._likely_moisture, factor)

    @property
    def _late_ripe(self) -> float:
        """How ripe the late edge starts. Time in the bucket earns an opening limit nothing, so its late counts from the
        pour."""
        return self.ripe if self.clock.closing else 0.0

    def _combined(
        self,
        law: RateLaw,
        plain_s: float,
        parted: RateLaw,
        doubted_slab: History,
        moistures: Sequence[Moisture | None],
        factor: float,
        worst: Callable[[Iterable[float]], float],
    ) -> float:
        """The plain edge of a law, moved by all doubts: each doubt alone gives a move, and these add as squares of
        logarithms."""
        slab = self.weather.slab.likely
        alone = [
            self._reached(parted, slab, self._likely_moisture, factor),
            self._reached(law, doubted_slab, self._likely_moisture, factor),
        ]
        if self.clock.damp is not None:
            alone.append(worst(self._reached(law, slab, option, factor) for option in moistures))
        plain, sense = max(plain_s - self.start_s, AT_ONCE_S), 1.0 if worst is max else -1.0
        moves = [sense * math.log(max(each - self.start_s, AT_ONCE_S) / plain) for each in alone]
        moved = math.sqrt(math.fsum([move**2 for move in moves if move > 0.0]))
        if moved == 0.0:
            return plain_s
        return min(self.start_s + FAR_S, self.start_s + plain * math.exp(sense * moved))

    @property
    def _likely_moisture(self) -> Moisture | None:
        damp = self.clock.damp
        return _moisture(damp, self.weather, damp.exponent) if damp else None

    def _reached(self, law: RateLaw, history: History, moisture: Moisture | None, factor: float = 1.0) -> float:
        wanted, start_s = (1.0 - self.ripe) * factor, self.start_s
        noted = history.past is not None or (moisture is not None and moisture.history.past is not None)
        if noted or law.constant_s is not None or wanted <= 0.0:
            reached_s = time_of_ripeness(law, history, start_s, 1.0, self.ripe, factor, moisture)
        else:  # all readings are at hand: their table is asked without more ado, thousands of times for a record
            reached_s = gains(law, history, moisture).reached_s(start_s, wanted)
        return min(reached_s, start_s + FAR_S)


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


def _instant(at_s: float) -> datetime:
    return datetime.fromtimestamp(math.floor(at_s * 1e3) / 1e3, UTC)


def _moisture(damp: Damp, weather: Weather, exponent: float) -> Moisture:
    return weather.moisture(damp.reference_rh_pct, exponent)


def _moistures(damp: Damp | None, weather: Weather) -> Sequence[Moisture | None]:
    """The weakest and the strongest exponent. Which of them is faster depends on the air, so the caller tries both."""
    if damp is None:
        return (None,)
    return [_moisture(damp, weather, exponent) for exponent in sorted({damp.low, damp.high})]
