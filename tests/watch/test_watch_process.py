"""The daemon as it is run: a real process, a real book, a real bus with a notification server, real seconds."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from tests.realparts.bus import Dunst, RecordingServer, SessionBus, missing_dunst
from tests.realparts.cores import waited_for_core_s
from tests.saying import as_said
from tests.watch.sheds import CLOCK, in_time

pytestmark = pytest.mark.usefixtures("profiles_of_home")

Make = Callable[..., Any]


def is_now(note: Any) -> bool:
    """The pour-out at its edge, alone or said together with others; the last step of mixing says nearly the same."""
    return "b1.pour-out" in note.alert_id and note.title.startswith("Pour it all out now") and note.urgency == 2


def test_the_pour_out_of_a_real_batch_arrives_within_a_second_of_its_edge(
    make_shed: Make, bus: SessionBus, server: RecordingServer
) -> None:
    shed = make_shed("4 s", env=bus.env)
    watching = shed.watch()
    edge = shed.mix() + timedelta(seconds=4)
    waited_s = waited_for_core_s(watching.process.pid)
    note = server.wait_for(is_now)
    late_s = note.unix_s - edge.timestamp()
    assert late_s >= -0.05
    assert late_s - (waited_for_core_s(watching.process.pid) - waited_s) <= 1.0
    assert "Batch 1, bay 1" in note.body
    receipt = shed.wait_for_facts(lambda facts: facts.channel == "desktop" and facts.shown, "delivered")
    assert receipt.outcome == "sent"


def test_dunst_shows_the_pour_out_until_the_pour_is_stated(make_shed: Make, bus: SessionBus) -> None:
    if missing := missing_dunst():
        pytest.skip(missing)
    with Dunst(bus) as dunst:
        shed = make_shed("4 s", env=bus.env)
        shed.watch()
        shed.mix()
        shed.wait_for_facts(lambda facts: facts.channel == "desktop" and facts.shown, "delivered")
        assert dunst.displayed() >= 1
        shed.house.state(as_said("poured"))
        assert in_time(lambda: dunst.displayed() == 0, 30)


def test_an_alert_outlives_a_daemon_that_is_killed_before_its_edge(
    make_shed: Make, bus: SessionBus, server: RecordingServer
) -> None:
    shed = make_shed("9 s", env=bus.env)
    first = shed.watch()
    edge = shed.mix() + timedelta(seconds=9)
    first.wait_for("Batch 1")
    assert first.end(signal.SIGKILL) == -signal.SIGKILL
    second = shed.watch()
    note = server.wait_for(is_now)
    assert note.unix_s - edge.timestamp() - waited_for_core_s(second.process.pid) <= 1.0


def test_what_fell_due_while_nobody_watched_comes_within_three_seconds_of_the_restart_and_says_how_late(
    make_shed: Make, bus: SessionBus, server: RecordingServer
) -> None:
    shed = make_shed("1 s", mixing="30 min", env=bus.env)
    first = shed.watch()
    first.end(signal.SIGKILL)
    edge = shed.mix() + timedelta(seconds=1)
    CLOCK.sleep((edge - CLOCK.now()).total_seconds() + 3.0)
    again = shed.watch(ready=False)
    note = server.wait_for(lambda note: "b1.pour-out" in note.alert_id, limit_s=30)
    took_s = note.monotonic_s - again.began_s - waited_for_core_s(again.process.pid)
    assert took_s <= 3.0
    raised = shed.facts("raised")
    assert [facts.stage for facts in raised if facts.alert == "b1.pour-out"][:1] != ["heads-up"]
    assert raised[0].late_s is not None
    assert raised[0].late_s > 2.0


def test_a_second_watch_refuses_in_one_line_that_names_the_first(make_shed: Make) -> None:
    shed = make_shed()
    first = shed.watch()
    second = shed.watch(ready=False)
    assert second.process.wait(30) == 2
    line = second.wait_for("runs here already")
    assert f"process {first.process.pid}" in line
    assert len(second.lines) == 1


def test_statements_of_another_process_are_noticed_and_end_the_alert(
    make_shed: Make, bus: SessionBus, server: RecordingServer
) -> None:
    shed = make_shed("3 s", env=bus.env)
    watching = shed.watch()
    shed.mix()
    note = server.wait_for(is_now)
    done = subprocess.run(
        [sys.executable, "-m", "mixclock.cli", "poured"], env=shed.env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    stated_s, waited_s = CLOCK.monotonic_s(), waited_for_core_s(watching.process.pid)
    watching.wait_for("poured on bay 1")
    assert in_time(lambda: note.note_id in server.closed, 30)
    assert CLOCK.monotonic_s() - stated_s - (waited_for_core_s(watching.process.pid) - waited_s) <= 3.0


@pytest.mark.parametrize("quiet_s", [2.0, pytest.param(22.0, marks=pytest.mark.long)])
def test_heard_silences_the_repeats(make_shed: Make, bus: SessionBus, server: RecordingServer, quiet_s: float) -> None:
    """In 22 s one repeat would have come; a day on a fake clock holds that too (tests/days)."""
    shed = make_shed("2 min", mixing="30 min", env=bus.env)
    shed.house.state(as_said("reading", {"air_c": 20.0}))
    shed.watch()
    shed.mix()
    shed.house.state(as_said("saw", {"batch": 1, "sign": "hot"}))
    note = server.wait_for(lambda note: "hot" in note.alert_id)
    shed.wait_for_facts(lambda facts: facts.channel == "desktop" and facts.shown, "delivered")
    server.press(note.note_id, "heard")
    shed.wait_for_facts(lambda facts: facts.alerts == ("b1.hot",), "heard")
    told = len([facts for facts in shed.facts("raised") if facts.alert == "b1.hot"])
    CLOCK.sleep(quiet_s)
    assert len([facts for facts in shed.facts("raised") if facts.alert == "b1.hot"]) == told


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_it_ends_cleanly_when_it_is_told_to(make_shed: Make, number: int) -> None:
    shed = make_shed()
    watching = shed.watch()
    assert watching.end(number) == 0
    watching.wait_for("has stopped watching")
    assert [facts.event for facts in shed.facts("watch")] == ["started", "stopped"]
    assert not (shed.home / "watch.pid").exists()


def test_without_a_desktop_the_terminal_still_says_it_and_the_record_says_what_failed(make_shed: Make) -> None:
    shed = make_shed("3 s", env={"DBUS_SESSION_BUS_ADDRESS": "unix:path=/nowhere", "XDG_RUNTIME_DIR": "/nowhere"})
    watching = shed.watch()
    shed.mix()
    watching.wait_for("pour it all out now. Its time")
    failed = shed.wait_for_facts(lambda facts: facts.channel == "desktop", "delivered")
    assert failed.outcome != "sent"
    assert failed.shown is False
    assert failed.detail


def test_a_terminal_that_goes_away_does_not_end_the_alarm_clock(
    make_shed: Make, bus: SessionBus, server: RecordingServer
) -> None:
    shed = make_shed("3 s", env=bus.env)
    ours, theirs = os.pipe()
    words = [sys.executable, "-m", "mixclock.cli", "watch", "--plain", "--no-sound", "--no-board"]
    process = subprocess.Popen(words, stdout=theirs, stderr=theirs, env=shed.env, cwd=shed.home)
    os.close(theirs)
    try:
        assert b"mixclock watches" in os.read(ours, 1000)
        os.close(ours)
        shed.mix()
        server.wait_for(is_now)
        assert process.poll() is None
        process.send_signal(signal.SIGTERM)
        assert process.wait(30) == 0
    finally:
        process.kill()
        process.wait()


def test_a_terminal_that_is_shut_does_not_end_the_watch_and_another_one_can(
    make_shed: Make, bus: SessionBus, server: RecordingServer
) -> None:
    shed = make_shed("3 s", env=bus.env)
    ours, theirs = os.openpty()
    words = [sys.executable, "-m", "mixclock.cli", "watch", "--no-sound", "--no-board"]
    process = subprocess.Popen(
        ["setsid", "--ctty", "--wait", *words], stdin=theirs, stdout=theirs, stderr=theirs, env=shed.env, cwd=shed.home
    )
    os.close(theirs)
    try:
        shed.wait_for_facts(lambda facts: facts.event == "started", "watch")
        os.close(ours)  # the window is gone: the system sends a hangup
        shed.wait_for_facts(lambda facts: facts.event == "terminal shut", "watch")
        told = server.wait_for(lambda note: "terminal was shut" in note.body)
        assert "watch --stop" in told.body
        shed.mix()
        server.wait_for(is_now)
        ended = subprocess.run(
            [*words[:4], "--stop"], env=shed.env, capture_output=True, text=True, check=False, timeout=30
        )
        assert (ended.returncode, ended.stderr) == (0, "")
        assert process.wait(30) == 0
        assert shed.facts("watch")[-1].event == "stopped"
        again = subprocess.run([*words[:4], "--stop"], env=shed.env, capture_output=True, text=True, check=False)
        assert again.returncode == 2
        assert "no watch runs here" in again.stderr
    finally:
        process.kill()
        process.wait()
