"""The daemon's inside on a real clock: it goes on looking whatever a channel or the scheduler does."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest

from mixclock.outside.channels.desktop import DesktopChannel
from mixclock.outside.channels.message import Message, Outcome, Receipt
from mixclock.outside.channels.soundqueue import SoundQueue
from mixclock.outside.power import Power
from mixclock.values import replace
from mixclock.watch.channels import BoardChannel, Channels
from mixclock.watch.daemon import Daemon, battery_words
from mixclock.watch.faults import Faults
from mixclock.watch.jobwatch import Reckoning
from tests.watch.sheds import CLOCK, Shed, in_time

pytestmark = pytest.mark.usefixtures("profiles_of_home")


class Recorder:
    """Takes everything, after a while."""

    name = "recorder"
    ranks = frozenset({"critical", "timely", "notice"})
    limit_s = 60.0

    def __init__(self, hangs: bool = False) -> None:
        self.sent: list[str] = []
        self.hangs = hangs
        self.let_go = threading.Event()

    def send(self, message: Message) -> Receipt:
        self.sent.append(message.alert_id)
        if self.hangs:
            self.let_go.wait(60)
        return Receipt(self.name, Outcome.SENT, "taken", True)

    def withdraw(self, alert_id: str) -> Receipt:
        return Receipt(self.name, Outcome.SENT, "gone", None)

    def probe(self) -> Receipt:
        return Receipt(self.name, Outcome.SENT, "taken", True)


class Hanging(Recorder):
    """Never answers."""

    name = "hanging"


@pytest.fixture
def begun(make_shed: Callable[..., Shed]) -> Iterator[Callable[..., tuple[Shed, Daemon]]]:
    """A daemon in this process, with the channels that are asked for."""
    running: list[Daemon] = []

    def begin(*channels: Any, pot_life: str = "3 s", ticking: bool = True) -> tuple[Shed, Daemon]:
        shed = make_shed(pot_life)
        lines: list[str] = []
        daemon = Daemon(
            book=shed.house.book,
            clock=CLOCK,
            channels=Channels(channels, DesktopChannel(), SoundQueue(), None),
            reckoning=Reckoning(shed.house.bucket_model),
            faults=Faults(CLOCK, lines.append),
            stay_awake=None,
            power=lambda: None,
        )
        if ticking:
            running.append(daemon)
            daemon.start()
        return shed, daemon

    yield begin
    for daemon in running:
        for channel in daemon.channels.every:
            channel.let_go.set()  # type: ignore[attr-defined]
        daemon.stop()


def test_the_next_look_is_set_while_this_one_is_still_at_work(begun: Callable[..., Any]) -> None:
    """Set only after it, by a time read before it, it comes too early for a call that falls due moments after its end:
    the call would wait for the tick after, four tenths of a second."""
    _, daemon = begun(ticking=False)
    set_meanwhile: list[bool] = []

    def look_slowly(_: Any) -> None:
        if threading.current_thread() is not first:  # the first look of all is not the scheduler's
            begins = datetime.now(UTC)  # noqa: TID251  the scheduler goes by real time
            set_meanwhile.append(in_time(lambda: daemon._scheduler.get_job("tick").next_run_time > begins, 5))

    first = threading.current_thread()
    daemon.followers.append(look_slowly)
    daemon.start()
    try:
        assert in_time(lambda: bool(set_meanwhile), 30)
    finally:
        daemon.stop()
    assert set_meanwhile[0]


def test_it_looks_at_least_twice_a_second_even_while_a_channel_hangs(begun: Callable[..., Any]) -> None:
    hanging, recorder = Hanging(hangs=True), Recorder()
    shed, daemon = begun(hanging, recorder)
    looks: list[float] = []
    daemon.followers.append(lambda _: looks.append(CLOCK.monotonic_s()))
    shed.mix()
    assert in_time(lambda: any("b1.pour-out" in sent for sent in recorder.sent), 30)
    assert hanging.sent
    assert in_time(lambda: len(looks) >= 10, 30)
    gaps = sorted(later - sooner for sooner, later in pairwise(looks))
    assert gaps[len(gaps) // 2] <= 0.5
    receipts = [facts for facts in shed.facts("delivered") if facts.channel == "recorder"]
    assert receipts, "a channel that works is written down while another hangs"


def test_when_the_scheduler_falls_silent_the_watchdog_looks_in_its_place(begun: Callable[..., Any]) -> None:
    recorder = Recorder()
    shed, daemon = begun(recorder, pot_life="4 s")
    daemon._scheduler.pause()
    looks: list[float] = []
    daemon.followers.append(lambda _: looks.append(CLOCK.monotonic_s()))
    shed.mix()
    assert in_time(lambda: any("b1.pour-out" in sent for sent in recorder.sent), 30)
    assert in_time(lambda: any(f.stage == "now" for f in shed.facts("raised")), 30)
    assert max(later - sooner for sooner, later in pairwise(looks[1:])) < 1.6


def test_the_watchdog_looks_while_the_schedulers_own_lock_is_held(begun: Callable[..., Any]) -> None:
    recorder = Recorder()
    shed, daemon = begun(recorder, pot_life="4 s")
    with daemon._scheduler._jobstores_lock:
        shed.mix()
        assert in_time(lambda: any("b1.pour-out" in sent for sent in recorder.sent), 30)


@pytest.mark.parametrize("days", [30, 365, 3650])
def test_a_wall_clock_put_forward_leaves_no_list_of_missed_looks(begun: Callable[..., Any], days: int) -> None:
    _, daemon = begun(Recorder())
    tick = daemon._scheduler.get_job("tick")
    assert len(tick._get_run_times(tick.next_run_time + timedelta(days=days))) <= 2


def test_a_look_that_hangs_is_told_by_every_channel(begun: Callable[..., Any]) -> None:
    recorder = Recorder()
    _, daemon = begun(recorder)
    with daemon.ticker._busy:
        daemon._watchdog._looked_awake_s -= 9.0  # that it is told after ten (test_scheduling) nobody waits for here
        assert in_time(lambda: "watch.hangs" in recorder.sent, 14)
    assert in_time(lambda: not daemon.troubles.lines(), 3), "it is over as soon as a look comes to its end"


def test_one_broken_log_does_not_silence_the_other_jobs(begun: Callable[..., Any]) -> None:
    recorder = Recorder()
    shed, daemon = begun(recorder)
    from mixclock.job.entry import JobStarted

    shed.house.book.append("a log that means nothing", JobStarted("a log that means nothing", "areas = 7"))
    shed.house.book.use("Boat shed")
    shed.mix()
    assert in_time(lambda: any("b1.pour-out" in sent for sent in recorder.sent), 30)
    assert in_time(lambda: any("a log that means nothing" in line for line in daemon.faults.recent()), 30)


def test_a_follower_that_breaks_stops_nothing(begun: Callable[..., Any]) -> None:
    recorder = Recorder()
    shed, daemon = begun(recorder, ticking=False)
    seen: list[object] = []

    def breaks(_: object) -> None:
        raise RuntimeError("the page is gone")

    daemon.followers += [breaks, seen.append]
    shed.mix(ago_s=10.0)  # a bucket of 3 s: due whenever it is looked at
    assert daemon.look()
    assert daemon.look()
    assert len(seen) == 2, "who follows after the broken one is told of every look"
    assert any("the page is gone" in line for line in daemon.faults.recent())
    assert [facts.alert for facts in shed.facts("raised")][:1] == ["b1.pour-out"]
    assert in_time(lambda: any("b1.pour-out" in sent for sent in recorder.sent), 30)


@pytest.mark.parametrize(
    ("power", "words"),
    [
        (None, ""),
        (Power(False, 20), ""),
        (Power(True, 80), "on battery at 80 %: plug it in"),
        (Power(True, 20), "PLUG IT IN NOW"),
        (Power(True, None), "on battery: plug it in"),
    ],
)
def test_a_battery_is_spoken_of_while_it_is_used(power: Power | None, words: str) -> None:
    said = battery_words(power)
    assert (words in said) if words else said == ""


def test_trouble_is_said_once_a_minute_and_not_twice_a_second() -> None:
    said: list[str] = []
    faults = Faults(CLOCK, said.append)
    for _ in range(10):
        faults.tell("the disk is full")
    faults.tell("another")
    assert said == ["the disk is full", "another"]
    assert faults.recent() == said


def test_the_board_takes_an_alert_only_where_a_page_says_that_it_shows_it() -> None:
    from mixclock.decide.shapes import Stage

    glass: dict[tuple[str, str], set[str]] = {}
    pages = [False]
    board = BoardChannel(
        lambda _: {("b1.pour-out", Stage.NOW)},
        lambda alert, stage, job: glass.get((alert, stage), set()),
        lambda job: pages[0] and job in ("", "Boat shed"),
    )
    message = Message("b1.pour-out", "critical", "t", "b", "s")
    assert board.send(message).outcome is Outcome.GIVE_UP
    pages[0] = True
    assert board.send(message).outcome is Outcome.RETRY
    glass["b1.pour-out", "now"] = {"mixer's phone"}
    answer = board.send(message)
    assert (answer.outcome, answer.shown) == (Outcome.SENT, True)
    assert "mixer's phone" in answer.detail
    other = board.send(replace(message, job="Barn"))
    assert (other.outcome, other.detail) == (Outcome.GIVE_UP, "no open page shows Barn")
    assert board.send(replace(message, job="Boat shed")).outcome is Outcome.SENT
