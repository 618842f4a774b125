"""The clocks of a machine at an instant of a day that is told by commands, one after the other."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from unittest.mock import patch

from mixclock.outside.clock import SystemClock


@contextmanager
def clocks_at(at: datetime) -> Iterator[None]:
    """All clocks stand where they would if the time until then had passed.

    If only the clock on the wall were set, mixclock would see by the others that no time passed. It would move all that
    was stated before to this instant: every bucket would have been poured just now.
    """
    passed_s = at.timestamp()
    with patch.multiple(
        SystemClock,
        now=lambda _: at.astimezone(UTC),
        boot_s=lambda _: passed_s,
        monotonic_s=lambda _: passed_s + time.perf_counter(),
    ):
        yield
