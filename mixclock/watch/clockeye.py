"""Compares the machine's three clocks: did it sleep since the last look, or did somebody set the wall clock?

Δboot − Δmonotonic is how long the machine slept; Δwall − Δboot is by how much somebody set the clock. Noise was
measured at under 0.1 ms.
"""

from __future__ import annotations

from datetime import datetime

from mixclock.job.entry import WatchEvent
from mixclock.job.steppedclock import STEP_FROM_S
from mixclock.outside.channels.message import span_words
from mixclock.outside.clock import Clock
from mixclock.values import dataclass

STALL_FROM_S = 5.0
"""A gap between two looks that was neither sleep nor a set clock: the machine was too busy to look (judgement)."""


@dataclass(frozen=True)
class _ClockReading:
    wall: datetime
    boot_s: float
    monotonic_s: float


class ClockEye:
    """Looks at the clocks; each look tells what happened since the one before."""

    def __init__(self, clock: Clock, stall_from_s: float = STALL_FROM_S) -> None:
        self._clock = clock
        self.stall_from_s = stall_from_s
        self._last = self._read()

    def look(self) -> list[WatchEvent]:
        """What befell the machine since the last look."""
        last, self._last = self._last, self._read()
        awake_s = self._last.monotonic_s - last.monotonic_s
        passed_s = self._last.boot_s - last.boot_s
        stepped_s = (self._last.wall - last.wall).total_seconds() - passed_s
        events = []
        if passed_s - awake_s > STEP_FROM_S:
            slept_s = passed_s - awake_s
            events.append(WatchEvent("slept", f"the machine slept for {span_words(slept_s)}", round(slept_s, 3)))
        if abs(stepped_s) > STEP_FROM_S:
            way = "forward" if stepped_s > 0 else "back"
            detail = f"the clock was set {way} by {span_words(abs(stepped_s))}; deadlines stay where they truly are"
            events.append(WatchEvent("stepped", detail, round(stepped_s, 3)))
        if awake_s > self.stall_from_s:
            detail = f"the machine was too busy to look for {span_words(awake_s)}"
            events.append(WatchEvent("stalled", detail, round(awake_s, 3)))
        return events

    def _read(self) -> _ClockReading:
        return _ClockReading(self._clock.now(), self._clock.boot_s(), self._clock.monotonic_s())
