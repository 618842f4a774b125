"""Beside an idle floor the watch looks less often, and never when anything stands, runs or comes near."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from itertools import pairwise
from threading import Event, Thread
from typing import Any

import pytest

from mixclock.job.statements import NotedStatement
from mixclock.outside.bookstir import BookStir
from mixclock.outside.clock import SystemClock
from mixclock.outside.stillness import ASKED_EVERY_S
from mixclock.watch import daemon as of_daemon
from mixclock.watch.daemon import TICK_S, Daemon
from mixclock.watch.resting import NEAR_S, REST_S, SETTLES_S, Rest
from mixclock.watch.scheduling import PastlessTrigger
from mixclock.watch.setup import daemon_for, wanted_channels
from mixclock.watch.tick import TickResult
from mixclock.wiring import open_house
from tests.days.clockwork import Day
from tests.days.shed import BASE, TOP, site
from tests.watch.sheds import CLOCK, in_time
from tests.watch.test_scheduling import PROMISED_S, Guarded


def resting(day: Day, keeps_awake: Callable[[], bool] = lambda: False) -> Rest:
    """The rest of a day's watch."""
    return Rest(day.ticker, day.clock, keeps_awake)


def looked(day: Day, rest: Rest, for_s: float = SETTLES_S + 1.0) -> bool:
    """Look for a while as often as a watch that does not rest; whether it rests then."""
    for _ in range(round(for_s / TICK_S)):
        day.clock.advance(TICK_S)
        rest.note(day.ticker.tick())
    return rest.is_on


def test_beside_a_floor_on_which_nothing_runs_the_watch_rests_once_what_was_stated_has_settled() -> None:
    day = Day(site(), [BASE, TOP])
    rest = resting(day)
    assert not looked(day, rest, 1.0)
    assert looked(day, rest)
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    assert not looked(day, rest, TICK_S)
    assert looked(day, rest)


def test_from_a_bucket_on_the_watch_is_awake_before_each_call_and_no_call_comes_while_it_rests() -> None:
    day = Day(site(), [BASE, TOP])
    rest = resting(day)
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    rested_s = 0.0
    for _ in range(round(1800 / TICK_S)):
        day.clock.advance(TICK_S)
        was_on = rest.is_on
        ticked = day.ticker.tick()
        assert ticked is not None
        assert not (was_on and ticked.bulletins), "a call fell due while the watch rested"
        rest.note(ticked)
        rested_s += TICK_S * rest.is_on
    assert day.raised("b1.pour-out")
    assert 0.0 < rested_s < 1800.0


AWAKE_BESIDE = ["a call that stands", "a set clock", "a cup", "a look that went wrong", "a book that is being written"]


@pytest.mark.parametrize("what", AWAKE_BESIDE)
def test_the_watch_is_awake_beside(what: str) -> None:
    day, awake = Day(site(), [BASE, TOP]), [False]
    rest = resting(day, lambda: awake[0])
    assert looked(day, rest)
    if what == "a call that stands":
        day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
        day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
        day.until("10:00")
        assert day.ticker.watched[day.job].alerts(day.clock.now()), "the bucket was never poured"
    elif what == "a set clock":
        day.clock.step(timedelta(minutes=10).total_seconds())
    elif what == "a cup":
        awake[0] = True
    else:
        assert rest.stir() if what.startswith("a book") else rest.note(None) is None
        assert not rest.is_on
        assert not rest.stir()
    assert not looked(day, rest, 2 * TICK_S)


def test_what_nobody_tells_of_is_still_found_within_the_two_seconds_of_the_promise() -> None:
    assert max(ASKED_EVERY_S, REST_S) <= PROMISED_S - 0.5
    assert NEAR_S > 2 * REST_S


def test_a_watch_that_rests_looks_at_the_call_that_comes_and_catches_up_with_no_missed_look() -> None:
    now = SystemClock().now()
    steps, calls = [REST_S], [None, 0.25]
    trigger = PastlessTrigger(lambda: steps[-1], lambda: calls.pop(0))
    assert trigger.get_next_fire_time(now, now) == now + timedelta(seconds=REST_S)
    assert trigger.get_next_fire_time(now, now) == now + timedelta(seconds=0.25)
    steps.append(TICK_S)
    calls[:] = [None]
    assert trigger.get_next_fire_time(now - timedelta(hours=1), now) == now


def test_the_watchdog_lets_a_scheduler_rest_and_looks_before_the_promise_is_broken() -> None:
    guarded = Guarded()
    ticked_s = [guarded.clock.monotonic_s()]
    silent_from_s = 60.0 + ticked_s[0]

    def tick() -> None:
        now_s = guarded.clock.monotonic_s()
        if now_s < silent_from_s and now_s - ticked_s[-1] >= REST_S - 1e-6:
            ticked_s.append(now_s)
            guarded.dog.scheduled(REST_S)
            guarded.dog.looked()

    guarded.dog.scheduled(REST_S)
    rests_s = guarded.play(90.0, tick)
    assert len(ticked_s) >= 38
    assert len([at_s for at_s in guarded.looked_s if at_s < silent_from_s]) == 0
    assert len(rests_s) - len(guarded.looked_s) <= 50
    assert guarded.looked_s[0] - ticked_s[-1] <= PROMISED_S - 0.25
    assert max(later - sooner for sooner, later in pairwise(guarded.looked_s)) <= 0.5


@pytest.mark.skipif(sys.platform != "linux", reason="not installed: a system that tells of written files")
def test_a_statement_ends_the_rest_of_a_running_watch_without_waiting_for_its_next_look(
    make_shed: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(of_daemon, "REST_S", 3600.0)
    shed = make_shed()
    daemon = daemon_for(shed.house, wanted_channels(shed.house, None, sound=False), print)
    daemon._rest._stirred_s -= SETTLES_S  # it has stood for a while
    found: list[bool] = []
    daemon.start()
    try:
        daemon._rest._stirred_s -= SETTLES_S
        assert in_time(lambda: daemon._rest.is_on and _next_look_s(daemon) > 60.0, 20)
        daemon.followers.append(lambda ticked: found.append(ticked.changed))
        with open_house(shed.home) as other:
            other.state(NotedStatement("heater lit"))
        assert in_time(lambda: any(found), 20)
        assert in_time(lambda: _next_look_s(daemon) <= TICK_S, 20), "it looks as often as ever from here on"
    finally:
        daemon.stop()


def test_a_watch_whose_rest_is_over_in_the_moment_of_its_end_ends_all_the_same(make_shed: Callable[..., Any]) -> None:
    shed = make_shed()
    daemon = daemon_for(shed.house, wanted_channels(shed.house, None, sound=False), print)
    looks, may_end = Event(), Event()

    def end_the_rest(_: TickResult) -> None:
        looks.set()
        assert may_end.wait(20)
        daemon._rest.stir()

    daemon.start()
    daemon.followers.append(end_the_rest)
    daemon._rest.is_on = True
    daemon._look_sooner()
    assert looks.wait(20)
    ended = Thread(target=daemon.stop, daemon=True)
    ended.start()
    assert in_time(lambda: not daemon._scheduler.running, 20)
    CLOCK.sleep(0.1)  # it waits for the look now, with all of its locks held
    may_end.set()
    ended.join(20)
    assert not ended.is_alive()


def test_where_the_system_does_not_tell_of_written_files_the_watch_never_rests(
    make_shed: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(BookStir, "start", lambda _: False)
    shed = make_shed()
    daemon = daemon_for(shed.house, wanted_channels(shed.house, None, sound=False), print)
    daemon.start()
    try:
        daemon._rest._stirred_s -= SETTLES_S
        assert daemon.look() or in_time(daemon.look, 20)
        assert not daemon._rest.is_on
    finally:
        daemon.stop()


def _next_look_s(daemon: Daemon) -> float:
    """In how many seconds the scheduler has the watch look."""
    at: datetime = daemon._scheduler.get_job("tick").next_run_time
    return (at - SystemClock().now()).total_seconds()
