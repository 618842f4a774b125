"""Keeps what went wrong for the screen, and says it once a minute instead of twice a second."""

from __future__ import annotations

import threading
from collections.abc import Callable

from mixclock.outside.clock import Clock

SAY_AGAIN_S = 60.0
KEEP_S = 300.0


class Faults:
    """Lines of trouble. Each is passed on to `say` at most once a minute."""

    def __init__(self, clock: Clock, say: Callable[[str], None]) -> None:
        self._clock, self._say = clock, say
        self._lock = threading.Lock()
        self._said_s: dict[str, float] = {}

    def tell(self, line: str) -> None:
        """Something went wrong."""
        now_s = self._clock.monotonic_s()
        with self._lock:
            said_s = self._said_s.get(line)
            if said_s is not None and now_s - said_s < SAY_AGAIN_S:
                return
            self._said_s[line] = now_s
        self._say(line)

    def recent(self) -> list[str]:
        """What went wrong in the last minutes, the newest last."""
        now_s = self._clock.monotonic_s()
        with self._lock:
            return [line for line, said_s in self._said_s.items() if now_s - said_s < KEEP_S]
