"""Programs that fail, hang, or leave children behind."""

import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from mixclock.outside.channels.running import ProgramRun, run
from tests.realparts.parts import missing

RUN = "from mixclock.outside.channels.running import run; "


def comes_true(holds: Callable[[], bool], within_s: float = 10.0) -> bool:
    until_s = time.perf_counter() + within_s
    while not holds() and time.perf_counter() < until_s:
        threading.Event().wait(0.02)
    return holds()


def test_a_program_that_fails_is_told_with_its_exit_code_and_its_words() -> None:
    ended = run([sys.executable, "-c", "import sys; print('no such device', file=sys.stderr); sys.exit(3)"], 10)
    assert (ended.how, ended.code, ended.well) == ("ended", 3, False)
    assert "ended with exit code 3: no such device" in str(ended)


def test_a_program_that_is_not_there_is_told() -> None:
    ended = run(["/no/such/player"], 1)
    assert (ended.how, ended.code) == ("not begun", None)
    assert "could not be started: No such file" in str(ended)


def test_a_hung_program_is_ended_with_its_children(tmp_path: Path) -> None:
    began = time.perf_counter()
    mark = tmp_path / "the child lived on"
    ended = run(["/bin/sh", "-c", f"(sleep 0.6; touch '{mark}') & sleep 60; wait"], 0.3)
    assert ended.how == "out of time"
    assert time.perf_counter() - began < 2
    threading.Event().wait(0.8)
    assert not mark.exists()


def test_a_program_that_was_killed_leaves_no_child_behind(tmp_path: Path) -> None:
    mark = tmp_path / "the child lived on"
    ended = run(["/bin/sh", "-c", f"(sleep 0.4; touch '{mark}') & kill -9 $$"], 5)
    assert (ended.how, ended.well) == ("ended", False)
    threading.Event().wait(0.7)
    assert not mark.exists()


def test_a_program_that_aborts_is_told_by_its_signal() -> None:
    assert "exit code -6" in str(run(["/bin/sh", "-c", "kill -ABRT $$"], 5))


def test_what_a_hung_voice_has_begun_does_not_outlive_a_killed_watch(tmp_path: Path) -> None:
    if absent := missing("setpriv"):
        pytest.skip(absent)
    pid = tmp_path / "pid"
    hung = f"sleep 60 & echo $! >'{pid}.new'; mv '{pid}.new' '{pid}'; wait"
    watch = subprocess.Popen([sys.executable, "-c", f"{RUN}run(['/bin/sh', '-c', {hung!r}], 60)"])
    assert comes_true(pid.exists)
    watch.kill()
    watch.wait()
    child = Path("/proc", pid.read_text().strip(), "stat")
    assert comes_true(lambda: not child.exists() or " Z " in child.read_text())


def test_a_child_that_lives_on_does_not_hold_up_the_answer(tmp_path: Path) -> None:
    began = time.perf_counter()
    pid = tmp_path / "pid"
    ended = run(["/bin/sh", "-c", f"sleep 5 & echo $! >{pid}; exit 0"], 3)
    assert ended.well
    assert time.perf_counter() - began < 2


def test_a_program_is_stopped_from_another_thread() -> None:
    running = ProgramRun(["/bin/sleep", "60"], 60)
    threading.Timer(0.2, running.stop).start()
    assert running.run().how == "stopped"


def test_what_was_stopped_before_it_began_never_begins(tmp_path: Path) -> None:
    mark = tmp_path / "mark"
    running = ProgramRun(["/usr/bin/touch", str(mark)], 5)
    running.stop()
    assert running.run().how == "stopped"
    assert not mark.exists()


@pytest.mark.parametrize("lines", [1, 5000])
def test_only_the_end_of_a_long_complaint_is_kept(lines: int) -> None:
    ended = run(["/bin/sh", "-c", f"yes complaint | head -n {lines} >&2; exit 1"], 10)
    assert len(ended.said) <= 200
