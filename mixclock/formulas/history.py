"""The history of a slab, a room or a bucket: values over time, straight between readings and held outside them."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from functools import cached_property
from itertools import pairwise
from typing import Any

from mixclock.formulas.past import Notes
from mixclock.formulas.ranges import require_positive, require_within
from mixclock.values import dataclass, field

FACTOR_RANGE = (0.6, 2.5)  # judgement: moisture is not trusted to do more than this to a rate
HUMIDITY_RANGE_G_M3 = (0.0, 300.0)


@dataclass(frozen=True)
class Past:
    """What a history was before its first value, by notes. `label` names it: alike labels had the same past.

    `make` gives the whole history, where it is at hand; else it raises `ForgottenError`. `own` names that: alike ones
    are the same to their ends.
    """

    label: str
    notes: Notes
    make: Callable[[], History]
    own: str

    @property
    def whole(self) -> History:
        """The history with all its readings."""
        return self.notes.whole(self.own, self.make)

    def at(self, time_s: float) -> float:
        """The value at a time before the first that is at hand."""
        return float(self.notes.told(f"{self.label}@{time_s!r}", lambda: self.whole.at(time_s)))

    def turned(self, by: str, turn: Callable[[History], History], later: str = "") -> Past:
        """The past of a history that was made from this one.

        `by` tells it apart from others, and `later` what is other after it.
        """
        return Past(f"{self.label}{by}", self.notes, lambda: turn(self.whole), f"{self.own}{by}{later}")


@dataclass(frozen=True)
class History:
    """Values over time: linear between readings, the first held before and the last after.

    times_s: not falling; a time that occurs twice is a jump. values: °C (or another unit), as many. past: what was
    before the first of them, where they are only the last of many readings.

    >>> History((0.0, 3600.0), (20.0, 26.0)).at(1800.0)
    23.0
    >>> History((0.0, 0.0), (20.0,))
    Traceback (most recent call last):
    ValueError: a history has 2 times and 1 values; it needs as many of both, and at least one
    """

    times_s: tuple[float, ...]
    values: tuple[float, ...]
    past: Past | None = field(default=None, compare=False, repr=False)

    def __post_init__(self) -> None:
        if len(self.times_s) != len(self.values) or not self.times_s:
            counts = f"{len(self.times_s)} times and {len(self.values)} values"
            raise ValueError(f"a history has {counts}; it needs as many of both, and at least one")
        if not all(map(math.isfinite, (*self.times_s, *self.values))):
            raise ValueError("a history holds a value that is not a finite number")
        if any(later < earlier for earlier, later in pairwise(self.times_s)):
            raise ValueError("the times of a history run backwards; put its readings in order")

    def at(self, time_s: float) -> float:
        """The value at a time; at a jump the value after it."""
        return self.after(time_s)

    def after(self, time_s: float) -> float:
        """The value from this time on (right-hand limit)."""
        return self._between(bisect_right(self.times_s, time_s), time_s)

    def before(self, time_s: float) -> float:
        """The value up to this time (left-hand limit)."""
        return self._between(bisect_left(self.times_s, time_s), time_s)

    def _between(self, index: int, time_s: float) -> float:
        if index == 0:
            before = self.past is not None and time_s < self.times_s[0]
            return self.past.at(time_s) if self.past is not None and before else self.values[0]
        if index == len(self.times_s):
            return self.values[-1]
        early, late = self.times_s[index - 1], self.times_s[index]
        return between(self.values[index - 1], self.values[index], (time_s - early) / (late - early))

    def along(self, times_s: Sequence[float]) -> list[float]:
        """What `at` gives at each of these rising times, in one pass.

        >>> History((0.0, 3600.0), (20.0, 26.0)).along((-1.0, 0.0, 1800.0, 7200.0))
        [20.0, 20.0, 23.0, 26.0]
        """
        knots, values, between = self.times_s, self.values, self._between
        found, last = [], len(knots)
        place = bisect_right(knots, times_s[0]) if times_s else 0
        for time_s in times_s:
            while place < last and knots[place] <= time_s:
                place += 1
            # at a reading no slope is needed; before the first and after the last, the nearest reading holds
            is_reading = place and (place == last or knots[place - 1] == time_s)
            found.append(values[place - 1] if is_reading else between(place, time_s))
        return found

    @cached_property
    def jumps(self) -> bool:
        """Whether two readings stand at one time."""
        return any(later == earlier for earlier, later in pairwise(self.times_s))

    @cached_property
    def gains_by_law(self) -> dict[int, Any]:
        """What clocks gain along this history: the tables that `gaintable` made, by the identity of their law."""
        return {}

    def since(self, time_s: float) -> History:
        """The same history from a time on, without what came before."""
        first = max(0, bisect_right(self.times_s, time_s) - 1)
        return self if not first else History(self.times_s[first:], self.values[first:])

    @property
    def known_from_s(self) -> float:
        """From when on its values are at hand; what was before is known by notes only."""
        return self.times_s[0] if self.past is not None else -math.inf

    @property
    def whole(self) -> History:
        """The same with all its readings; raises `ForgottenError` where they are not at hand."""
        return self if self.past is None else self.past.whole

    def back_to(self, time_s: float) -> History:
        """The same, as far back as a time is asked about: the whole, where that lies before its first value."""
        return self if time_s >= self.known_from_s else self.whole

    def shifted(self, by_s: float) -> History:
        """The same history with another zero: what was at 0 is now at `by_s`."""
        return History(tuple(time_s + by_s for time_s in self.times_s), self.values)


def between(low: float, high: float, share: float) -> float:
    """The value at a share of the way from one to the other, and never beyond either.

    >>> between(20.0, 26.0, 0.5), between(0.1, 0.0, 1.0 + 2e-16)
    (23.0, 0.0)
    """
    if low == high:
        return low
    found = low + (high - low) * share
    return min(max(found, low), high) if low < high else max(min(found, low), high)


@dataclass(frozen=True)
class Moisture:
    """Humidity that drives a window: rate × clamp((absolute humidity / reference)^exponent, 0.6, 2.5).

    history: absolute humidity at the slab [g/m³] (`air.absolute_humidity_at_slab_g_m3`), straight between readings.
    reference_g_m3: the humidity at which the sheet's times hold [g/m³], above 0.
    exponent: how strongly it drives [-], 0 to 3; 0.5 where the sheet gives one humidity (judgement, band 0 to 1).
    """

    history: History
    reference_g_m3: float
    exponent: float

    def __post_init__(self) -> None:
        require_positive("reference humidity", self.reference_g_m3, "g/m³")
        require_within("humidity exponent", self.exponent, 0.0, 3.0, "")
        for value in self.history.values:
            require_within("absolute humidity", value, *HUMIDITY_RANGE_G_M3, "g/m³")

    def relative(self, absolute_g_m3: float) -> float:
        """Absolute humidity over its reference [-]."""
        return absolute_g_m3 / self.reference_g_m3

    @staticmethod
    def factor_of(relative: float, exponent: float) -> float:
        """The factor on the rate [-] at a humidity relative to the reference.

        >>> Moisture.factor_of(2.0, 1.0), Moisture.factor_of(0.01, 1.0)
        (2.0, 0.6)
        """
        low, high = FACTOR_RANGE
        return min(high, max(low, relative**exponent)) if exponent else 1.0

    @property
    def known_from_s(self) -> float:
        """From when on its humidity is at hand."""
        return self.history.known_from_s

    @property
    def whole(self) -> Moisture:
        """The same over all its readings; raises `ForgottenError` where they are not at hand."""
        past, history = self.history.past, self.history
        if past is None:
            return self

        def make() -> Moisture:
            return Moisture(history.whole, self.reference_g_m3, self.exponent)

        return past.notes.whole(f"{past.own}|{self.reference_g_m3!r}|{self.exponent!r}", make)

    @cached_property
    def damp_courses(self) -> dict[int, Any]:
        """The same with this moisture along histories of temperatures, by the identity of these."""
        return {}

    @cached_property
    def cuts(self) -> tuple[float, ...]:
        """Relative humidities at which a stretch is cut: the points where the clamp sets in, and each doubling between
        them."""
        if not self.exponent:
            return ()
        low, high = (limit ** (1.0 / self.exponent) for limit in FACTOR_RANGE)
        doublings = range(max(-12, math.floor(math.log2(low))), min(12, math.ceil(math.log2(high))) + 1)
        return (low, *(2.0**power for power in doublings if low < 2.0**power < high), high)


def moisture_exponent(humid: tuple[float, float], dry: tuple[float, float]) -> float:
    """Exponent p [-] from two stated humidities: τ ∝ (g/m³)^−p, so p = ln(τ_dry/τ_humid) / ln(g_humid/g_dry).

    Args:
        humid, dry: (absolute humidity [g/m³], τ [s]), the humid one first; all above 0.

    Returns:
        exponent [-]; negative where the sheet says that damp air is slower.

    Raises:
        ValueError: values not above 0, or equal humidities.

    >>> round(moisture_exponent((13.8, 840.0), (8.64, 1200.0)), 2)
    0.76

    Source: the power law of the humidity rule (judgement).
    """
    for absolute, tau in (humid, dry):
        require_positive("absolute humidity", absolute, "g/m³")
        require_positive("time", tau, "s")
    if humid[0] <= dry[0]:
        raise ValueError(f"{humid[0]:g} g/m³ is not more humid than {dry[0]:g} g/m³; give two different humidities")
    return math.log(dry[1] / humid[1]) / math.log(humid[0] / dry[0])


def hottest_sustained_c(history: History, start_s: float, end_s: float, span_s: float = 3600.0) -> float | None:
    """Highest temperature [°C] that was kept up for a whole `span_s`: max over windows of the window's minimum.

    Args:
        history: temperature [°C] over time [s].
        start_s, end_s: from when to when [s].
        span_s: how long it must have been sustained [s], above 0.

    Returns:
        temperature [°C], or None while less than `span_s` has passed.

    Raises:
        ValueError: span not above 0.

    >>> hottest_sustained_c(History((0.0, 1800.0, 3600.0, 7200.0), (20.0, 20.0, 30.0, 30.0)), 0.0, 7200.0)
    30.0

    Source: recoat rule of UFGS 09971: the row for the highest surface temperature sustained for an hour or more.
    """
    require_positive("sustained span", span_s, "s")
    history = history.back_to(start_s)
    if end_s - start_s < span_s:
        return None
    knots = [start_s, *(time_s for time_s in history.times_s if start_s < time_s < end_s), end_s]
    stretches = [(a, b, history.after(a), history.before(b)) for a, b in pairwise(knots)]
    low_c = min(min(first, last) for _, _, first, last in stretches)
    high_c = max(max(first, last) for _, _, first, last in stretches)
    if _longest_above_s(stretches, high_c) >= span_s:
        return high_c
    while high_c - low_c > 1e-9:
        middle_c = 0.5 * (low_c + high_c)
        held = _longest_above_s(stretches, middle_c) >= span_s
        low_c, high_c = (middle_c, high_c) if held else (low_c, middle_c)
    return low_c


def _longest_above_s(stretches: list[tuple[float, float, float, float]], level_c: float) -> float:
    """The longest unbroken time at or above a level [s]."""
    longest = running = 0.0
    for begin_s, end_s, first_c, last_c in stretches:
        if first_c >= level_c and last_c >= level_c:
            running += end_s - begin_s
        elif first_c < level_c and last_c < level_c:
            running = 0.0
        else:
            above_s = (end_s - begin_s) * abs((max(first_c, last_c) - level_c) / (last_c - first_c))
            if first_c >= level_c:
                longest, running = max(longest, running + above_s), 0.0
            else:
                running = above_s
        longest = max(longest, running)
    return longest
