"""What a clock gains along its readings: added up once for each law and history, and then looked up.

A job asks the same clocks again and again: each batch, and early, likely and late of each of its edges. The sums are
kept in blocks of readings that begin at fixed ones, and each block is added up only as far as somebody asked. So an
answer is the same to its last digit whatever was asked before it, and nobody pays for readings that no clock reaches.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from functools import cached_property

from mixclock.formulas.air import ZERO_C_IN_K
from mixclock.formulas.climb import Climb, climb_of
from mixclock.formulas.history import History, Moisture
from mixclock.formulas.pieces import FLAT_K, GAUSS_FLAT, Piece, cut, cut_moist
from mixclock.formulas.rate_law import RateLaw, segment_of

BLOCK = 64  # readings whose sums begin at nought together
SIMPSON_K = 0.12  # Simpson's rule serves for a stretch as flat as this: error under 2e-10 of it at 110 kJ/mol
LEVEL_K = 1e-4  # a stretch as flat as this goes by the temperature at its middle: error under 1e-11 of it
FLAT_SHARE = 0.1  # three points serve for a change this small: error under 1e-12 of it

_Part = tuple[Piece, float]
"""A piece with what it gains."""


class GainTable:
    """Ripeness along some readings. A stretch runs from one reading to the next and holds one smooth piece or several.

    `held` is the piece after the last reading, and `early` that before the first.
    """

    def __init__(self, times_s: Sequence[float], early: Piece, held: Piece) -> None:
        """Nothing is added up yet."""
        self._times_s, self._early, self._held = times_s, early, held
        self._last = len(times_s) - 1
        self._blocks: dict[int, list[float]] = {}
        self._parts: dict[int, tuple[_Part, ...]] = {}

    def gained(self, start_s: float, end_s: float) -> float:
        """What a clock gains from one instant to another, which comes after it."""
        times_s = self._times_s
        knot = bisect_right(times_s, start_s)
        gained = 0.0
        for piece, more in self._onwards(knot, start_s):
            if piece.end_s >= end_s:
                return gained + piece.ripened(end_s)
            gained += more
        until = bisect_left(times_s, end_s, knot) - 1
        gained += self._between(knot, until)
        for piece, more in self._stretch(until):
            if piece.end_s >= end_s:
                return gained + piece.ripened(end_s)
            gained += more
        raise AssertionError("the last piece has no end")

    def reached_s(self, start_s: float, wanted: float) -> float:
        """When a clock that starts at an instant has gained so much, which is more than nothing."""
        knot = bisect_right(self._times_s, start_s)
        for piece, more in self._onwards(knot, start_s):
            if more >= wanted:
                return piece.time_of(wanted)
            wanted -= more
        return self._reached_after(knot, wanted)

    def _reached_after(self, knot: int, wanted: float) -> float:
        """When a clock has gained so much from a reading on."""
        while knot < self._last:
            block, place = divmod(knot, BLOCK)
            sums = self._sums(block, place)
            target = sums[place] + wanted
            if sums[-1] < target:
                until = min((block + 1) * BLOCK, self._last)
                sums = self._grown(block, sums, target, until)
                if sums[-1] < target:
                    wanted, knot = target - sums[-1], until
                    continue
            after = bisect_left(sums, target, place + 1)
            return self._reached_within(block * BLOCK + after - 1, target - sums[after - 1])
        return self._held.time_of(wanted)

    def _reached_within(self, stretch: int, wanted: float) -> float:
        """When a clock has gained so much in a stretch: in its last piece if it did not before."""
        for piece, more in self._stretch(stretch):
            if more >= wanted:
                return piece.time_of(wanted)
            wanted -= more
        return self._times_s[stretch + 1]  # its sum reached the target, and its single pieces miss it by a last digit

    def _onwards(self, knot: int, start_s: float) -> Sequence[_Part]:
        """The pieces from an instant up to the reading that follows it, which is this knot."""
        if knot > self._last:
            return ((self._held.since(start_s), math.inf),)
        if not knot:
            first = self._early.since(start_s)
            return ((first, first.ripened(first.end_s)),)
        parts = self._stretch(knot - 1)
        for place, (piece, _) in enumerate(parts):
            if start_s < piece.end_s:
                left = piece.since(start_s)
                return ((left, left.ripened(left.end_s)), *parts[place + 1 :])
        return ()

    def _stretch(self, index: int) -> Sequence[_Part]:
        """The pieces of one stretch."""
        if index == self._last:
            return ((self._held, math.inf),)
        found = self._parts.get(index)
        if found is None:
            found = self._parts[index] = tuple((piece, piece.ripened(piece.end_s)) for piece in self._cut(index))
        return found

    def _between(self, first: int, last: int) -> float:
        """What is gained from one reading to a later one."""
        gained = 0.0
        while first < last:
            block, place = divmod(first, BLOCK)
            until = min(last, (block + 1) * BLOCK)
            sums = self._sums(block, until - block * BLOCK)
            gained += sums[until - block * BLOCK] - sums[place]
            first = until
        return gained

    def _sums(self, block: int, place: int) -> list[float]:
        """The sums of a block, with that of one of its places among them."""
        sums = self._blocks.get(block) or [0.0]
        return sums if place < len(sums) else self._grown(block, sums, math.inf, block * BLOCK + place)

    def _grown(self, block: int, sums: list[float], enough: float, until: int) -> list[float]:
        """The sums of a block, gone on with. Two threads may do so at once: each has a list of its own, with the same
        sums."""
        grown = sums.copy()
        self._add_up(block, grown, enough, until)
        self._blocks[block] = grown
        return grown

    def _add_up(self, block: int, sums: list[float], enough: float, until: int) -> None:
        """Go on with the sums of a block, until they hold enough or come to a reading."""
        raise NotImplementedError

    def _cut(self, index: int) -> Iterable[Piece]:
        """Cut a stretch into smooth pieces."""
        raise NotImplementedError


class DryGains(GainTable):
    """The gains of a clock that goes by temperature alone."""

    def __init__(self, law: RateLaw, history: History) -> None:
        """`law` along `history`."""
        times_s, values = history.times_s, history.values
        self._law, self._values = law, values
        first, last = (segment_of(law, values[place]) for place in (0, -1))
        early = Piece(-math.inf, times_s[0], values[0], values[0], *first)
        super().__init__(times_s, early, Piece(times_s[-1], math.inf, values[-1], values[-1], *last))

    @cached_property
    def _climb(self) -> Climb:
        return climb_of(self._law, min(self._values), max(self._values))

    def reached_s(self, start_s: float, wanted: float) -> float:
        """As for any clock; a record asks for tens of thousands, so nothing is cut into pieces for it."""
        begun = bisect_right(self._times_s, start_s) - 1
        if not 0 <= begun < self._last:
            return super().reached_s(start_s, wanted)
        before = self._gained_within(begun, start_s - self._times_s[begun])
        return max(start_s, self._reached_after(begun, before + wanted))

    def _gained_within(self, stretch: int, after_s: float) -> float:
        """What is gained from a reading until so long after it, which is before the next one."""
        begin_c, change_k, span_s = self._course(stretch)
        if abs(change_k) <= LEVEL_K:
            return after_s * self._rate(begin_c + 0.5 * change_k * after_s / span_s)
        climb_k_s, at = change_k / span_s, self._climb.at
        return (at(begin_c + climb_k_s * after_s) - at(begin_c)) / climb_k_s

    def _reached_within(self, stretch: int, wanted: float) -> float:
        """When so much is gained after a reading, and before the next one."""
        begin_c, change_k, span_s = self._course(stretch)
        if not span_s:
            return self._times_s[stretch]
        if abs(change_k) <= LEVEL_K:
            after_s = wanted / self._rate(begin_c)
            if change_k:
                after_s = wanted / self._rate(begin_c + 0.5 * change_k * after_s / span_s)
        else:
            climb_k_s, climb = change_k / span_s, self._climb
            after_s = (climb.temp_of(climb.at(begin_c) + climb_k_s * wanted) - begin_c) / climb_k_s
        return min(self._times_s[stretch] + after_s, self._times_s[stretch + 1])

    def _course(self, stretch: int) -> tuple[float, float, float]:
        """The temperature with which a stretch begins, by how much it changes, and in how long."""
        times_s, values = self._times_s, self._values
        begin_c = values[stretch]
        return begin_c, values[stretch + 1] - begin_c, times_s[stretch + 1] - times_s[stretch]

    def _rate(self, temp_c: float) -> float:
        intercept, slope_k = segment_of(self._law, temp_c)
        return math.exp(-intercept - slope_k / (temp_c + ZERO_C_IN_K))

    def _cut(self, index: int) -> Iterable[Piece]:
        (begin_s, until_s), (begin_c, until_c) = self._times_s[index : index + 2], self._values[index : index + 2]
        return cut(self._law, begin_s, until_s, begin_c, until_c)

    def _add_up(self, block: int, sums: list[float], enough: float, until: int) -> None:
        """Readings a minute apart differ little: Simpson's rule serves, and each end is worked out once."""
        exp, lines, starts_c = math.exp, self._law.lines, self._law.starts_c
        (node_1, weight_1), (node_2, weight_2), (node_3, weight_3) = GAUSS_FLAT
        place, total = block * BLOCK + len(sums) - 1, sums[-1]
        begin_s, begin_c = self._times_s[place], self._values[place]
        at = bisect_right(starts_c, begin_c)
        less, slope_k = lines[at]
        begin_rate = exp(-less - slope_k / (begin_c + ZERO_C_IN_K))
        later = slice(place + 1, until + 1)
        for until_s, until_c in zip(self._times_s[later], self._values[later], strict=True):
            change_k, then = until_c - begin_c, bisect_right(starts_c, until_c)
            if then == at and abs(change_k) <= SIMPSON_K:
                middle_rate = exp(-less - slope_k / (begin_c + 0.5 * change_k + ZERO_C_IN_K))
                until_rate = exp(-less - slope_k / (until_c + ZERO_C_IN_K))
                total += (until_s - begin_s) * (begin_rate + 4.0 * middle_rate + until_rate) / 6.0
                begin_rate = until_rate
            else:
                if then == at and abs(change_k) <= FLAT_K:
                    begin_k = begin_c + ZERO_C_IN_K
                    total += (until_s - begin_s) * (
                        weight_1 * exp(-less - slope_k / (begin_k + node_1 * change_k))
                        + weight_2 * exp(-less - slope_k / (begin_k + node_2 * change_k))
                        + weight_3 * exp(-less - slope_k / (begin_k + node_3 * change_k))
                    )
                else:
                    if until_s > begin_s:
                        total += self._gained_within(block * BLOCK + len(sums) - 1, until_s - begin_s)
                    at = then
                    less, slope_k = lines[at]
                begin_rate = exp(-less - slope_k / (until_c + ZERO_C_IN_K))
            sums.append(total)
            if total >= enough:
                return
            begin_s, begin_c = until_s, until_c


class DampCourse:
    """Temperature and relative humidity at the times of both, from both sides: they differ at a jump."""

    def __init__(self, history: History, moisture: Moisture) -> None:
        """From when on both are at hand."""
        wet, reference_g_m3 = moisture.history, moisture.reference_g_m3
        from_s = max(history.known_from_s, wet.known_from_s)
        both = sorted({*history.times_s, *wet.times_s})
        self.history = history
        self.times_s = both if math.isinf(from_s) else [from_s, *both[bisect_right(both, from_s) :]]
        self.temps_c = _both_sides(history, self.times_s)
        self.damps = tuple([water / reference_g_m3 for water in side] for side in _both_sides(wet, self.times_s))
        self.gains_by_law: dict[int, tuple[RateLaw, DampGains]] = {}


def _both_sides(history: History, times_s: Sequence[float]) -> tuple[list[float], list[float]]:
    """The values after each of these times, and before it."""
    after = history.along(times_s)
    return after, [history.before(time_s) for time_s in times_s] if history.jumps else after


class DampGains(GainTable):
    """The gains of a clock that moisture drives too."""

    def __init__(self, law: RateLaw, course: DampCourse, moisture: Moisture) -> None:
        """`law` along a course of temperature and humidity."""
        self._law, self._exponent, self._bends = law, moisture.exponent, moisture.cuts
        self._temps_c, self._damps = course.temps_c, course.damps
        begin_s, until_s = course.times_s[0], course.times_s[-1]
        early, held = self._steady(1, 0, -math.inf, begin_s), self._steady(0, -1, until_s, math.inf)
        super().__init__(course.times_s, early, held)

    def _steady(self, side: int, place: int, start_s: float, end_s: float) -> Piece:
        temp_c, damp = self._temps_c[side][place], self._damps[side][place]
        return Piece(start_s, end_s, temp_c, temp_c, *segment_of(self._law, temp_c), damp, damp, self._exponent)

    def _cut(self, index: int) -> Iterable[Piece]:
        (after_c, before_c), (after_m, before_m) = self._temps_c, self._damps
        ends_s = self._times_s[index], self._times_s[index + 1]
        ends_c, ends_m = (after_c[index], before_c[index + 1]), (after_m[index], before_m[index + 1])
        return cut_moist(self._law, self._bends, self._exponent, ends_s, ends_c, ends_m)

    def _add_up(self, block: int, sums: list[float], enough: float, until: int) -> None:
        """Where both change little, three points serve and the stretch is not cut."""
        exp, factor_of, exponent = math.exp, Moisture.factor_of, self._exponent
        (after_c, before_c), (after_m, before_m), times_s = self._temps_c, self._damps, self._times_s
        lines, starts_c, bends = self._law.lines, self._law.starts_c, self._bends
        for index in range(block * BLOCK + len(sums) - 1, until):
            begin_c, begin_m, until_c, until_m = (
                after_c[index], after_m[index], before_c[index + 1], before_m[index + 1],
            )  # fmt: skip
            change_k, change_m, span_s = until_c - begin_c, until_m - begin_m, times_s[index + 1] - times_s[index]
            at, bend = bisect_right(starts_c, begin_c), bisect_right(bends, begin_m)
            smooth = bisect_right(starts_c, until_c) == at and bisect_right(bends, until_m) == bend
            if smooth and abs(change_k) <= FLAT_K and abs(change_m) <= FLAT_SHARE * begin_m:
                less, slope_k = lines[at]
                mean, begin_k = 0.0, begin_c + ZERO_C_IN_K
                for node, weight in GAUSS_FLAT:
                    rate = exp(-less - slope_k / (begin_k + node * change_k))
                    mean += weight * rate * factor_of(begin_m + node * change_m, exponent)
                total = sums[-1] + span_s * mean
            else:
                total = sums[-1] + sum([more for _, more in self._stretch(index)])
            sums.append(total)
            if total >= enough:
                return


def gains(law: RateLaw, history: History, moisture: Moisture | None = None) -> GainTable:
    """The table of a law along a history, kept with that.

    >>> from mixclock.formulas.rate_law import law_from_points
    >>> law, history = law_from_points([(20.0, 2400.0)], 47e3), History((0.0, 3600.0), (20.0, 20.0))
    >>> round(gains(law, history).gained(600.0, 1800.0), 12), round(gains(law, history).reached_s(600.0, 1.0), 6)
    (0.5, 3000.0)
    """
    if moisture is None or not moisture.exponent:
        kept: tuple[RateLaw, GainTable] | None = history.gains_by_law.get(id(law))
        if kept is None:
            kept = history.gains_by_law[id(law)] = law, DryGains(law, history)
        return kept[1]
    courses = moisture.damp_courses
    if id(history) not in courses:
        courses[id(history)] = DampCourse(history, moisture)
    course: DampCourse = courses[id(history)]
    if id(law) not in course.gains_by_law:
        course.gains_by_law[id(law)] = law, DampGains(law, course, moisture)
    return course.gains_by_law[id(law)][1]
