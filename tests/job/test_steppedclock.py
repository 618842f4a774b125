"""Somebody sets the laptop's clock; resin does not notice."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from mixclock.job.entry import Entry, Noted
from mixclock.job.steppedclock import on_one_clock

NOON = datetime(2026, 4, 13, 12, 0, tzinfo=UTC)


def entry(number: int, boot_s: float, wall: datetime, boot: str = "boot-1", before_s: float = 0.0) -> Entry:
    happened = wall - timedelta(seconds=before_s)
    return Entry(number, "job", happened, wall, Noted("x"), boot_id=boot, boot_s=boot_s)


def test_a_log_without_a_step_is_left_as_it_is() -> None:
    log = [entry(n, 100.0 + n, NOON + timedelta(seconds=n + 0.0004 * n)) for n in range(5)]
    assert on_one_clock(log) is log


def test_what_was_written_before_a_step_is_moved_onto_the_clock_of_now() -> None:
    log = [entry(1, 100.0, NOON, before_s=60.0), entry(2, 400.0, NOON + timedelta(seconds=300 + 3600))]
    first, second = on_one_clock(log)
    assert second.written - first.written == timedelta(seconds=300)
    assert first.written - first.happened == timedelta(seconds=60)
    assert second == log[1]


def test_a_step_back_is_undone_too() -> None:
    log = [entry(1, 100.0, NOON), entry(2, 160.0, NOON - timedelta(minutes=59))]
    first, second = on_one_clock(log)
    assert second.written - first.written == timedelta(seconds=60)


def test_another_boot_keeps_its_own_clock() -> None:
    log = [entry(1, 9000.0, NOON, "boot-1"), entry(2, 20.0, NOON + timedelta(hours=2), "boot-2")]
    assert on_one_clock(log) is log


def test_moving_twice_moves_no_further() -> None:
    log = [entry(1, 100.0, NOON), entry(2, 400.0, NOON + timedelta(hours=1))]
    once = on_one_clock(log)
    assert list(on_one_clock(once)) == list(once)
