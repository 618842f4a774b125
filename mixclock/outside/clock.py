"""The one door to time. All code that needs to know the time, or to wait, is given a `Clock`.

Three clocks together show what happened to the machine. The wall clock can be set, the boot clock runs on through a
suspend, the monotonic clock stands still in one. Resin cures while the laptop sleeps, so within one boot elapsed time
is taken from the boot clock; across a reboot only the wall clock is left.
"""

from __future__ import annotations

import ctypes
import sys
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Protocol

_BOOT_ID_FILE = Path("/proc/sys/kernel/random/boot_id")


class Clock(Protocol):
    """What code may ask of time."""

    def now(self) -> datetime:
        """The wall clock, in UTC."""

    def boot_s(self) -> float:
        """Seconds since the machine booted, time asleep included."""

    def monotonic_s(self) -> float:
        """Seconds that the machine was awake; stands still in a suspend."""

    def boot_id(self) -> str:
        """A name for this boot: boot clocks compare only under the same one."""

    def sleep(self, span_s: float) -> None:
        """Wait; a span of zero or less returns at once."""


class SystemClock:
    """The machine's own clocks.

    The boot clock is CLOCK_BOOTTIME on Linux. macOS has none under that name: there CLOCK_MONOTONIC runs on through
    sleep, while `time.monotonic` stands still. On Windows `time.monotonic` runs on, so it stands in, and a suspend
    cannot be told from being awake.
    """

    def __init__(self) -> None:
        self._boot_id: str | None = None

    def now(self) -> datetime:
        """The wall clock, in UTC."""
        return datetime.now(UTC)  # noqa: TID251  this is the door

    def boot_s(self) -> float:
        """Seconds since boot, time asleep included."""
        counts_sleep = getattr(time, "CLOCK_MONOTONIC" if sys.platform == "darwin" else "CLOCK_BOOTTIME", None)
        return time.clock_gettime(counts_sleep) if counts_sleep is not None else self.monotonic_s()

    def monotonic_s(self) -> float:
        """Seconds awake."""
        return time.monotonic()  # noqa: TID251  this is the door

    def boot_id(self) -> str:
        """The kernel's own name for this boot, else the minute of booting.

        The minute of booting changes when the wall clock is stepped. That is safe: elapsed time is then taken from the
        wall clock, as after a reboot.
        """
        if self._boot_id is None:
            self._boot_id = _kernel_boot_id() or _session_of_macos() or self._boot_minute()
        return self._boot_id

    def sleep(self, span_s: float) -> None:
        """Wait on the machine's clock."""
        if span_s > 0:
            time.sleep(span_s)  # noqa: TID251  this is the door

    def _boot_minute(self) -> str:
        booted = self.now() - timedelta(seconds=self.boot_s())
        return f"booted {booted:%Y-%m-%dT%H:%M}Z"


def _kernel_boot_id() -> str | None:
    try:
        return _BOOT_ID_FILE.read_text(encoding="ascii").strip()
    except OSError:
        return None


def _session_of_macos() -> str | None:
    if sys.platform != "darwin":
        return None
    import subprocess

    asked = ["/usr/sbin/sysctl", "-n", "kern.bootsessionuuid"]
    try:
        return subprocess.run(asked, capture_output=True, text=True, timeout=2, check=True).stdout.strip() or None
    except (OSError, subprocess.SubprocessError):
        return None


class FakeClock:
    """A clock that moves only when it is told to; `sleep` moves it at once.

    `advance` is time passing, `suspend` is the lid closed, `step` is somebody setting the wall clock, `reboot` is the
    machine off and on again.
    """

    def __init__(self, now: datetime, boot_s: float = 1000.0, boot_id: str = "boot-1") -> None:
        self._now = now.astimezone(UTC)
        self._boot_s = boot_s
        self._monotonic_s = boot_s
        self._boot_id = boot_id
        self._boots = 1
        self.slept_s: list[float] = []

    def now(self) -> datetime:
        """The wall clock as set."""
        return self._now

    def boot_s(self) -> float:
        """The boot clock as set."""
        return self._boot_s

    def monotonic_s(self) -> float:
        """The monotonic clock as set."""
        return self._monotonic_s

    def boot_id(self) -> str:
        """The name of the present boot."""
        return self._boot_id

    def sleep(self, span_s: float) -> None:
        """Let the span pass at once, and remember that it was asked for."""
        self.slept_s.append(span_s)
        if span_s > 0:
            self.advance(span_s)

    def set(self, now: datetime) -> None:
        """Let time pass until the given instant; going back is a `step`."""
        span_s = (now - self._now).total_seconds()
        if span_s < 0:
            raise ValueError(f"time does not pass backwards, from {self._now} to {now}: use step()")
        self.advance(span_s)
        self._now = now.astimezone(UTC)

    def advance(self, span_s: float) -> None:
        """Time passes, awake."""
        self._now += timedelta(seconds=span_s)
        self._boot_s += span_s
        self._monotonic_s += span_s

    def suspend(self, span_s: float) -> None:
        """Time passes, asleep: the monotonic clock stands still."""
        self._now += timedelta(seconds=span_s)
        self._boot_s += span_s

    def step(self, span_s: float) -> None:
        """Somebody sets the wall clock, forwards or back; no time passes."""
        self._now += timedelta(seconds=span_s)

    def reboot(self, off_s: float = 0.0) -> None:
        """The machine goes off and on again: both other clocks start anew under a new name."""
        self._now += timedelta(seconds=off_s)
        self._boots += 1
        self._boot_id = f"boot-{self._boots}"
        self._boot_s = self._monotonic_s = 0.0


class FastClock:
    """A clock that runs `speed` times as fast as a real one, for a rehearsal. It can jump; sleepers wake by it.

    A jump is time passing on all three clocks, so it looks like neither a suspend nor a stepped wall clock.
    """

    def __init__(self, speed: float, start: datetime, real_s: Callable[[], float] = time.perf_counter) -> None:
        if not speed > 0:
            raise ValueError(f"a speed must be above 0, got {speed:g}")
        self._real_s = real_s
        self._start = start.astimezone(UTC)
        self._run = (real_s(), 0.0, speed)
        self._moved = threading.Condition()

    def now(self) -> datetime:
        """The rehearsed wall clock."""
        return self._start + timedelta(seconds=self.monotonic_s())

    def boot_s(self) -> float:
        """Rehearsed seconds since the start."""
        return self.monotonic_s()

    def monotonic_s(self) -> float:
        """Rehearsed seconds since the start."""
        since_s, passed_s, speed = self._run
        return passed_s + (self._real_s() - since_s) * speed

    @property
    def speed(self) -> float:
        """How many times as fast as a real clock it runs just now."""
        return self._run[2]

    def boot_id(self) -> str:
        """A rehearsal is a boot of its own."""
        return f"rehearsal of {self._start:%Y-%m-%dT%H:%M:%S}Z"

    def sleep(self, span_s: float) -> None:
        """Wait for the span of rehearsed time, or until a jump passes its end."""
        until_s = self.monotonic_s() + span_s
        with self._moved:
            while (left_s := until_s - self.monotonic_s()) > 0:
                self._moved.wait(left_s / self.speed)

    def jump(self, span_s: float) -> None:
        """Skip a stretch in which nothing happens."""
        if span_s < 0:
            raise ValueError(f"a rehearsal cannot jump back, got {span_s:g} s")
        with self._moved:
            since_s, passed_s, speed = self._run
            self._run = (since_s, passed_s + span_s, speed)
            self._moved.notify_all()

    def pace(self, speed: float) -> None:
        """Run at another speed from now on."""
        with self._moved:
            real_s = self._real_s()
            since_s, passed_s, before = self._run
            self._run = (real_s, passed_s + (real_s - since_s) * before, speed)
            self._moved.notify_all()


_ROOM_BYTES = 512
"""More than any kernel's `struct timex` takes."""

_NOT_SYNCHRONISED = 5
"""TIME_ERROR of adjtimex(2): the clock is not synchronised."""


def is_network_time() -> bool | None:
    """Whether the kernel's clock is synchronised (adjtimex(2)); None where the system does not say."""
    if sys.platform != "linux":
        return None
    try:
        answered = ctypes.CDLL(None).adjtimex(ctypes.create_string_buffer(_ROOM_BYTES))
    except (OSError, AttributeError):
        return None
    return None if answered < 0 else answered != _NOT_SYNCHRONISED
