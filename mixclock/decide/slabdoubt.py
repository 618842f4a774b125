"""How far off a reading may be later: by its age, by the morning's sun, by the night.

All of it is judgement. It leans on three facts. A slab trails the air. An unheated hall gets colder at night. A reading
that is held for days is nearer to the mean of those days than to any single hour.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import datetime, time, timedelta, tzinfo

from mixclock.formulas.history import History
from mixclock.job.readings import Sample
from mixclock.job.site import Area
from mixclock.values import dataclass

STALE_AFTER = timedelta(hours=2)
"""A reading held for longer than this is doubted."""

STALE_DOUBT_K = 3.0
"""How far off a held reading, or air in place of the slab, may be for an hour."""

MEAN_DOUBT_K = 1.5
STALE_FOR_S = 12 * 3600.0
"""The doubt of a long window falls to this after its first twelve hours: a mean is surer than an hour."""

SPOT_DOUBT_K = 2.0
"""For limits: the doubt of a reading if nobody said how it was taken, or if one spot stands for a whole floor."""

COLDER_SLAB_K = 5.0
"""If only the air is known, the slab may be this much colder (read: on a cold morning air 10 °C, a floor 5)."""

MANNERS_THAT_COUNT = ("contact", "infrared")

SUN_RISE_K = 6.0
SUN_HIGHEST = time(15, 0)
SUN_GONE = timedelta(hours=6)
SUN_FULL_FROM_S = 3 * 3600.0
"""A reading taken less than this before three in the afternoon has seen part of the rise already."""

NIGHT_FALL_K = {"inside": 4.0, "outside": 8.0}
DOORS_KNOWN_FOR = timedelta(days=1)
"""How old a note on the doors may be at the reading in question: by next morning somebody has moved them."""

NIGHT_FULL_AFTER = timedelta(hours=6)
NIGHT_ENDS_AFTER = timedelta(hours=15)
NIGHT_OVER_AFTER = timedelta(hours=18)
NIGHTS_AHEAD = 14
DAY_S = 86400.0
NIGHT_KNOWN_FROM_S = 9 * 3600.0

RAMP_S = 60.0


@dataclass(frozen=True)
class Doubt:
    """How far a course may be warmer (`up`) or colder (`down`) than likely [K], over epoch seconds.

    `spot_k` holds always. From `stale_from` on the last reading is too old (-inf without a reading), and `stale_k`
    holds.
    """

    spot_k: float = 0.0
    stale_from: float = -math.inf
    stale_k: float = STALE_DOUBT_K
    rise: History | None = None
    fall: History | None = None
    least_down_k: float = 0.0

    def up(self, start_s: float) -> History:
        """How much warmer it may be, for a maker's window that starts then."""
        return self._joined(start_s, self.rise, 0.0)

    def down(self, start_s: float) -> History:
        """How much colder it may be, for a maker's window that starts then."""
        return self._joined(start_s, self.fall, self.least_down_k)

    def _joined(self, start_s: float, other: History | None, least_k: float) -> History:
        """The largest of the doubts. The mean of a whole window is doubted less than its first twelve hours."""
        since = max(self.stale_from, start_s)
        stale = [(since, 0.0), (since + RAMP_S, self.stale_k)]
        stale += [(since + STALE_FOR_S, self.stale_k), (since + STALE_FOR_S + RAMP_S, min(self.stale_k, MEAN_DOUBT_K))]
        if start_s > self.stale_from:
            stale[0] = (since, self.stale_k)
        aged = _history(stale)
        least = max(self.spot_k, least_k)
        times = sorted({*aged.times_s, *(at for at in (other.times_s if other else ()) if at > since)})

        def doubted(at_s: float) -> float:
            moved = other.at(at_s) if other is not None and at_s > since else 0.0
            return max(least, aged.at(at_s), moved)

        return History(tuple(times), tuple(doubted(at_s) for at_s in times))


def _history(knots: Sequence[tuple[float, float]]) -> History:
    return History(tuple(at_s for at_s, _ in knots), tuple(value for _, value in knots))


def counts_as_exact(sample: Sample, areas: int) -> bool:
    """Whether a slab reading was taken at the place itself, and in a manner that can be trusted."""
    return sample.how in MANNERS_THAT_COUNT and (sample.area is not None or areas <= 1)


def morning_rise(read_at: datetime, zone: tzinfo, area: Area | None) -> History | None:
    """How much warmer a place may have become since it was read in the morning; None if no sun comes to it."""
    if area is not None and area.sun is False:
        return None
    there = read_at.astimezone(zone)
    highest = datetime.combine(there.date(), SUN_HIGHEST, zone).timestamp()
    read_s = read_at.timestamp()
    if read_s >= highest:
        return None
    rise_k = SUN_RISE_K * min(1.0, (highest - read_s) / SUN_FULL_FROM_S)
    return _history([(read_s, 0.0), (highest, rise_k), (highest + SUN_GONE.total_seconds(), 0.0)])


def night_fall(read_at: datetime, zone: tzinfo, area: Area | None, doors_open: bool = False) -> History | None:
    """How much colder an unheated or unknown place may become in the night after it was read."""
    if area is not None and area.heated and not doors_open:
        return None
    there = read_at.astimezone(zone)
    day = there.date() if there.time() >= time(6, 0) else there.date() - timedelta(days=1)
    begins_s = datetime.combine(day, SUN_HIGHEST, zone).timestamp()  # a night in which clocks change is as long as any
    full_k = NIGHT_FALL_K["outside" if doors_open or (area is not None and area.outside) else "inside"]
    ends_s = begins_s + NIGHT_ENDS_AFTER.total_seconds()
    since_s = max(begins_s, read_at.timestamp())
    fall_k = full_k * min(1.0, max(0.0, ends_s - since_s) / NIGHT_KNOWN_FROM_S)
    full_s = min(ends_s, max(since_s + RAMP_S, begins_s + NIGHT_FULL_AFTER.total_seconds()))
    knots = [(since_s, 0.0), (full_s, fall_k), (max(full_s, ends_s), fall_k)]
    knots.append((begins_s + NIGHT_OVER_AFTER.total_seconds(), 0.0))
    return _history([*knots, *_later_nights(begins_s, full_k * _warmth_of_hour(read_at.timestamp() - begins_s))])


def _warmth_of_hour(after_s: float) -> float:
    """How much of a day's swing lies below a reading taken this long after the warmest hour. The day is a cosine
    (judgement)."""
    return 0.5 * (1.0 + math.cos(2.0 * math.pi * after_s / DAY_S))


def _later_nights(begins_s: float, fall_k: float) -> Iterator[tuple[float, float]]:
    """The fall in the nights after the first. These too get colder than what was read on a warm day."""
    if fall_k <= 0.0:
        return
    for night in range(1, NIGHTS_AHEAD):
        start_s = begins_s + night * DAY_S
        yield start_s, 0.0
        yield start_s + NIGHT_FULL_AFTER.total_seconds(), fall_k
        yield start_s + NIGHT_ENDS_AFTER.total_seconds(), fall_k
        yield start_s + NIGHT_OVER_AFTER.total_seconds(), 0.0
