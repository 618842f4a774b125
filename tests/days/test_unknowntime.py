"""The machine comes up with a clock that is behind its own log: all counts as due then."""

from __future__ import annotations

from datetime import timedelta

import pytest

from mixclock.job.entry import WatchEvent
from mixclock.job.steppedclock import CLOCK_IS_RIGHT
from mixclock.outside.channels.deliver import Sender
from mixclock.watch.bookkeeping import BookKeeping
from mixclock.watch.troubles import Troubles
from tests.days.clockwork import Day
from tests.days.shed import BASE, TOP, site


def mixed() -> Day:
    day = Day(site(), [BASE, TOP])
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.until(day.begins + timedelta(minutes=2))
    return day


@pytest.mark.parametrize("behind", [timedelta(minutes=30), timedelta(days=365), timedelta(days=20_000)])
def test_after_a_start_with_a_clock_behind_the_log_every_open_deadline_is_called_at_once(behind: timedelta) -> None:
    day = mixed()
    day.clock.reboot(60.0)
    day.clock.step(-behind.total_seconds())
    called = len(day.desktop.sent)
    day.start()
    assert day.ticker.watched[day.job].clock_behind > timedelta()
    assert any("b1.pour-out" in message.alert_id for _, message in day.desktop.sent[called:])
    window = next(
        alert for alert in day.ticker.watched[day.job].alerts(day.now_by_the_log()) if alert.step == "pour-out"
    )
    assert window.stage.value in ("now", "late", "lost")


def test_while_the_time_is_unknown_it_goes_on_and_nothing_moves_later() -> None:
    day = mixed()
    day.clock.reboot(60.0)
    day.clock.step(-3600)
    day.start()
    called = len(day.desktop.of("b1.pour-out"))
    for _ in range(100):
        day.clock.advance(0.6)
        day.look()
    assert 2 <= len(day.desktop.of("b1.pour-out")) - called <= 4, "it repeats every 20 s, not at every look"
    day.say("poured", batch=1)
    day.look()
    assert not [alert for alert in day.ticker.watched[day.job].alerts(day.now_by_the_log()) if alert.step == "pour-out"]


def test_a_clock_that_finds_its_network_ends_the_doubt() -> None:
    day = mixed()
    day.clock.reboot(60.0)
    day.clock.step(-3600)
    day.start()
    day.clock.step(3600)
    day.clock.advance(0.4)
    day.look()
    assert day.ticker.watched[day.job].clock_behind == timedelta()


def test_a_person_may_say_that_the_clock_is_right_and_the_log_was_not() -> None:
    day = mixed()
    day.clock.reboot(60.0)
    day.clock.step(-3600)
    day.start()
    day.book.append(day.job, WatchEvent(CLOCK_IS_RIGHT))
    day.look()
    assert day.ticker.watched[day.job].clock_behind == timedelta()


@pytest.mark.parametrize("step_s", [-3600.0, -0.7, 0.7, 3600.0, 365 * 86400.0, -10 * 365 * 86400.0])
def test_a_wall_clock_that_is_set_moves_no_deadline(step_s: float) -> None:
    day = mixed()
    before = next(t for t in day.ticker.watched[day.job].tracks if t.name == "pour-out").closing
    assert before is not None
    left = before.early - day.clock.now()
    day.clock.step(step_s)
    day.look()
    after = next(t for t in day.ticker.watched[day.job].tracks if t.name == "pour-out").closing
    assert after is not None
    assert abs((after.early - day.clock.now()) - left) <= timedelta(seconds=1)


def told_of_the_clock(day: Day, trusted: bool | None) -> list[str]:
    lines: list[str] = []
    troubles = Troubles(Sender(()), day.clock, lines.append, lambda work: work())
    BookKeeping(day.book, day.clock, troubles, lines.append, lambda: trusted).look(day.ticker)  # type: ignore[arg-type]
    return lines


def test_a_clock_that_the_network_set_moves_nothing_later_and_says_whose_time_was_wrong() -> None:
    day = mixed()
    day.clock.reboot(60.0)
    day.clock.step(-3600)
    day.start()
    (asked,), (trusted,) = told_of_the_clock(day, None), told_of_the_clock(day, True)
    assert "Set the machine's clock" in asked
    assert "The network set this clock" in trusted
    assert "time unknown, check the floor" in asked
    assert "time unknown, check the floor" in trusted
    assert day.ticker.watched[day.job].clock_behind > timedelta()


def test_a_full_disk_does_not_end_the_doubt_when_the_clock_has_run_for_as_long_as_it_was_behind() -> None:
    day = mixed()
    day.clock.reboot(60.0)
    day.clock.step(-1200)
    day.book.broken = True
    day.start()
    for _ in range(30):
        day.clock.advance(60.0)
        day.look()
    assert day.ticker.watched[day.job].clock_behind > timedelta()
