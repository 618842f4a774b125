"""A time axis over minutes, hours or days, on the crew's clock."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from mixclock.units import write_day, write_time_of_day
from mixclock.values import dataclass
from mixclock.words.record.svg import Svg

_STEPS = tuple(
    timedelta(minutes=minutes)
    for minutes in (5, 10, 15, 30, 60, 120, 180, 360, 720, 1440, 2880, 7200, 10080, 20160, 43200)
)
MOST_TICKS = 9


@dataclass(frozen=True)
class TimeAxis:
    """From when to when, and between which x."""

    start: datetime
    end: datetime
    left: float
    right: float
    zone: ZoneInfo

    def x(self, at: datetime) -> float:
        """Where an instant lies, held inside the picture."""
        share = (at - self.start).total_seconds() / self._span_s
        return self.left + min(1.0, max(0.0, share)) * (self.right - self.left)

    @cached_property
    def _span_s(self) -> float:
        return max(1.0, (self.end - self.start).total_seconds())

    @property
    def step(self) -> timedelta:
        """The time between two ticks."""
        span = self.end - self.start
        return next((step for step in _STEPS if span / step <= MOST_TICKS), _STEPS[-1])

    def ticks(self) -> list[datetime]:
        """Whole steps on the crew's clock."""
        step = self.step
        there = self.start.astimezone(self.zone)
        midnight = there.replace(hour=0, minute=0, second=0, microsecond=0)
        first = midnight + step * int((there - midnight) / step + 0.999999)
        every = [first + step * index for index in range(MOST_TICKS + 2)]
        return [at for at in every if at <= self.end.astimezone(self.zone)]

    def draw(self, svg: Svg, top: float, bottom: float) -> None:
        """Grid lines with their times under them."""
        days = self.step >= timedelta(days=1)
        for index, at in enumerate(self.ticks()):
            x = self.x(at)
            svg.line((x, top), (x, bottom), "grid")
            first = index == 0 or (not days and at.hour == 0)
            clock = write_time_of_day(at.timetz())
            words = write_day(at) if days else f"{at:%a} {clock}" if first else clock
            svg.text((x, bottom + 12), words, "tick")
