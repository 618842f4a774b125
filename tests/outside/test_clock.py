"""The one door to time: what befalls the machine can be told apart by its three clocks."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from mixclock.outside import clock as clock_module
from mixclock.outside.clock import Clock, FakeClock, FastClock, SystemClock

MORNING = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)


def readings(clock: Clock) -> tuple[datetime, float, float]:
    return clock.now(), clock.boot_s(), clock.monotonic_s()


def moved(clock: Clock, before: tuple[datetime, float, float]) -> tuple[float, float, float]:
    now, boot_s, monotonic_s = readings(clock)
    return (now - before[0]).total_seconds(), boot_s - before[1], monotonic_s - before[2]


def test_the_system_clock_says_utc_and_agrees_with_the_machine() -> None:
    clock = SystemClock()
    assert clock.now().tzinfo is UTC
    assert abs(clock.now().timestamp() - time.time()) < 1.0  # noqa: TID251  the outside check
    assert clock.boot_s() >= clock.monotonic_s() - 0.001


@pytest.mark.skipif(not Path("/proc/uptime").exists(), reason="no /proc/uptime to check the boot clock against")
def test_the_boot_clock_is_the_kernels_uptime() -> None:
    uptime_s = float(Path("/proc/uptime").read_text().split()[0])
    assert SystemClock().boot_s() == pytest.approx(uptime_s, abs=0.5)


def test_two_processes_of_one_boot_name_it_alike() -> None:
    command = "from mixclock.outside.clock import SystemClock; print(SystemClock().boot_id())"
    said = subprocess.run([sys.executable, "-c", command], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == SystemClock().boot_id() != ""


def test_without_the_kernels_name_a_boot_is_named_by_its_minute(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock_module, "_BOOT_ID_FILE", Path("/nowhere/boot_id"))
    assert SystemClock().boot_id().startswith("booted 20")


def test_without_a_boot_clock_the_monotonic_one_stands_in(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(time, "CLOCK_BOOTTIME", raising=False)
    clock = SystemClock()
    assert clock.boot_s() == pytest.approx(clock.monotonic_s(), abs=0.1)


def test_on_a_mac_the_boot_clock_is_the_one_that_counts_sleep(monkeypatch: pytest.MonkeyPatch) -> None:
    """There `clock_gettime(CLOCK_MONOTONIC)` runs on under a shut lid and `time.monotonic` stands still."""
    monkeypatch.delattr(time, "CLOCK_BOOTTIME", raising=False)
    monkeypatch.setattr("sys.platform", "darwin")
    monkeypatch.setattr(time, "monotonic", lambda: 100.0)
    asked: list[int] = []
    monkeypatch.setattr(time, "clock_gettime", lambda which: asked.append(which) or 3700.0)
    clock = SystemClock()
    assert clock.boot_s() - clock.monotonic_s() == 3600.0
    assert asked == [time.CLOCK_MONOTONIC]


def test_a_lid_closed_for_an_hour_shows_as_boot_time_without_monotonic_time() -> None:
    clock = FakeClock(MORNING)
    before = readings(clock)
    clock.suspend(3600)
    assert moved(clock, before) == (3600, 3600, 0)


def test_a_wall_clock_set_back_moves_nothing_else() -> None:
    clock = FakeClock(MORNING)
    before = readings(clock)
    clock.step(-3600)
    assert moved(clock, before) == (-3600, 0, 0)


def test_a_reboot_starts_the_boot_clock_anew_under_another_name() -> None:
    clock = FakeClock(MORNING)
    first = clock.boot_id()
    clock.reboot(off_s=90)
    assert clock.boot_id() != first
    assert clock.boot_s() == 0
    assert clock.now() == MORNING + timedelta(seconds=90)


def test_a_fake_sleep_passes_at_once_and_time_never_runs_backwards() -> None:
    clock = FakeClock(MORNING)
    clock.sleep(20)
    clock.sleep(-1)
    assert clock.now() == MORNING + timedelta(seconds=20)
    with pytest.raises(ValueError, match="step"):
        clock.set(MORNING)


def test_a_rehearsal_runs_its_day_at_the_speed_asked_for() -> None:
    real_s = iter([0.0, 1.0, 1.5])
    clock = FastClock(60, MORNING, real_s=lambda: next(real_s))
    assert clock.now() == MORNING + timedelta(minutes=1)
    assert clock.boot_s() == 90


def test_a_rehearsal_goes_on_from_where_it_is_at_another_pace() -> None:
    real_s = iter([0.0, 10.0, 10.0, 11.0])
    clock = FastClock(60, MORNING, real_s=lambda: next(real_s))
    clock.pace(300)
    assert (clock.speed, clock.now()) == (300, MORNING + timedelta(minutes=10))
    assert clock.boot_s() == 600 + 300


def test_a_rehearsed_sleep_ends_when_an_idle_stretch_is_skipped() -> None:
    clock = FastClock(10, MORNING)
    woke = threading.Event()

    def sleeper() -> None:
        clock.sleep(36_000)
        woke.set()

    thread = threading.Thread(target=sleeper)
    thread.start()
    for _ in range(50):
        clock.jump(36_001)
        if woke.wait(0.1):
            break
    assert woke.is_set()
    thread.join(5)


@pytest.mark.parametrize("speed", [0, -1, float("nan")])
def test_a_rehearsal_at_no_speed_is_refused(speed: float) -> None:
    with pytest.raises(ValueError, match="speed"):
        FastClock(speed, MORNING)
