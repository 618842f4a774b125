"""The machine's own clocks, standing still until told to pass: what the real clock door (`SystemClock`) reads.

freezegun holds the wall clock and `time.monotonic`; the clock of the boot, which it does not know, is held beside it.
So commands run as they do on a machine, and a whole day passes in the time that they take.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from unittest.mock import patch

from freezegun import freeze_time
from freezegun.api import FrozenDateTimeFactory

# what sqlite-utils imports is compiled against the real datetime, so it comes before the frost
from mixclock.outside import bookshape  # noqa: F401

BOOTED_BEFORE_S = 3600.0


class Machine:
    """A machine whose time is held. `pass_until` is time passing, `set_clock` somebody setting the wall clock."""

    def __init__(self, frozen: FrozenDateTimeFactory) -> None:
        self._frozen = frozen
        self.boot_s = BOOTED_BEFORE_S

    def now(self) -> datetime:
        """The wall clock."""
        return self._frozen.time_to_freeze.replace(tzinfo=UTC)

    def pass_until(self, when: datetime) -> None:
        """Time passes, awake, until an instant."""
        span = when - self.now()
        assert span >= timedelta(0), f"time does not pass backwards, from {self.now()} to {when}"
        self.boot_s += span.total_seconds()
        self._frozen.move_to(when.astimezone(UTC).replace(tzinfo=None))

    def wait(self, span: timedelta) -> None:
        """Time passes for a span."""
        self.pass_until(self.now() + span)

    def set_clock(self, when: datetime) -> None:
        """Somebody sets the wall clock; no time passes."""
        self._frozen.move_to(when.astimezone(UTC).replace(tzinfo=None))

    def clock_gettime(self, which: int) -> float:
        """What the system call answers."""
        return self.boot_s if which != time.CLOCK_REALTIME else self.now().timestamp()


@contextmanager
def machine_at(when: datetime) -> Iterator[Machine]:
    """Hold the machine's clocks at an instant."""
    # pytest goes on measuring how long its tests take
    with freeze_time(when.astimezone(UTC).replace(tzinfo=None), ignore=["_pytest.timing"]) as frozen:
        machine = Machine(frozen)
        with patch.object(time, "clock_gettime", machine.clock_gettime):
            yield machine
